#ifndef KW_LEDGER_AGREED_H
#define KW_LEDGER_AGREED_H
/* The second person: who has to agree before metal that failed or was recalled is released, and who did. */
#include "work.h"

/** kw_works - the processes of a body's "into", in the order of the trade's table, with commas between them; NULL where
 * it has none. @room: KW_WORKS bytes. */
#define KW_WORKS 128
const char *kw_works(const cJSON *body, char room[KW_WORKS]);

/**
 * kw_agreed_say - write into a release's body the entry by which somebody else agreed to it, where there is one
 * @by:     who releases
 * @target: the release that is put right, 0 for a new one: its own agreement is not used up
 *
 * An agreement is for one release, by another person, of the same hold and disposition, and of no more than it covers;
 * the first such that is not used yet is named. Whatever the sender wrote there goes. Return: 0; negative errno.
 */
int kw_agreed_say(struct kw_ledger *l, cJSON *release_body, const char *by, int64_t target);

/** kw_agreed_adopt - what the server said in the body when it was recorded, for comparing. Return: 0; -ENOMEM. */
int kw_agreed_adopt(cJSON *release_body, const cJSON *stored);

/**
 * kw_check_agreed - the second person of a release that is being done
 * @failed: a test that failed on what it frees, or NULL
 *
 * Without an agreement where one is needed the release is refused, if its sender has to have one (kw_sender), or has a
 * finding that says so. Return: 0; KW_NOT_AGREED; KW_UNKNOWN_ENTRY, the agreement was taken back.
 */
int kw_check_agreed(struct kw_work *w, int64_t hold, const char *failed);

#endif

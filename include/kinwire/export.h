#ifndef KINWIRE_EXPORT_H
#define KINWIRE_EXPORT_H
/*
 * Exports: what leaves the mill for someone who has no access to it, piece by piece, so that memory does not grow with
 * what is exported.
 *
 *      entries   the stored entries as they are hashed, one a line; `kinwire load` reads them back
 *      csv       the lots, with their places on runs and what was taken of them (RFC 4180)
 *      epcis     EPCIS 2.0, JSON-LD; positions as members in kinwire's own namespace
 *      prov      W3C PROV-JSON
 *      report    a genealogy report, PDF
 *      genealogy what the report says, as JSON
 *      pack      all that an auditor needs, in one zip
 *
 * All functions of one export are called in one view of the ledger (kw_ledger_look()), so that it holds together.
 */
#include "kinwire/answer.h"

#define KW_NAMES_MAX 160
/** What things are named by in open formats where the mill says nothing: a name that nobody can own (RFC 2606). */
#define KW_NAMES_NONE "https://kinwire.example/mill/"

/**
 * kw_names_read - the address that a mill names its things by, as in https://ropes.example/id/
 * It is to be a place that the mill owns, and to stay the same: a lot is the same lot in every document that it leaves
 * in. Nothing has to be found there. A stroke is put behind it where it has none.
 * @url: NULL or "" gives KW_NAMES_NONE
 * Return: 0; KW_BAD_REQUEST with the sentence.
 */
int kw_names_read(const char *url, char out[KW_NAMES_MAX + 1], struct kw_error *err);

enum kw_scope_what { KW_SCOPE_ORIGIN, KW_SCOPE_TIMES, KW_SCOPE_ALL };

/** What is asked for, in the words of whoever asks; NULL or "" where nothing is said. */
struct kw_scope_words {
        const char *origin;          /* "all", "month:2026-09", or that of a trace, as in lot:RL-0001 */
        const char *direction;       /* of a trace */
        const char *since, *until;   /* RFC 3339; of all, of a machine or of an instrument */
        const char *from_mm, *to_mm; /* of a lot, both or neither */
        const char *names;           /* of open formats: see kw_names_read() */
};

/** What of the ledger is exported. */
struct kw_scope {
        enum kw_scope_what what;
        struct kw_question question;                           /* of an origin */
        bool direction_said;                                   /* of an origin: else the export chooses */
        char since[KW_STAMP_LEN + 1], until[KW_STAMP_LEN + 1]; /* of a time: what happened from since up to, not
                                                                * including, until; as text in order, "" and "~" open */
        char names[KW_NAMES_MAX + 1];                          /* what the things in open formats are named by */
        char asked[64];                                        /* the origin: "lot:RL-1", "month:2026-09", "all" */
        char name[112];                                        /* for a file: "lot-RL-1", "2026-09", "all" */
};

/**
 * kw_scope_read - read what is to be exported
 *
 * All between two times is what happened in it, with what that needs; a machine or an instrument between two times is
 * that question of a trace. Times are kept in UTC. Of a month the times are those of UTC too.
 *
 * Return: 0; KW_BAD_REQUEST with the sentence.
 */
int kw_scope_read(const struct kw_scope_words *words, struct kw_scope *out, struct kw_error *err);

/** One row a form in which things are exported. */
struct kw_export_form {
        const char *name, *media, *ending;
        const char *does; /* for help */
};
/** kw_export_form - form number @i in the order above, NULL past the last. */
const struct kw_export_form *kw_export_form(size_t i);
/** kw_export_form_named - NULL when there is none. */
const struct kw_export_form *kw_export_form_named(const char *name);

struct kw_export;

/**
 * kw_export_start - begin an export
 * @scope: a report and a pack are of an origin; of a lot, a certificate or a consignment they go back unless told
 *
 * Return: 0; KW_NOT_FOUND, KW_BAD_REQUEST, KW_OUT_OF_RANGE; a negative errno.
 */
int kw_export_start(struct kw_ledger *ledger, const struct kw_scope *scope, const struct kw_export_form *form,
                    struct kw_export **out, struct kw_error *err);
/**
 * kw_export_next - append the next piece (about 64 KiB; a report comes whole)
 * Nothing is appended while it is still gathered which entries the export holds: of one heat of a large mill that may
 * be most of what was ever recorded.
 * Return: 1, more to come; 0, that was the last; a refusal other than 1; a negative errno.
 */
int kw_export_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
/** kw_export_gathers - whether that is still so; @done: entries gone through, of the @of that are known to be in it. */
bool kw_export_gathers(const struct kw_export *x, int64_t *done, int64_t *of);
void kw_export_end(struct kw_export *x);

/**
 * kw_certificate_pdf - a certificate as it was issued, A4
 *
 * Made of the document in its entry and of the proof of that entry under the head it made, and of nothing that comes
 * later: whenever and wherever it is made, with the same libraries and fonts, it is the same to the byte. It says the
 * SHA-256 of the document, which is the same with any.
 *
 * Return: 0; KW_NOT_FOUND, there is no such certificate or it was recorded without a document; a negative errno.
 */
int kw_certificate_pdf(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err);

/**
 * kw_trial_pdf - a drill or a sample as it was recorded, A4, one page where its lists are not long
 * @seq: of its entry; made of that and of its proof alone, so the same to the byte as a certificate is
 *
 * Return: 0; KW_NOT_FOUND, there is no such entry or it is neither; a negative errno.
 */
int kw_trial_pdf(struct kw_ledger *ledger, int64_t seq, struct kw_buf *out, struct kw_error *err);

/**
 * kw_pack_check - whether a pack is as it was made
 * @path:  the zip
 * @wrong: receives the file in the pack that is wrong, and the entry where it is one, in words
 *
 * Checked are the sums, every entry's proof against the head, and that nothing is missing and nothing added.
 * Return: 0; KW_BAD_VALUE with the sentence that says what is wrong; KW_NOT_FOUND when it can't be read; -errno.
 */
int kw_pack_check(const char *path, struct kw_head *head, int64_t *entries, struct kw_error *err);

#endif

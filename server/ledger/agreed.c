/*
 * The second person.
 *
 * A release is one entry, by one person; the other's word is an entry of its own, made before it. Which one it was is
 * written into the release when it is recorded, so that doing it again never asks who may do what today.
 */
#include "agreed.h"

#include "kinwire/process.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

const char *kw_works(const cJSON *body, char room[KW_WORKS])
{
        const cJSON *into = kw_json_get(body, "into"), *one;
        size_t n = 0;

        room[0] = '\0';
        for (const struct kw_process *p = kw_processes; into && p->name; p++)
                cJSON_ArrayForEach(one, into)
                {
                        if (strcmp(one->valuestring, p->name) == 0 && n < KW_WORKS)
                                n += (size_t)snprintf(room + n, KW_WORKS - n, "%s%s", n ? "," : "", p->name);
                }
        return into ? room : NULL;
}

/* --- who agreed ---------------------------------------------------------------------------------- */

static int covers_item(struct kw_ledger *l, int64_t agreement, const cJSON *item, bool *covered)
{
        struct kw_spans given = {0}, left = {0};
        struct kw_span wanted;
        struct kw_lot_here lot;
        struct kw_query q;
        int64_t id;
        int rc = kw_thing_id(l, "lot", kw_json_text(item, "lot"), &id);

        *covered = false;
        if (rc || !id)
                return rc;
        rc = kw_lot_by_id(l, id, &lot);
        if (rc == 0)
                rc = kw_ask(l, &q, "SELECT from_mm, to_mm FROM agreement_span WHERE lot = ?1 AND seq = ?2", "ii", id,
                            agreement);
        else
                q.stmt = NULL;
        while (rc == 0 && (rc = kw_next(l, &q)) == 1)
                rc = kw_spans_add(&given, kw_int(&q, 0), kw_int(&q, 1));
        kw_end(&q);
        kw_spans_unite(&given);
        wanted = (struct kw_span){kw_json_int(item, "from_mm", 0), kw_json_int(item, "to_mm", lot.length_mm)};
        if (rc == 0)
                rc = kw_spans_minus(&(const struct kw_spans){.at = &wanted, .n = 1}, &given, &left);
        *covered = rc == 0 && left.n == 0;
        kw_spans_free(&given);
        kw_spans_free(&left);
        return rc;
}

/* Whether an agreement is for all of what a release names. */
static int covers(struct kw_ledger *l, int64_t agreement, const cJSON *body, bool *covered)
{
        const cJSON *lots = kw_json_get(body, "lots"), *item;
        int64_t some;
        int rc = kw_one(l, &some, 0, "SELECT count(*) FROM agreement_span WHERE seq = ?1", "i", agreement);

        *covered = rc == 0 && (some == 0 || lots);
        if (rc || !some)
                return rc;
        cJSON_ArrayForEach(item, lots)
        {
                if (rc == 0 && *covered)
                        rc = covers_item(l, agreement, item, covered);
        }
        return rc;
}

static bool same_text(const char *a, const char *b)
{
        return a && b ? strcmp(a, b) == 0 : a == b;
}

/* The first that fits; 0: none does. */
static int find_agreement(struct kw_ledger *l, int64_t hold, const cJSON *body, const char *by, int64_t target,
                          int64_t *found)
{
        char room[KW_WORKS];
        const char *works = kw_works(body, room), *grade = kw_json_text(body, "grade");
        bool covered = false;
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT a.seq, a.grade, a.works FROM agreement a JOIN entry e ON e.seq = a.seq"
                        " WHERE a.hold = ?1 AND a.disposition = ?2 AND e.by <> ?3"
                        " AND NOT EXISTS (SELECT 1 FROM standing s JOIN entry c ON c.seq = s.body_seq"
                        "                 WHERE s.seq = a.seq AND c.by = ?3)"
                        " AND NOT EXISTS (SELECT 1 FROM release r WHERE r.agreed = a.seq AND r.seq <> ?4)"
                        " ORDER BY a.seq",
                        "itti", hold, kw_json_text(body, "disposition"), by, target);

        *found = 0;
        while (rc == 0 && !covered && (rc = kw_next(l, &q)) == 1) {
                *found = kw_int(&q, 0);
                rc = 0;
                if (same_text(kw_text(&q, 1), grade) && same_text(kw_text(&q, 2), works))
                        rc = covers(l, *found, body, &covered);
        }
        kw_end(&q);
        if (!covered)
                *found = 0;
        return rc;
}

static int set_agreed(cJSON *body, const cJSON *agreed)
{
        cJSON *copy;

        cJSON_DeleteItemFromObjectCaseSensitive(body, "agreed");
        if (!agreed)
                return 0;
        copy = cJSON_Duplicate(agreed, 1);
        if (copy && cJSON_AddItemToObject(body, "agreed", copy))
                return 0;
        cJSON_Delete(copy);
        return -ENOMEM;
}

int kw_agreed_say(struct kw_ledger *l, cJSON *release_body, const char *by, int64_t target)
{
        int64_t hold, found = 0;
        int rc = kw_thing_id(l, "hold", kw_json_text(release_body, "hold"), &hold);

        if (rc == 0 && hold)
                rc = find_agreement(l, hold, release_body, by, target, &found);
        if (rc == 0)
                rc = set_agreed(release_body, NULL);
        if (rc == 0 && found && !cJSON_AddNumberToObject(release_body, "agreed", (double)found))
                rc = -ENOMEM;
        return rc;
}

int kw_agreed_adopt(cJSON *release_body, const cJSON *stored)
{
        return set_agreed(release_body, kw_json_get(stored, "agreed"));
}

/* --- whether somebody had to --------------------------------------------------------------------- */

/* Whether the hold came of a question, as a recall does. */
static int came_of_a_question(struct kw_work *w, int64_t hold, bool *did)
{
        int64_t yes;
        int rc = kw_one(w->l, &yes, 0, "SELECT trace IS NOT NULL OR question IS NOT NULL FROM hold WHERE id = ?1", "i",
                        hold);

        *did = yes;
        return rc;
}

static int is_there(struct kw_work *w, int64_t hold, int64_t agreed)
{
        int64_t fits;
        int rc = kw_one(w->l, &fits, 0, "SELECT 1 FROM agreement WHERE seq = ?1 AND hold = ?2 AND disposition = ?3",
                        "iit", agreed, hold, kw_json_text(w->body, "disposition"));

        if (rc || fits)
                return rc;
        return kw_refuse_with(w->err, KW_UNKNOWN_ENTRY, "/body/agreed", "agreed", KW_VALUES(KW_FIGURE("seq", agreed)),
                              "entry %" PRId64 " doesn't say any more that a second person agrees to it", agreed);
}

int kw_check_agreed(struct kw_work *w, int64_t hold, const char *failed)
{
        int64_t agreed = kw_json_int(w->body, "agreed", 0);
        bool recalled = false;
        char why[80];
        int rc;

        if (agreed)
                return is_there(w, hold, agreed);
        if (!kw_disposition(kw_json_text(w->body, "disposition"))->second)
                return 0;
        rc = came_of_a_question(w, hold, &recalled);
        if (rc || (!recalled && !failed))
                return rc;
        snprintf(why, sizeof(why), "%s%s", failed ? "it failed test " : "it was recalled", failed ? failed : "");
        if (w->judge && w->second_person)
                return kw_refuse_with(w->err, KW_NOT_AGREED, "/body/hold", failed ? "failed" : "recalled",
                                      KW_VALUES(KW_WORD("hold", kw_json_text(w->body, "hold")),
                                                KW_WORD("test", failed ? failed : "")),
                                      "%s, so that somebody else has to agree (an entry \"agree\") before hold %s is "
                                      "released",
                                      why, kw_json_text(w->body, "hold"));
        return kw_finding_with(w, "one-person", failed ? "failed" : "recalled",
                               KW_VALUES(KW_WORD("test", failed ? failed : "")), "%s, and one person released it alone",
                               why);
}

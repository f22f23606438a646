/*
 * Drills and samples: the record put to the test, by the server and on the record.
 *
 * What is chosen and found is written into the body when the entry is recorded, with the head at which it was looked
 * at: who doubts it asks the ledger as it was, and draws again by the seed (draw.h).
 */
#include "drilled.h"

#include "draw.h"
#include "read/found.h"
#include "tree.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define DRAWS_MOST 100000 /* twenty out of two hundred thousand candidates of which most are void take fewer */

/* --- writing it into the body ---------------------------------------------------------------------- */

static bool put_int(cJSON *to, const char *name, int64_t value)
{
        return cJSON_AddNumberToObject(to, name, (double)value) != NULL;
}

static bool put_text(cJSON *to, const char *name, const char *text)
{
        return !text || cJSON_AddStringToObject(to, name, text) != NULL;
}

static bool put_sum(cJSON *to, const char *mm, const char *g, const struct kw_found_sum *sum)
{
        return put_int(to, mm, sum->mm) && put_int(to, g, sum->g);
}

static bool put_texts(cJSON *to, const char *name, const char *const *texts, size_t n)
{
        cJSON *list = cJSON_AddArrayToObject(to, name);

        for (size_t i = 0; list && i < n; i++) {
                cJSON *one = cJSON_CreateString(texts[i]);

                if (!one || !cJSON_AddItemToArray(list, one)) {
                        cJSON_Delete(one);
                        return false;
                }
        }
        return list != NULL;
}

/* The two members, empty; NULL: no memory. */
static cJSON *afresh(cJSON *body, const char *name)
{
        cJSON_DeleteItemFromObjectCaseSensitive(body, name);
        return cJSON_AddObjectToObject(body, name);
}

static int64_t microseconds(void)
{
        struct timespec t;

        clock_gettime(CLOCK_MONOTONIC, &t);
        return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* The head at which it was looked. */
static int put_head(struct kw_ledger *l, cJSON *to, struct kw_error *err)
{
        struct kw_head head;
        char hex[KW_HASH_HEX];
        int rc = kw_ledger_head(l, &head, err);

        if (rc)
                return rc;
        kw_hash_hex(&head.root, hex);
        return put_int(to, "size", head.size) && put_text(to, "root", hex) ? 0 : -ENOMEM;
}

/* --- the seed ---------------------------------------------------------------------------------------- */

static int read_seed(struct kw_ledger *l, const cJSON *body, struct kw_seed *seed, struct kw_error *err)
{
        const cJSON *json = kw_json_get(body, "seed");
        struct kw_hash root;
        int64_t now;
        int rc = kw_ledger_size(l, &now);

        seed->text = kw_json_text(json, "text");
        seed->size = kw_json_int(json, "size", 0);
        if (rc == 0 && seed->size > now)
                rc = kw_refuse_with(err, KW_OUT_OF_RANGE, "/body/seed/size", "ledger-size",
                                    KW_VALUES(KW_FIGURE("entries", now), KW_FIGURE("size", seed->size)),
                                    "the ledger has %" PRId64 " entries; it was not of size %" PRId64 " yet", now,
                                    seed->size);
        if (rc == 0)
                rc = kw_ledger_root(l, seed->size, &root, err);
        if (rc == 0)
                kw_hash_hex(&root, seed->root);
        return rc;
}

/* Draws of one kind of entry. Which were drawn is kept, so that each is read once, however few there are: the writer
 * waits for this. */
struct draws {
        struct kw_ledger *l;
        const char *kind, *member;
        struct kw_seed seed;
        int64_t n, left; /* candidates, and those that were not drawn yet */
        int64_t k;       /* the next draw */
        unsigned char *drawn;
};

/* With l, kind, member and seed set. Free what is drawn in any case. */
static int draws_begin(struct draws *d)
{
        int rc = kw_draw_count(d->l, d->kind, d->seed.size, &d->n);

        if (rc)
                return rc;
        d->left = d->n;
        d->drawn = calloc((size_t)d->n / 8 + 1, 1);
        return d->drawn ? 0 : -ENOMEM;
}

/* The next that stands and was not drawn before: its entry, and the code of what it is of. Return: 1; 0, there is none;
 * -errno. */
static int draw(struct draws *d, int64_t *seq, char code[KW_CODE_MAX + 1])
{
        while (d->left && d->k < DRAWS_MOST) {
                struct kw_hash digest;
                int64_t number = kw_draw_number(&d->seed, d->k++, d->n, &digest);
                int rc;

                if (d->drawn[number / 8] >> (number % 8) & 1)
                        continue;
                d->drawn[number / 8] = (unsigned char)(d->drawn[number / 8] | 1 << (number % 8));
                d->left--;
                rc = kw_draw_entry(d->l, d->kind, d->seed.size, number, seq);
                if (rc == 0)
                        rc = kw_draw_code(d->l, *seq, d->member, code);
                if (rc || code[0])
                        return rc ? rc : 1;
        }
        return 0;
}

static bool put_draw(cJSON *chosen, const struct kw_seed *seed, int64_t of)
{
        return put_text(chosen, "seed_root", seed->root) && put_int(chosen, "of", of);
}

/* --- a drill ------------------------------------------------------------------------------------------ */

static int choose_lot(struct kw_ledger *l, cJSON *body, cJSON *chosen, int64_t *lot, struct kw_error *err)
{
        const char *given = kw_json_text(body, "lot");
        struct draws d = {.l = l, .kind = "receive", .member = "lot"};
        char code[KW_CODE_MAX + 1];
        int64_t seq;
        int rc;

        *lot = 0;
        if (given) {
                rc = kw_thing_id(l, "lot", given, lot);
                if (rc == 0 && !*lot)
                        rc = kw_refuse_with(err, KW_UNKNOWN_LOT, "/body/lot", "says", KW_VALUES(KW_WORD("code", given)),
                                            "there is no lot %s in the ledger", given);
                return rc ? rc : put_text(chosen, "lot", given) ? 0 : -ENOMEM;
        }
        rc = read_seed(l, body, &d.seed, err);
        if (rc == 0)
                rc = draws_begin(&d);
        if (rc == 0 && d.n && !put_draw(chosen, &d.seed, d.n))
                rc = -ENOMEM;
        while (rc == 0 && !*lot && (rc = draw(&d, &seq, code)) == 1) {
                rc = kw_thing_id(l, "lot", code, lot);
                if (rc == 0 && *lot &&
                    !(put_text(chosen, "lot", code) && put_int(chosen, "draw", d.k - 1) &&
                      put_int(chosen, "entry", seq)))
                        rc = -ENOMEM;
        }
        free(d.drawn);
        if (rc == 0 && !*lot)
                rc = kw_refuse_with(err, KW_OUT_OF_RANGE, "/body/seed/size", "nothing-received",
                                    KW_VALUES(KW_FIGURE("entries", d.seed.size)),
                                    "nothing that stands had been received when the ledger had %" PRId64 " entries",
                                    d.seed.size);
        return rc;
}

static bool put_found(cJSON *to, const struct kw_found *f)
{
        struct kw_found_sum made = {f->left.mm + f->sent.mm + f->lost.mm, f->left.g + f->sent.g + f->lost.g};
        struct kw_found_sum found = {made.mm - f->unplaced.mm, made.g - f->unplaced.g};
        size_t listed = f->unplaced_lots < KW_FOUND_LISTED ? (size_t)f->unplaced_lots : KW_FOUND_LISTED;

        return put_int(to, "lots", f->lots) && put_int(to, "certain", f->certain) &&
               put_int(to, "possible", f->lots - f->certain) && put_sum(to, "made_mm", "made_g", &made) &&
               put_sum(to, "found_mm", "found_g", &found) && put_sum(to, "left_mm", "left_g", &f->left) &&
               put_sum(to, "sent_mm", "sent_g", &f->sent) && put_sum(to, "lost_mm", "lost_g", &f->lost) &&
               put_int(to, "unweighed", f->unweighed) && put_int(to, "unplaced_lots", f->unplaced_lots) &&
               put_texts(to, "unplaced", f->unplaced_named, listed) &&
               put_int(to, "consignments", (int64_t)f->n_consignments) &&
               put_texts(to, "consignees", f->consignees, f->n_consignees);
}

int kw_drill_say(struct kw_ledger *l, cJSON *body, struct kw_error *err)
{
        int64_t lot = 0, began = microseconds();
        cJSON *chosen = afresh(body, "chosen"), *found = afresh(body, "found");
        struct kw_reader *reader = NULL;
        struct kw_found f;
        int rc = chosen && found ? choose_lot(l, body, chosen, &lot, err) : -ENOMEM;

        if (rc == 0)
                rc = put_head(l, found, err);
        if (rc == 0)
                rc = kw_reader_new(l, &reader);
        if (rc == 0)
                rc = kw_read_found(reader, lot, &f);
        if (rc == 0 && !(put_found(found, &f) && put_int(found, "took_us", microseconds() - began)))
                rc = -ENOMEM;
        kw_reader_free(reader);
        return rc;
}

/* --- a sample ------------------------------------------------------------------------------------------- */

/* Whether the entry is where the ledger's root says it is. */
static int is_proved(struct kw_ledger *l, int64_t seq, bool *proved, struct kw_error *err)
{
        struct kw_head head;
        struct kw_proof proof;
        struct kw_hash leaf;
        struct kw_query q;
        int rc = kw_ledger_head(l, &head, err);

        *proved = false;
        if (rc == 0)
                rc = kw_ledger_inclusion(l, seq, head.size, &proof, err);
        if (rc == 0)
                rc = kw_ask(l, &q, "SELECT leaf FROM entry WHERE seq = ?1", "i", seq);
        else
                return rc;
        if (rc == 0 && (rc = kw_next(l, &q)) == 1) {
                kw_hash_leaf(kw_text(&q, 0), strlen(kw_text(&q, 0)), &leaf);
                *proved = kw_merkle_check_inclusion(&leaf, (uint64_t)seq - 1, (uint64_t)head.size, &proof,
                                                    &head.root) == 0;
                rc = 0;
        }
        kw_end(&q);
        return rc;
}

static bool put_check(cJSON *to, const char *name, bool good, const char *why)
{
        cJSON *check = cJSON_AddObjectToObject(to, name);

        return check && cJSON_AddBoolToObject(check, "good", good) && put_text(check, "see", good ? NULL : why);
}

static int walk(struct kw_ledger *l, cJSON *list, int64_t seq, int64_t k, struct kw_error *err)
{
        cJSON *one = cJSON_CreateObject();
        struct kw_reader *reader = NULL;
        struct kw_walked w = {0};
        bool proved = false;
        int rc = one && cJSON_AddItemToArray(list, one) ? is_proved(l, seq, &proved, err) : -ENOMEM;

        if (rc == 0)
                rc = kw_reader_new(l, &reader);
        if (rc == 0)
                rc = kw_read_walked(reader, seq, &w);
        if (rc == 0 &&
            !(put_text(one, "certificate", w.code) && put_int(one, "draw", k) && put_int(one, "entry", seq) &&
              put_int(one, "reels", w.reels) && put_int(one, "heats", w.heats) && put_int(one, "tests", w.tests) &&
              put_check(one, "chain", !w.no_heat && w.heats > 0, w.no_heat) &&
              put_check(one, "passed", w.tests > 0 && !w.failed, w.failed) && put_check(one, "free", !w.held, w.held) &&
              put_check(one, "standing", !w.withdrawn, NULL) && put_check(one, "proof", proved, NULL)))
                rc = -ENOMEM;
        kw_reader_free(reader);
        return rc;
}

static int pick(struct draws *d, int64_t wanted, cJSON *list, struct kw_error *err)
{
        char code[KW_CODE_MAX + 1];
        int64_t got = 0, seq;
        int rc = 0;

        while (rc == 0 && got < wanted && (rc = draw(d, &seq, code)) == 1) {
                rc = walk(d->l, list, seq, d->k - 1, err);
                got++;
        }
        if (rc == 0 && got < wanted)
                rc = kw_refuse_with(
                        err, KW_OUT_OF_RANGE, "/body/n", "too-few",
                        KW_VALUES(KW_FIGURE("of", d->n), KW_FIGURE("entries", d->seed.size), KW_FIGURE("drawn", got)),
                        "there were %" PRId64 " certificates when the ledger had %" PRId64 " entries, and of those "
                        "that stand %" PRId64 " could be drawn",
                        d->n, d->seed.size, got);
        return rc;
}

int kw_sample_say(struct kw_ledger *l, cJSON *body, struct kw_error *err)
{
        int64_t began = microseconds();
        cJSON *chosen = afresh(body, "chosen"), *found = afresh(body, "found"), *list;
        struct draws d = {.l = l, .kind = "certify", .member = "certificate"};
        int rc = chosen && found ? read_seed(l, body, &d.seed, err) : -ENOMEM;

        if (rc == 0)
                rc = draws_begin(&d);
        if (rc == 0)
                rc = put_draw(chosen, &d.seed, d.n) ? put_head(l, found, err) : -ENOMEM;
        list = rc == 0 ? cJSON_AddArrayToObject(found, "certificates") : NULL;
        if (rc == 0)
                rc = list ? pick(&d, kw_json_int(body, "n", 0), list, err) : -ENOMEM;
        if (rc == 0 && !put_int(found, "took_us", microseconds() - began))
                rc = -ENOMEM;
        free(d.drawn);
        return rc;
}

/* --- again ----------------------------------------------------------------------------------------------- */

int kw_drilled_adopt(cJSON *body, const cJSON *stored)
{
        static const char *const names[] = {"chosen", "found"};

        for (size_t i = 0; i < sizeof(names) / sizeof(*names); i++) {
                const cJSON *was = kw_json_get(stored, names[i]);
                cJSON *copy = was ? cJSON_Duplicate(was, 1) : NULL;

                cJSON_DeleteItemFromObjectCaseSensitive(body, names[i]);
                if (was && (!copy || !cJSON_AddItemToObject(body, names[i], copy))) {
                        cJSON_Delete(copy);
                        return -ENOMEM;
                }
        }
        return 0;
}

/* Nothing else follows from either: they are read from the entries themselves. */
int kw_apply_drill(struct kw_work *w)
{
        (void)w;
        return 0;
}

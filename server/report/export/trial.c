/*
 * A drill or a sample on one page: what was chosen and how, what was found and how fast, and the proof of its entry.
 *
 * It is made of the entry alone, so it says the same whenever it is made; how the choice was drawn is told so that
 * anyone can draw it again with common tools (ledger/draw.h has the rule).
 */
#include "certificate.h"

#include "kinwire/export.h"
#include "ledger/draw.h"
#include "report/put.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

#define LISTED 40 /* lots in no known place, named on the page; the entry has more */

static const cJSON *member(const struct kw_sheet *s, const char *of, const char *name)
{
        return kw_json_get(kw_json_get(s->document, of), name);
}

static int64_t number(const struct kw_sheet *s, const char *of, const char *name)
{
        return kw_json_int(kw_json_get(s->document, of), name, 0);
}

static int64_t found(const struct kw_sheet *s, const char *name)
{
        return number(s, "found", name);
}

static const char *thousandths(struct kw_sheet *s, int64_t n)
{
        return kw_sheet_words(s, "%" PRId64 ".%03d", n / 1000, (int)(n % 1000));
}

/* To a tenth of a percent downwards, so that all of it is said only where it is all. Masses are below 2^53 g. */
static const char *share(struct kw_sheet *s, int64_t part, int64_t whole)
{
        int64_t tenths = whole ? part * 1000 / whole : 0;

        return whole ? kw_sheet_words(s, "%" PRId64 ".%d %%", tenths / 10, (int)(tenths % 10)) : "";
}

/* To the nearest tenth, as the page has it: rows of a table that are to add up. */
static const char *near_share(struct kw_sheet *s, int64_t part, int64_t whole)
{
        int64_t tenths = whole ? (part * 1000 + whole / 2) / whole : 0;

        return whole ? kw_sheet_words(s, "%" PRId64 ".%d %%", tenths / 10, (int)(tenths % 10)) : "";
}

static const char *list_of(struct kw_sheet *s, const cJSON *list, size_t most)
{
        struct kw_buf text = {0};
        const cJSON *item;
        const char *kept;
        size_t n = 0;

        cJSON_ArrayForEach(item, list)
        {
                if (n < most)
                        kw_buf_printf(&text, "%s%s", n ? ", " : "", item->valuestring);
                n++;
        }
        kept = kw_sheet_words(s, "%s", n ? kw_buf_text(&text) : "none");
        s->failed = s->failed || text.failed;
        kw_buf_free(&text);
        return kept;
}

/* --- how it was drawn --------------------------------------------------------------------------------- */

static void put_draw(struct kw_sheet *s, int64_t k, int64_t entry, const char *what)
{
        const struct kw_seed seed = {.text = kw_json_text(kw_json_get(s->document, "seed"), "text")};
        const char *root = kw_json_text(kw_json_get(s->document, "chosen"), "seed_root");
        const int64_t of = number(s, "chosen", "of");
        struct kw_seed with = seed;
        struct kw_hash digest;
        char hex[KW_HASH_HEX];
        int64_t candidate;

        if (!seed.text || !root || of < 1 || strlen(root) != KW_HASH_HEX - 1)
                return;
        memcpy(with.root, root, KW_HASH_HEX);
        candidate = kw_draw_number(&with, k, of, &digest);
        kw_hash_hex(&digest, hex);
        kw_paper_text(s->p, kw_sheet_words(s,
                                           "Draw %" PRId64 " is this number, which modulo %" PRId64 " is %" PRId64
                                           ", counted from 0: entry #%" PRId64 ", %s",
                                           k, of, candidate, entry, what));
        kw_paper_code(s->p, hex);
}

static void put_seed(struct kw_sheet *s, const char *candidates)
{
        kw_paper_heading(s->p, "How it was drawn");
        if (!member(s, "seed", "text")) {
                kw_paper_text(s->p, "It was named by whoever asked, not drawn.");
                return;
        }
        kw_paper_text(s->p,
                      kw_sheet_words(s,
                                     "Among the %" PRId64 " %s up to entry %" PRId64
                                     ", in order: SHA-256 of the root of the ledger at that size, the words given and "
                                     "the number of the draw, on three lines, as one number, modulo how many there "
                                     "are. What had been taken back is passed over.",
                                     number(s, "chosen", "of"), candidates, number(s, "seed", "size")));
        kw_paper_fact(s->p, "Words given", kw_json_text(kw_json_get(s->document, "seed"), "text"));
        kw_paper_text(s->p, kw_sheet_words(s, "Root at %" PRId64 " entries", number(s, "seed", "size")));
        kw_paper_code(s->p, kw_json_text(kw_json_get(s->document, "chosen"), "seed_root"));
}

/* --- a drill ------------------------------------------------------------------------------------------- */

static void put_share(struct kw_sheet *s, const char *name, int64_t mm, int64_t g)
{
        const struct kw_paper_cell cells[] = {{name, NULL},
                                              {thousandths(s, mm), NULL},
                                              {thousandths(s, g), NULL},
                                              {near_share(s, g, found(s, "made_g")), NULL}};

        kw_paper_row(s->p, cells);
}

static void put_shares(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {{"Where the metal ends", 0.46, false},
                                                         {"Length, m", 0.2, true},
                                                         {"Mass, kg", 0.2, true},
                                                         {"Share of mass", 0.14, true}};
        const int64_t missing_mm = found(s, "made_mm") - found(s, "found_mm"),
                      missing_g = found(s, "made_g") - found(s, "found_g");

        kw_paper_table(s->p, columns, 4);
        put_share(s, "In the mill, in a known place", found(s, "left_mm") - missing_mm, found(s, "left_g") - missing_g);
        put_share(s, "Sent out, to whom is known", found(s, "sent_mm"), found(s, "sent_g"));
        put_share(s, "Scrapped or cut as samples", found(s, "lost_mm"), found(s, "lost_g"));
        put_share(s, "In the mill, in no known place", missing_mm, missing_g);
        put_share(s, "All that was made", found(s, "made_mm"), found(s, "made_g"));
        kw_paper_table_end(s->p);
}

static void put_drill(struct kw_sheet *s)
{
        const int64_t us = found(s, "took_us"), unplaced = found(s, "unplaced_lots");

        kw_paper_heading(s->p, "What was found");
        kw_paper_text(s->p, kw_sheet_words(s,
                                           "%s of the mass that was made of it: %s kg of %s kg, over %" PRId64
                                           " lots, of which %" PRId64 " surely and %" PRId64
                                           " possibly. From the question to the list it took %" PRId64 ".%06d s.",
                                           share(s, found(s, "found_g"), found(s, "made_g")),
                                           thousandths(s, found(s, "found_g")), thousandths(s, found(s, "made_g")),
                                           found(s, "lots"), found(s, "certain"), found(s, "possible"), us / 1000000,
                                           (int)(us % 1000000)));
        if (found(s, "unweighed"))
                kw_paper_text(s->p, kw_sheet_words(s,
                                                   "%" PRId64 " of the lots have no known mass and count in length "
                                                   "alone.",
                                                   found(s, "unweighed")));
        put_shares(s);
        kw_paper_space(s->p, 4);
        kw_paper_fact(s->p, "To write to",
                      kw_sheet_words(s, "%s (%" PRId64 " consignments)",
                                     list_of(s, member(s, "found", "consignees"), SIZE_MAX), found(s, "consignments")));
        kw_paper_fact(s->p, "No place known",
                      unplaced > LISTED
                              ? kw_sheet_words(s, "%s, and %" PRId64 " more",
                                               list_of(s, member(s, "found", "unplaced"), LISTED), unplaced - LISTED)
                              : list_of(s, member(s, "found", "unplaced"), LISTED));
        put_seed(s, "lots received");
        put_draw(s, number(s, "chosen", "draw"), number(s, "chosen", "entry"),
                 kw_sheet_words(s, "lot %s", kw_json_text(kw_json_get(s->document, "chosen"), "lot")));
}

/* --- a sample ------------------------------------------------------------------------------------------ */

static const char *check(struct kw_sheet *s, const cJSON *one, const char *name)
{
        const cJSON *of = kw_json_get(one, name);
        const char *see = kw_json_text(of, "see");

        if (cJSON_IsTrue(kw_json_get(of, "good")))
                return "yes";
        return see ? kw_sheet_words(s, "NO: %s", see) : "NO";
}

static void put_walked(struct kw_sheet *s, const cJSON *one)
{
        const struct kw_paper_cell cells[] = {
                {kw_sheet_words(s, "%s", kw_json_text(one, "certificate")), NULL},
                {kw_sheet_words(s, "%" PRId64, kw_json_int(one, "entry", 0)), NULL},
                {kw_sheet_words(s, "%" PRId64 " / %" PRId64 " / %" PRId64, kw_json_int(one, "reels", 0),
                                kw_json_int(one, "heats", 0), kw_json_int(one, "tests", 0)),
                 NULL},
                {check(s, one, "chain"), NULL},
                {check(s, one, "passed"), NULL},
                {check(s, one, "free"), NULL},
                {check(s, one, "standing"), NULL},
                {check(s, one, "proof"), NULL},
                {"\xe2\x98\x90", NULL}, /* for the hand of whoever looks */
        };

        kw_paper_row(s->p, cells);
}

static void put_sample(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {{"Certificate", 0.14, false},
                                                         {"Entry", 0.08, true},
                                                         {"Reels / heats / tests", 0.13, false},
                                                         {"Chain to heats", 0.13, false},
                                                         {"Tested, passed", 0.13, false},
                                                         {"None on hold", 0.12, false},
                                                         {"Stands", 0.09, false},
                                                         {"Entry proved", 0.1, false},
                                                         {"Seen", 0.07, false}};
        const cJSON *list = member(s, "found", "certificates"), *one;
        const int64_t us = found(s, "took_us");

        kw_paper_heading(s->p, "What was found");
        kw_paper_text(s->p,
                      kw_sheet_words(s, "%d certificates, each walked back to its heats. It took %" PRId64 ".%06d s.",
                                     cJSON_GetArraySize(list), us / 1000000, (int)(us % 1000000)));
        kw_paper_table(s->p, columns, 9);
        cJSON_ArrayForEach(one, list) put_walked(s, one);
        kw_paper_table_end(s->p);
        kw_paper_text(s->p, "The last column is for whoever looks at the paper of each.");
        put_seed(s, "certificates");
        cJSON_ArrayForEach(one, list) put_draw(s, kw_json_int(one, "draw", 0), kw_json_int(one, "entry", 0),
                                               kw_sheet_words(s, "certificate %s", kw_json_text(one, "certificate")));
}

/* --- the page ------------------------------------------------------------------------------------------- */

static const struct trial {
        const char *kind, *title;
        void (*put)(struct kw_sheet *s);
} trials[] = {
        {"drill", "Mock recall", put_drill},
        {"sample", "Sample of certificates", put_sample},
};

struct trial_sheet {
        struct kw_sheet sheet; /* first: the writer is called with it */
        const struct trial *trial;
        struct kw_entry_row entry;
};

static const struct trial *trial_of(const char *kind)
{
        for (size_t i = 0; i < sizeof(trials) / sizeof(*trials); i++) {
                if (strcmp(trials[i].kind, kind) == 0)
                        return &trials[i];
        }
        return NULL;
}

static void put_proof(struct kw_sheet *s, int64_t seq)
{
        kw_paper_heading(s->p, "Proof");
        kw_paper_text(s->p, kw_sheet_words(s,
                                           "This is entry #%" PRId64
                                           " of the mill's ledger, a Merkle tree by RFC 9162 over SHA-256. The hash "
                                           "of the entry and the hashes below give the head at %" PRId64
                                           " entries; every later head has it within. What was found is of the ledger "
                                           "at %" PRId64 " entries.",
                                           seq, seq, found(s, "size")));
        kw_sheet_hash(s, "Hash of the entry", &s->leaf);
        kw_sheet_hash(s, kw_sheet_words(s, "Head at %" PRId64 " entries", seq), &s->root);
        kw_sheet_proof(s);
}

static int write_once(struct kw_sheet *s)
{
        const struct trial_sheet *t = (const struct trial_sheet *)s;
        const char *lot = kw_json_text(kw_json_get(s->document, "chosen"), "lot");

        kw_paper_title(s->p, lot ? kw_sheet_words(s, "%s of lot %s", t->trial->title, lot) : t->trial->title);
        kw_paper_space(s->p, 4);
        kw_paper_fact(s->p, "Held", kw_sheet_words(s, "%.10s %.8s UTC", t->entry.at, t->entry.at + 11));
        kw_paper_fact(
                s->p, "Recorded",
                kw_sheet_words(s, "entry #%" PRId64 " by %s at %s", t->entry.seq, t->entry.by, t->entry.terminal));
        kw_paper_fact(s->p, "Note", kw_json_text(s->document, "note"));
        t->trial->put(s);
        put_proof(s, t->entry.seq);
        return kw_paper_end(s->p);
}

static int make(struct kw_ledger *ledger, struct trial_sheet *t, int64_t seq, struct kw_buf *out, struct kw_error *err)
{
        struct kw_sheet *s = &t->sheet;
        cJSON *body = NULL;
        char root[KW_HASH_HEX];
        int rc = kw_read_entry(s->r, seq, &t->entry, err);

        if (rc)
                return rc;
        t->trial = trial_of(t->entry.kind);
        if (!t->trial)
                return kw_refuse_with(err, KW_NOT_FOUND, "", "no-trial", KW_VALUES(KW_FIGURE("seq", seq)),
                                      "entry %" PRId64 " is a %s, no drill and no sample", seq, t->entry.kind);
        rc = kw_sheet_prove(ledger, s, seq, err);
        if (rc == 0)
                rc = kw_json_read(t->entry.body, strlen(t->entry.body), &kw_any_size, &body, NULL) ? -EIO : 0;
        s->document = body;
        if (rc == 0) {
                kw_hash_hex(&s->root, root);
                rc = kw_sheet_write(s, write_once, kw_sheet_words(s, "%s, entry %" PRId64, t->trial->title, seq),
                                    kw_sheet_words(s, "%s \xc2\xb7 entry %" PRId64 " \xc2\xb7 head %.16s\xe2\x80\xa6",
                                                   t->trial->kind, seq, root),
                                    t->entry.logged, out);
        }
        cJSON_Delete(body);
        return rc;
}

int kw_trial_pdf(struct kw_ledger *ledger, int64_t seq, struct kw_buf *out, struct kw_error *err)
{
        struct trial_sheet t = {0};
        int rc = kw_reader_new(ledger, &t.sheet.r);

        if (rc == 0) {
                rc = make(ledger, &t, seq, out, err);
                rc = kw_finish(t.sheet.r, out, rc, err);
        }
        kw_reader_free(t.sheet.r);
        return rc;
}

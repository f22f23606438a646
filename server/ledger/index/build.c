/*
 * Building the base: each table read once, in the order in which it is kept, so that nothing is looked up.
 *
 * Feeds are read by run and wanted by lot: a counting sort puts them there.
 */
#include "layout.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct building {
        struct base *b;
        struct kw_ledger *l;
        uint64_t cap[SECTIONS];
        struct facts *facts;
        int64_t *ids; /* of lots */
        uint64_t n_lots, cap_ids;
        uint32_t *lot_of_seq;  /* the first lot of each entry */
        struct feed_rec *read; /* by run; the section gets them by lot */
        uint64_t n_read, cap_read;
};

static void *more(void **at, uint64_t n, uint64_t *cap, size_t size)
{
        if (n == *cap) {
                uint64_t room = *cap ? *cap + *cap / 2 : 4096;
                void *bigger = reallocarray(*at, room, size);

                if (!bigger)
                        return NULL;
                *at = bigger;
                *cap = room;
        }
        return (char *)*at + n * size;
}

static void *add(struct building *x, enum section s, size_t size)
{
        void *at = more(&x->b->section[s], x->b->head.n[s], &x->cap[s], size);

        x->b->head.n[s] += at != NULL;
        return at;
}

static int read_lots(struct building *x)
{
        int64_t seq = 0;
        struct kw_query q;
        int rc = kw_ask(x->l, &q, "SELECT seq, id, " LOT_FACTS " FROM lot ORDER BY id", "");

        x->lot_of_seq = calloc((size_t)x->b->head.size + 2, sizeof(*x->lot_of_seq));
        if (!x->lot_of_seq)
                return -ENOMEM;
        while (rc == 0 && (rc = kw_next(x->l, &q)) == 1) {
                int64_t its = kw_int(&q, 0), *id;
                void *at = x->ids;

                id = more(&at, x->n_lots, &x->cap_ids, sizeof(*id));
                x->ids = at;
                rc = !id ? -ENOMEM : x->n_lots > LOTS_MOST ? -E2BIG : its > x->b->head.size ? -EIO : 0;
                if (rc == 0)
                        rc = kw_facts_lot(x->facts, &q, 2);
                if (rc)
                        break;
                *id = kw_int(&q, 1);
                for (; seq < its; seq++)
                        x->lot_of_seq[seq + 1] = (uint32_t)x->n_lots;
                x->n_lots++;
        }
        kw_end(&q);
        return rc;
}

static uint32_t number_of(const struct building *x, int64_t id)
{
        const int64_t *ids = x->ids;
        uint64_t n = x->n_lots, seq = (uint64_t)(id / IDS);

        if (id <= 0 || seq > (uint64_t)x->b->head.size)
                return NONE;
        /* an entry's lots follow one another; only scrap leaves a gap in their ids */
        uint64_t first = x->lot_of_seq[seq], guess = first + (uint64_t)(id % IDS ? id % IDS - 1 : 0);
        if (guess < n && ids[guess] == id)
                return (uint32_t)guess;
        for (uint64_t i = first; i < n && ids[i] <= id; i++)
                if (ids[i] == id)
                        return (uint32_t)i;
        return NONE;
}

static int read_runs(struct building *x)
{
        struct kw_query q;
        int rc = kw_ask(x->l, &q, "SELECT id, seq, tolerance_ppm, length_mm, depth, " RUN_FACTS " FROM run ORDER BY id",
                        "");

        while (rc == 0 && (rc = kw_next(x->l, &q)) == 1) {
                struct run_rec *run = add(x, SEC_RUNS, sizeof(*run));

                if (!run || x->b->head.n[SEC_RUNS] > RUNS_MOST) {
                        rc = run ? -E2BIG : -ENOMEM;
                        break;
                }
                *run = (struct run_rec){.ppm = (uint32_t)kw_int(&q, 2),
                                        .depth = (uint32_t)kw_int(&q, 4) & DEPTH_MOST,
                                        .far = kw_int(&q, 3) > UINT32_MAX,
                                        .length = (uint32_t)kw_int(&q, 3),
                                        .seq = (uint32_t)kw_int(&q, 1)};
                if (run->depth > x->b->head.depth_most)
                        x->b->head.depth_most = run->depth;
                rc = kw_facts_run(x->facts, &q, 5);
        }
        kw_end(&q);
        return rc;
}

static int read_packs(struct building *x)
{
        uint64_t r = 0;
        struct kw_query q;
        int rc = kw_ask(x->l, &q, "SELECT run, lot, s0, s1 FROM package ORDER BY run, ord", "");
        uint32_t *pack_of = malloc(((size_t)x->n_lots + 1) * sizeof(*pack_of));

        x->b->section[SEC_PACK_OF] = pack_of;
        x->b->head.n[SEC_PACK_OF] = x->n_lots;
        if (!pack_of)
                rc = -ENOMEM;
        else
                memset(pack_of, 0xff, (size_t)x->n_lots * sizeof(*pack_of));
        while (rc == 0 && (rc = kw_next(x->l, &q)) == 1) {
                struct run_rec *runs = x->b->section[SEC_RUNS];
                uint64_t n = x->b->head.n[SEC_PACKS];
                struct pack_rec *pack = add(x, SEC_PACKS, sizeof(*pack));
                uint32_t lot = kw_int(&q, 1) ? number_of(x, kw_int(&q, 1)) : NO_LOT;

                while (r < x->b->head.n[SEC_RUNS] && (int64_t)runs[r].seq * IDS < kw_int(&q, 0))
                        r++;
                rc = pack ? 0 : -ENOMEM;
                if (rc || r == x->b->head.n[SEC_RUNS] || lot == NONE) {
                        rc = rc ? rc : -EIO;
                        break;
                }
                *pack = (struct pack_rec){lot, (uint32_t)kw_int(&q, 2), (uint32_t)kw_int(&q, 3), (uint32_t)r & 0xffffff,
                                          kw_depth_in_pack(runs[r].depth)};
                if (!runs[r].packs++)
                        runs[r].pack = (uint32_t)n;
                if (lot != NO_LOT) {
                        pack_of[lot] = (uint32_t)n;
                        kw_facts_place(x->facts, lot, pack);
                }
        }
        kw_end(&q);
        return rc;
}

/* Ids have to be what the numbers say that they are. */
static int check_ids(struct building *x)
{
        const uint32_t *pack_of = x->b->section[SEC_PACK_OF];
        const struct pack_rec *packs = x->b->section[SEC_PACKS];
        const struct run_rec *runs = x->b->section[SEC_RUNS];

        for (uint64_t i = 0; i < x->n_lots; i++) {
                int64_t id = x->ids[i];

                if (pack_of[i] == NONE) {
                        struct received_rec *rec = add(x, SEC_RECEIVED, sizeof(*rec));

                        if (!rec)
                                return -ENOMEM;
                        if (id % IDS)
                                return -EIO;
                        *rec = (struct received_rec){(uint32_t)i, (uint32_t)(id / IDS)};
                } else {
                        const struct run_rec *run = &runs[packs[pack_of[i]].run];

                        if (id != (int64_t)run->seq * IDS + 1 + (pack_of[i] - run->pack))
                                return -EIO;
                }
        }
        return 0;
}

/* --- feeds ------------------------------------------------------------------------------------------ */

static int keep_line(struct building *x, struct line_rows *line, uint64_t r, size_t n)
{
        struct run_rec *run = (struct run_rec *)x->b->section[SEC_RUNS] + r;
        uint32_t *count = x->b->section[SEC_FIRST];
        uint8_t *flags = x->b->section[SEC_FLAGS];

        for (size_t i = 0; i < line->n; i++) {
                uint32_t lot = number_of(x, line->rows[i].lot);

                if (lot == NONE)
                        continue;
                kw_facts_fed(x->facts, lot, line->rows[i].to - line->rows[i].from);
                if (i >= n) /* taken, and no feed here yet */
                        flags[lot] &= (uint8_t)~FACT_STATE;
        }
        for (size_t i = 0; i < n; i++) {
                void *at = x->read;
                struct feed_rec *rec = more(&at, x->n_read, &x->cap_read, sizeof(*rec));
                uint32_t lot = number_of(x, line->rows[i].lot);

                x->read = at;
                if (!rec || lot == NONE)
                        return rec ? -EIO : -ENOMEM;
                *rec = line->recs[i];
                rec->lot = lot & NO_LOT;
                rec->run = (uint32_t)r & 0xffffff;
                count[lot + 1]++;
                if (!run->feeds)
                        run->feed = (uint32_t)x->n_read;
                kw_run_feed_next(run, rec - (run->feeds != 0), rec);
                x->n_read++;
        }
        return 0;
}

struct line_here {
        int64_t run, ord, length_mm;
        int64_t run_mm;
        bool under_way;
};

/* Lines and feeds are kept in one order, so that they are read side by side. */
static int read_lines(struct building *x, struct kw_query *lines, struct kw_query *feeds)
{
        struct line_rows line = {0};
        int more_feeds = kw_next(x->l, feeds), rc = 0;
        int64_t last = 0;
        uint64_t r = 0;

        while (rc == 0 && (rc = kw_next(x->l, lines)) == 1) {
                const struct run_rec *runs = x->b->section[SEC_RUNS];
                int64_t run = kw_int(lines, 0), ord = kw_int(lines, 1);

                rc = 0;
                line.n = 0;
                line.shared = run == last ? line.shared : 0;
                last = run;
                while (rc == 0 && more_feeds == 1 && kw_int(feeds, 0) == run && kw_int(feeds, 1) == ord) {
                        rc = kw_line_add(&line, feeds, 2);
                        more_feeds = kw_next(x->l, feeds);
                }
                while (r < x->b->head.n[SEC_RUNS] && (int64_t)runs[r].seq * IDS < run)
                        r++;
                if (rc == 0)
                        rc = r < x->b->head.n[SEC_RUNS] ? keep_line(x, &line, r,
                                                                    kw_line_recs(&line, kw_int(lines, 2),
                                                                                 kw_int(lines, 3), kw_int(lines, 4)))
                                                        : -EIO;
        }
        kw_line_free(&line);
        return more_feeds < 0 ? more_feeds : rc;
}

static int read_feeds(struct building *x)
{
        struct kw_query lines = {0}, feeds = {0};
        int rc;

        x->b->section[SEC_FIRST] = calloc((size_t)x->n_lots + 2, sizeof(uint32_t));
        x->b->head.n[SEC_FIRST] = x->n_lots + 1;
        if (!x->b->section[SEC_FIRST])
                return -ENOMEM;
        rc = kw_ask(x->l, &lines,
                    "SELECT line.run, line.ord, line.length_mm, run.length_mm, run.under_way"
                    " FROM line CROSS JOIN run ON run.id = line.run ORDER BY line.run, line.ord",
                    "");
        if (rc == 0)
                rc = kw_ask(
                        x->l, &feeds,
                        "SELECT run, line, lot, from_mm, to_mm, inner, v0, seen_mm FROM feed ORDER BY run, line, ord",
                        "");
        if (rc == 0)
                rc = read_lines(x, &lines, &feeds);
        kw_end(&lines);
        kw_end(&feeds);
        return rc;
}

/* The feeds of one lot by place: a spool is used up from its end, so that they come the other way round. */
static void sort_lot(const struct feed_rec *read, uint32_t *order, uint32_t n)
{
        for (uint32_t i = 1; i < n; i++) {
                uint32_t one = order[i], k = i;

                for (; k && read[order[k - 1]].from > read[one].from; k--)
                        order[k] = order[k - 1];
                order[k] = one;
        }
}

static int by_lot(struct building *x)
{
        uint32_t *first = x->b->section[SEC_FIRST], lots = (uint32_t)x->n_lots;
        uint32_t *order = malloc((x->n_read + 1) * sizeof(*order)), *by_run;
        struct feed_rec *feeds = malloc((x->n_read + 1) * sizeof(*feeds));

        x->b->section[SEC_FEEDS] = feeds;
        x->b->section[SEC_BY_RUN] = by_run = malloc((x->n_read + 1) * sizeof(*by_run));
        x->b->head.n[SEC_FEEDS] = x->b->head.n[SEC_BY_RUN] = x->n_read;
        if (!order || !feeds || !by_run || x->n_read >= TOUCHED) {
                free(order);
                return x->n_read >= TOUCHED ? -E2BIG : -ENOMEM;
        }
        for (uint32_t i = 0; i < lots; i++)
                first[i + 1] += first[i];
        for (uint32_t i = 0; i < x->n_read; i++)
                order[first[x->read[i].lot]++] = i;
        memmove(first + 1, first, lots * sizeof(*first));
        first[0] = 0;
        for (uint32_t i = 0; i < lots; i++)
                sort_lot(x->read, order + first[i], first[i + 1] - first[i]);
        for (uint32_t i = 0; i < x->n_read; i++) {
                feeds[i] = x->read[order[i]];
                by_run[order[i]] = i;
        }
        free(order);
        return 0;
}

int kw_base_build(struct base *b, struct kw_ledger *l)
{
        struct building x = {.b = b, .l = l};
        struct kw_error err = {0};
        struct kw_head head;
        int rc = kw_ledger_head(l, &head, &err);

        *b = (struct base){0};
        if (rc)
                return rc < 0 ? rc : -EIO;
        if (head.size > UINT32_MAX)
                return -E2BIG;
        b->head.size = head.size;
        b->head.root = head.root;
        x.facts = kw_facts_new(b, l);
        rc = x.facts ? read_runs(&x) : -ENOMEM;
        if (rc == 0)
                rc = read_lots(&x);
        if (rc == 0)
                rc = read_packs(&x);
        if (rc == 0)
                rc = check_ids(&x);
        if (rc == 0)
                rc = read_feeds(&x);
        if (rc == 0)
                rc = by_lot(&x);
        if (rc == 0)
                rc = kw_facts_done(x.facts);
        kw_facts_free(x.facts);
        free(x.lot_of_seq);
        free(x.ids);
        free(x.read);
        if (rc)
                kw_base_free(b);
        else
                kw_base_name(b);
        return rc;
}

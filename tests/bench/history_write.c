/*
 * A history written down: its entries in order of time, appended through the ledger's one way in.
 */
#include "history.h"

#include "kinwire/buf.h"
#include "kinwire/ledger.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define FIRST_DAY INT64_C(1136073600) /* 2006-01-01 */
#define GROUP     5000                /* entries a transaction */
#define RECEIVED  .005                /* days after its heat that a coil is received */

enum event_kind { EVENT_HEAT, EVENT_RECEIVE, EVENT_RUN };

struct event {
        double when;
        uint32_t what, number;
};

struct writing {
        const struct history *h;
        struct kw_ledger *ledger;
        struct kw_error *err;
        struct history_figures *figures;
        struct kw_buf text;
        uint32_t joints;
        int64_t now;
};

/* --- in order of time ----------------------------------------------------------------------------- */

static int by_time(const void *a, const void *b)
{
        const struct event *x = a, *y = b;

        if (x->when != y->when)
                return x->when < y->when ? -1 : 1;
        if (x->what != y->what)
                return x->what < y->what ? -1 : 1;
        return (x->number > y->number) - (x->number < y->number);
}

static struct event *all_events(const struct history *h, size_t *n)
{
        struct event *events = malloc((h->heats + h->n_lots + h->n_runs) * sizeof(*events));

        *n = 0;
        if (!events)
                return NULL;
        for (uint32_t i = 0; i < h->heats; i++)
                events[(*n)++] = (struct event){i * 365.0 / 250, EVENT_HEAT, i};
        for (uint32_t i = 0; i < h->n_lots; i++) {
                if (h->lots[i].kind == ROD)
                        events[(*n)++] = (struct event){h->lots[i].heat * 365.0 / 250 + RECEIVED, EVENT_RECEIVE, i};
                else if (h->lots[i].kind == FIBRE)
                        events[(*n)++] = (struct event){h->lots[i].there, EVENT_RECEIVE, i};
        }
        for (uint32_t i = 0; i < h->n_runs; i++)
                events[(*n)++] = (struct event){h->runs[i].start, EVENT_RUN, i};
        qsort(events, *n, sizeof(*events), by_time);
        return events;
}

static int64_t seconds_of(double day)
{
        return FIRST_DAY + (int64_t)(day * 86400);
}

/* --- one entry ------------------------------------------------------------------------------------ */

static void begin(struct writing *w, const char *kind, double when)
{
        char stamp[KW_STAMP_LEN + 1];

        w->now = seconds_of(when);
        kw_stamp_write(w->now, stamp);
        kw_buf_clear(&w->text);
        kw_buf_printf(&w->text,
                      "{\"key\":\"%08zx-0000-4000-8000-000000000000\",\"kind\":\"%s\",\"at\":\"%s\",\"body\":{",
                      w->figures->entries + 1, kind, stamp);
}

static int append(struct writing *w)
{
        const struct kw_sender sender = {.by = "history", .terminal = "MILL"};
        struct kw_receipt receipt = {0};
        struct kw_draft draft;
        int rc;

        kw_buf_printf(&w->text, "}}");
        rc = kw_draft_read(kw_buf_text(&w->text), w->text.n, &draft, w->err);
        if (rc)
                return rc;
        rc = kw_ledger_append(w->ledger, &draft, &sender, w->now, &receipt, w->err);
        kw_draft_free(&draft);
        free(receipt.json);
        w->figures->entries++;
        w->figures->bytes += w->text.n;
        return rc;
}

static void put_stamp(struct writing *w, const char *name, double when)
{
        char stamp[KW_STAMP_LEN + 1];

        kw_stamp_write(seconds_of(when), stamp);
        kw_buf_printf(&w->text, ",\"%s\":\"%s\"", name, stamp);
}

static const char *lot_code(struct writing *w, size_t lot)
{
        static char code[16];

        history_lot_code(w->h, lot, code);
        return code;
}

static int write_heat(struct writing *w, const struct event *e)
{
        static const char *const grades[] = {"C72D", "C78D", "C82D", "C86D"};
        char code[16];

        history_heat_code(e->number, code);
        begin(w, "heat", e->when);
        kw_buf_printf(&w->text, "\"heat\":\"%s\",\"supplier\":\"Northmark Steel\",\"grade\":\"%s\"", code,
                      grades[w->h->lots[e->number * 40].type]);
        return append(w);
}

static int write_receive(struct writing *w, const struct event *e)
{
        const struct lot *lot = &w->h->lots[e->number];
        char heat[16];

        history_heat_code(lot->heat, heat);
        begin(w, "receive", e->when);
        kw_buf_printf(&w->text, "\"lot\":\"%s\",\"length_mm\":%" PRId32, lot_code(w, e->number), lot->length_mm);
        if (lot->kind == ROD)
                kw_buf_printf(&w->text, ",\"heat\":\"%s\",\"diameter_um\":%d", heat, lot->diameter_um);
        else
                kw_buf_printf(&w->text, ",\"kind\":\"core\",\"supply\":\"FIBRE\",\"diameter_um\":12000");
        return append(w);
}

static int write_supply(struct writing *w)
{
        begin(w, "supply", 0);
        kw_buf_printf(&w->text, "\"supply\":\"FIBRE\",\"what\":\"fibre core\",\"supplier\":\"Aldersyke Cordage\"");
        return append(w);
}

/* --- runs ----------------------------------------------------------------------------------------- */

static const struct {
        const char *process, *prefix, *line, *kind;
} trade[PROCESSES] = {
        [CLEAN] = {"clean", "CL", "", ""},
        [DRAW_COIL] = {"draw", "DB", "", "coil"},
        [PATENT] = {"patent", "PF", "", "coil"},
        [DRAW_WIRE] = {"draw", "WD", "", "bobbin"},
        [STRANDING] = {"strand", "ST", "wire ", "strand"},
        [CLOSE] = {"close", "CC", "strand ", "rope"},
        [CUT] = {"cut", "CUT", "", "reel"},
        [SEND] = {NULL, "", "", ""},
};

static void put_machine(struct writing *w, const struct run *run)
{
        kw_buf_printf(&w->text, ",\"process\":\"%s\",\"machine\":\"%s-%d\"", trade[run->process].process,
                      trade[run->process].prefix, run->machine + 1);
        put_stamp(w, "started", run->start);
        put_stamp(w, "ended", run->end);
}

static void put_feed(struct writing *w, const struct feed *feed, bool first)
{
        const struct lot *lot = &w->h->lots[feed->lot];

        kw_buf_printf(&w->text, "%s{\"lot\":\"%s\"", first ? "" : ",", lot_code(w, feed->lot));
        if (feed->take_mm < lot->length_mm)
                kw_buf_printf(&w->text, ",\"take_mm\":%" PRId32, feed->take_mm);
        if (!first)
                kw_buf_printf(&w->text, ",\"weld\":\"J%08u\"", ++w->joints);
        if (feed->seen_mm)
                kw_buf_printf(&w->text, ",\"seen_at_mm\":%" PRId32, feed->seen_mm);
        kw_buf_printf(&w->text, "}");
}

static void put_lines(struct writing *w, const struct run *run)
{
        const struct feed *feeds = &w->h->feeds[run->feed];

        kw_buf_printf(&w->text, ",\"lines\":[");
        for (uint32_t i = 0; i < run->feeds; i++) {
                bool first = i == 0 || feeds[i].line != feeds[i - 1].line;

                if (first)
                        kw_buf_printf(&w->text, "%s{\"line\":\"%s%d\",\"feeds\":[", i ? "]}," : "",
                                      trade[run->process].line, feeds[i].line + 1);
                put_feed(w, &feeds[i], first);
        }
        kw_buf_printf(&w->text, "]}]");
}

static void put_packages(struct writing *w, const struct run *run)
{
        kw_buf_printf(&w->text, ",\"packages\":[");
        for (uint32_t i = 0; i < run->lots; i++) {
                const struct lot *lot = &w->h->lots[run->lot + i];

                kw_buf_printf(&w->text, "%s{\"lot\":\"%s\",\"kind\":\"%s\",\"length_mm\":%" PRId32, i ? "," : "",
                              lot_code(w, run->lot + i), trade[run->process].kind, lot->length_mm);
                if (lot->diameter_um)
                        kw_buf_printf(&w->text, ",\"diameter_um\":%d", lot->diameter_um);
                if (lot->kind == REEL)
                        kw_buf_printf(&w->text, ",\"location\":\"YARD %u\"", (run->lot + i) % 12 + 1);
                else
                        put_stamp(w, "doffed", lot->there);
                kw_buf_printf(&w->text, "}");
        }
        kw_buf_printf(&w->text, "]");
}

static void put_lots(struct writing *w, const struct run *run, const char *before, const char *after)
{
        kw_buf_printf(&w->text, ",\"lots\":[");
        for (uint32_t i = 0; i < run->feeds; i++)
                kw_buf_printf(&w->text, "%s%s\"%s\"%s", i ? "," : "", before,
                              lot_code(w, w->h->feeds[run->feed + i].lot), after);
        kw_buf_printf(&w->text, "]");
}

static int write_batch(struct writing *w, const struct event *e, const struct run *run)
{
        begin(w, "batch", e->when);
        kw_buf_printf(&w->text, "\"batch\":\"%s%u\"", trade[run->process].prefix, e->number + 1);
        put_machine(w, run);
        if (run->process == CLEAN)
                put_lots(w, run, "{\"lot\":", "}");
        return append(w);
}

static int write_consignment(struct writing *w, const struct event *e, const struct run *run)
{
        begin(w, "dispatch", e->when);
        kw_buf_printf(&w->text, "\"consignment\":\"DN%u\",\"consignee\":\"Customer %d\"", e->number + 1,
                      run->machine + 1);
        put_lots(w, run, "", "");
        return append(w);
}

static int write_run(struct writing *w, const struct event *e)
{
        const struct run *run = &w->h->runs[e->number];
        int rc = 0;

        if (run->process == SEND)
                return run->feeds ? write_consignment(w, e, run) : 0;
        if (run->process == CLEAN || run->process == PATENT)
                rc = write_batch(w, e, run);
        if (rc || run->process == CLEAN)
                return rc;
        begin(w, "run", e->when);
        kw_buf_printf(&w->text, "\"run\":\"%s%u\"", trade[run->process].prefix, e->number + 1);
        put_machine(w, run);
        if (run->process == PATENT)
                kw_buf_printf(&w->text, ",\"batch\":\"%s%u\"", trade[run->process].prefix, e->number + 1);
        put_lines(w, run);
        put_packages(w, run);
        return append(w);
}

/* --- the whole ------------------------------------------------------------------------------------ */

static int write_event(struct writing *w, const struct event *e)
{
        switch (e->what) {
        case EVENT_HEAT:
                return write_heat(w, e);
        case EVENT_RECEIVE:
                return write_receive(w, e);
        default:
                return write_run(w, e);
        }
}

static void show(size_t done, size_t of)
{
        if (isatty(STDERR_FILENO))
                fprintf(stderr, "\r%zu of %zu entries", done, of);
        if (isatty(STDERR_FILENO) && done == of)
                fputc('\n', stderr);
}

static int write_events(struct writing *w, const struct event *events, size_t n)
{
        int rc = kw_ledger_begin(w->ledger, w->err);

        if (rc == 0)
                rc = write_supply(w);
        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = write_event(w, &events[i]);
                if (rc == 0 && i % GROUP == GROUP - 1) {
                        rc = kw_ledger_commit(w->ledger, w->err);
                        if (rc == 0)
                                rc = kw_ledger_begin(w->ledger, w->err);
                        show(i + 1, n);
                }
        }
        show(n, n);
        return rc ? rc : kw_ledger_commit(w->ledger, w->err);
}

int history_write(const struct history *h, const char *path, struct history_figures *out, struct kw_error *err)
{
        struct writing w = {.h = h, .err = err, .figures = out};
        struct timespec start, end;
        struct event *events;
        size_t n;
        int rc;

        *out = (struct history_figures){0};
        if (access(path, F_OK) == 0)
                return -EEXIST;
        events = all_events(h, &n);
        if (!events)
                return -ENOMEM;
        clock_gettime(CLOCK_MONOTONIC, &start);
        rc = kw_ledger_open(path, KW_OPEN_WRITE, &w.ledger, err);
        if (rc == 0) {
                rc = write_events(&w, events, n);
                kw_ledger_close(w.ledger);
        }
        clock_gettime(CLOCK_MONOTONIC, &end);
        out->seconds = (double)(end.tv_sec - start.tv_sec) + (double)(end.tv_nsec - start.tv_nsec) / 1e9;
        kw_buf_free(&w.text);
        free(events);
        return rc;
}

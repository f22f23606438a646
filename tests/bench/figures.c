/*
 * kinwire-figures: entries acknowledged per second beside bare SQLite, in one run on one disk, and the time of a recall
 * in the engine on a ledger that is loaded for it.
 *
 * usage: kinwire-figures DIR [ENTRIES.ndjson ORIGIN]
 */
#include "bench.h"

#include "kinwire/answer.h"

#include <stdlib.h>
#include <string.h>

#define RECALLS 21

static void load(struct kw_ledger *l, const char *path)
{
        struct kw_error err = {0};
        struct kw_sender sender = {.by = "bench", .terminal = "BENCH", .may_override = true};
        FILE *f = fopen(path, "r");
        char *line = NULL;
        size_t cap = 0;
        ssize_t n;
        double start = bench_now();
        int count = 0;

        if (!f || kw_ledger_begin(l, &err))
                bench_fail(path, err.text);
        for (; (n = getline(&line, &cap, f)) > 0; count++) {
                struct kw_draft draft;
                struct kw_receipt receipt;

                if (kw_draft_read(line, (size_t)n, &draft, &err) ||
                    kw_ledger_append(l, &draft, &sender, 0, &receipt, &err))
                        bench_fail(path, err.text);
                free(receipt.json);
                kw_draft_free(&draft);
        }
        if (kw_ledger_commit(l, &err))
                bench_fail(path, err.text);
        start = bench_now() - start;
        bench_figure("entries loaded in one transaction", "a second", count / start * 1e3, NO_TARGET, 0);
        free(line);
        fclose(f);
}

static void recall(const char *dir, const char *demo, const char *origin)
{
        struct kw_trace_answer *answer = NULL;
        struct kw_error err = {0};
        struct kw_question question;
        struct kw_ledger *l;
        char path[512];
        char name[160];
        double took[RECALLS];
        size_t lots = 0;

        snprintf(path, sizeof(path), "%s/figures-demo.kw", dir);
        if (kw_ledger_open(path, KW_OPEN_WRITE, &l, &err))
                bench_fail(path, err.text);
        load(l, demo);
        if (kw_question_read(origin, "forward", &question, &err))
                bench_fail(origin, err.text);
        for (int i = 0; i < RECALLS; i++) {
                took[i] = bench_now();
                if (kw_ledger_look(l, &err) || kw_trace_ask(l, &question, &answer, &err))
                        bench_fail(origin, err.text);
                lots = kw_trace_count(answer);
                kw_trace_answer_free(answer);
                kw_ledger_done(l);
                took[i] = bench_now() - took[i];
        }
        snprintf(name, sizeof(name), "recall of %s, %zu lots, with all that is said of each", origin, lots);
        bench_figure(name, "ms", bench_median(took, RECALLS), NO_TARGET, 0);
        kw_ledger_close(l);
}

int main(int argc, char **argv)
{
        if (argc != 2 && argc != 4) {
                fprintf(stderr, "usage: kinwire-figures DIR [ENTRIES.ndjson ORIGIN]\n");
                return 2;
        }
        ingest_rows(argv[1], NULL);
        if (argc == 4)
                recall(argv[1], argv[2], argv[3]);
        return 0;
}

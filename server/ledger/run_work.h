#ifndef KW_LEDGER_RUN_WORK_H
#define KW_LEDGER_RUN_WORK_H
/* A run on its way into the ledger: read and planned in kind_run.c, written down in run_rows.c, judged in
 * run_findings.c. */
#include "work.h"

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

#define JOINS_MAX 2000 /* of a run: their ids share the entry's room with the lots' */

/* A lot that the run takes from: its row, what is left of it, what this run took. */
struct source {
        int64_t id;
        struct kw_lot_here lot;
        struct kw_stock stock;
        struct kw_spans taken;
        char pointer[KW_ITEM_POINTER + 8]; /* of its first feed */
        char construction[201], grade[201];
        int64_t tensile_kpa; /* 0: not known */
        bool released;       /* it was on hold once: some of it may be of another grade now */
        UT_hash_handle hh;
};

struct run_work {
        struct kw_work *w;
        int64_t id;
        const char *code;
        char name[KW_CLAIM_NAME];
        struct source *sources;
        struct kw_run_draft draft;
        struct kw_package_draft *packages;
        struct kw_plan plan;
        uint32_t depth;
        const char *construction; /* the one construction of every feed, or NULL */
        const char *grade;        /* likewise */
        int64_t tensile_kpa;      /* of a package that states none: the order's, else that of what went in; 0: none */
        bool under_way;           /* opened and not closed: lines may be empty, and the figures are not complete */
        int64_t next_weld;
};

/** kw_run_write - the rows of the planned run: run, lines, feeds, welds, packages, lots, holds taken over. */
int kw_run_write(struct run_work *r);
/** kw_run_findings - what is odd about it: lengths, masses, and what its order asks for otherwise. */
int kw_run_findings(struct run_work *r);

#endif

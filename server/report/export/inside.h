#ifndef KW_EXPORT_INSIDE_H
#define KW_EXPORT_INSIDE_H
/*
 * An export from inside: what it holds, and the writers of its forms.
 *
 *      scope.c    what is asked for                     start.c   which entries that is; the table of forms
 *      entries.c  the entries                           csv.c     the lots
 *      epcis.c    EPCIS documents                       events.c  one event of them, with event_*.c
 *      prov.c     PROV documents                        pack.c    the zip, with pack_*.c; pack_check.c checks it
 *      report.c   what a report says, with report_*.c   paper.c   pages and tables of a PDF, with paper_*.c
 *      genealogy.c  what a report says, as JSON
 *      witness.c  notes of the ledger's head            zip.c     a zip that is the same each time
 */
#include "kinwire/export.h"
#include "ledger/read/read.h"
#include "ledger/read/select.h"
#include "report/put.h"
#include "report/trace.h"

#define KW_PIECE ((size_t)64 * 1024)

/* The members of ours that other formats are extended by. What the mill's things are named by is the scope's. */
#define KW_NS_URL "https://kinwire.example/ns#"

struct kw_export {
        struct kw_ledger *ledger;
        struct kw_scope scope;
        const struct kw_form_row *form;
        struct kw_head head;
        char created[KW_STAMP_LEN + 1]; /* when the last entry was logged: the same ledger gives the same bytes */
        struct kw_trace_answer *answer; /* of an origin, else NULL */
        struct kw_selection about;      /* of an origin: what concerns it */
        struct kw_selection entries;    /* and what stands behind that */
        struct kw_closing *closing;     /* NULL: that is all gathered */
        struct kw_reader *reader;       /* of the piece under way */
        int64_t at;                     /* the last entry that was given */
        int stage;
        bool comma;
        void *own; /* the form's, freed by its end() */
};

/** A form with its writer. */
struct kw_form_row {
        struct kw_export_form form;
        bool of_origin;       /* of an origin only */
        bool loads;           /* its entries are to be read into an empty ledger */
        bool back_by_default; /* of a finished lot or its papers, back unless told */
        int (*select)(struct kw_export *x, struct kw_error *err); /* more than concerns what is asked for */
        int (*next)(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
        void (*end)(struct kw_export *x);
};

int kw_entries_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
int kw_csv_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
int kw_epcis_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
int kw_prov_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
void kw_prov_end(struct kw_export *x);
int kw_report_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
int kw_genealogy_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
void kw_genealogy_end(struct kw_export *x);
int kw_pack_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
void kw_pack_end(struct kw_export *x);
int kw_pack_select(struct kw_export *x, struct kw_error *err);

/** kw_report_write - the whole report of the export's trace. */
int kw_report_write(struct kw_export *x, struct kw_buf *out, struct kw_error *err);
/** kw_put_event - the EPCIS event of an entry, nothing when it has none. @comma: one goes before it. */
int kw_put_event(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out);

#endif

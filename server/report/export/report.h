#ifndef KW_EXPORT_REPORT_H
#define KW_EXPORT_REPORT_H
/*
 * A report from inside: what its sections share.
 */
#include "inside.h"
#include "paper.h"

struct kw_report {
        struct kw_export *x;
        struct kw_reader *r;
        const struct kw_trace_answer *a;
        struct kw_paper *p;
        bool failed; /* no memory for a text */
};

/** kw_words - a text that lives as long as the report. Return: "" when there is no memory. */
const char *kw_words(struct kw_report *w, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
/** kw_metres - "1234.567"; "" for KW_NONE */
const char *kw_metres(struct kw_report *w, int64_t mm);
/** kw_span_text - "0-1200 m, 1500-1800.25 m" */
const char *kw_span_text(struct kw_report *w, const struct kw_spans *spans);
/** kw_time_text - "2026-09-01 08:30", UTC; "" for KW_NONE */
const char *kw_time_text(struct kw_report *w, int64_t seconds);
/** kw_body_of - what stands of an entry, for the caller to cJSON_Delete(); NULL when it is void. */
int kw_body_of(struct kw_report *w, const struct kw_entry_row *entry, cJSON **out);

/* The sections: each is written below its heading. Return: 0; a negative errno; a refusal. */
int kw_section_ribbon(struct kw_report *w);
int kw_section_material(struct kw_report *w);
int kw_section_stages(struct kw_report *w);
int kw_section_runs(struct kw_report *w);
int kw_section_batches(struct kw_report *w);
int kw_section_joints(struct kw_report *w);
int kw_section_tests(struct kw_report *w);
int kw_section_holds(struct kw_report *w);
int kw_section_papers(struct kw_report *w);
int kw_section_corrections(struct kw_report *w);
int kw_section_findings(struct kw_report *w);
int kw_section_notes(struct kw_report *w);

#endif

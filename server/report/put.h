#ifndef KW_REPORT_PUT_H
#define KW_REPORT_PUT_H
/*
 * What answers write over and over: a number that may be unknown, a time, spans, a list of codes, the ledger's head.
 */
#include "kinwire/answer.h"
#include "ledger/read/read.h"

/** KW_NONE gives null. */
void kw_put_number(struct kw_buf *b, const char *name, int64_t value);
/** Seconds since 1970 as RFC 3339; KW_NONE gives null. */
void kw_put_time(struct kw_buf *b, const char *name, int64_t seconds);
/** [[from,to],...] */
void kw_put_spans(struct kw_buf *b, const char *name, const struct kw_spans *spans);
/** "text", and what a page says the same by: "kind" and "length_mm" of a lot, "process" and "machine" of a run or a
 * batch. */
void kw_put_few(struct kw_buf *b, const struct kw_few_words *few);
void kw_put_texts(struct kw_buf *b, const char *name, const char *const *texts, size_t n);
/** The share of a mass that a part of a length has; KW_NONE when the mass is not known. */
int64_t kw_part_mass(const struct kw_lot_row *lot, int64_t part_mm);
/** {"size","root"} */
void kw_put_head(struct kw_buf *b, const char *name, const struct kw_head *head);
void kw_put_notes(struct kw_buf *b, const struct kw_note_row *notes, size_t n);
/** @whole: with the time and what the finding is about. */
void kw_put_findings(struct kw_buf *b, const struct kw_finding_row *findings, size_t n, bool whole);

/** The results of a test beside the limits that they are judged by. */
struct kw_margin_row;
void kw_put_margins(struct kw_buf *b, const struct kw_margin_row *rows, size_t n);

/** Processes with commas between them as a list; NULL gives null. */
void kw_put_works(struct kw_buf *b, const char *name, const char *works);

/** The envelope of an entry: seq, key, kind, times, who and where. */
void kw_put_entry_head(struct kw_buf *b, const struct kw_entry_row *entry);
void kw_put_corrections(struct kw_buf *b, const struct kw_entry_row *entry);

struct kw_certificate_whole_row;
/** What came after a certificate and speaks against it. */
void kw_put_marks(struct kw_buf *b, const struct kw_certificate_whole_row *certificate);
/** What a certificate is of, how it stands and what became of it; all but its document. */
void kw_put_certificate(struct kw_buf *b, const struct kw_certificate_whole_row *certificate);

/** What was typed or scanned, as a code: without the blanks around it, in upper case, cut to fit. */
void kw_as_code(const char *text, char *code, size_t size);
/**
 * kw_each_code - @fn for each of @codes, which have commas between them, as kw_as_code() makes it
 * Return: 0; KW_BAD_REQUEST when one is too long or there are more than @most; what @fn returned.
 */
int kw_each_code(const char *codes, size_t most, int (*fn)(void *ctx, const char *code), void *ctx,
                 struct kw_error *err);

/** kw_finish - what an answer returns: @rc, a negative errno told as a refusal, or -ENOMEM when @out ran out of memory.
 */
int kw_finish(struct kw_reader *r, struct kw_buf *out, int rc, struct kw_error *err);
/** Writes the answer about the thing called @code. Return: 0; a refusal; a negative errno. */
typedef int kw_answer_fn(struct kw_reader *r, const char *code, struct kw_buf *out, struct kw_error *err);
/** kw_answer_of - the answer about one thing, by a reader of its own. Return: as kw_finish(). */
int kw_answer_of(struct kw_ledger *ledger, const char *code, kw_answer_fn *answer, struct kw_buf *out,
                 struct kw_error *err);

#endif

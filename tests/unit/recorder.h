#ifndef KW_TESTS_RECORDER_H
#define KW_TESTS_RECORDER_H
/*
 * A ledger for a test: entries recorded one by one, answers taken as text or as JSON. Anything that goes wrong fails
 * the test with what was sent and what was said.
 */
#include "kinwire/answer.h"

/** recorder_new - an empty ledger in memory; kw_ledger_close() ends it. */
struct kw_ledger *recorder_new(void);
/** record_line - one entry as it is sent. */
void record_line(struct kw_ledger *ledger, const char *line, size_t n);
/** record - one entry of @kind that happened at @at (RFC 3339), with the key of its number in the test. */
void record(struct kw_ledger *ledger, const char *kind, const char *at, const char *body);
/** record_refused - that an entry is refused. Return: the refusal. */
int record_refused(struct kw_ledger *ledger, const char *kind, const char *at, const char *body);
/** recorder_key - the key of the last entry recorded by record(). */
const char *recorder_key(void);
/** recorder_file - a file's text, for the caller to free(). */
char *recorder_file(const char *path, size_t *n);

/** ask_trace - the whole of a trace's answer; free with kw_buf_free(). */
void ask_trace(struct kw_ledger *ledger, const struct kw_question *q, enum kw_trace_as as, struct kw_buf *out);
/** ask_json - parse what an answer wrote, and empty it; cJSON_Delete() what is given. */
cJSON *ask_json(struct kw_buf *out);

#endif

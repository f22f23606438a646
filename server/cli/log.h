#ifndef KW_CLI_LOG_H
#define KW_CLI_LOG_H
/*
 * The daemon's log, on standard error: the journal's under systemd.
 */
#include "kinwire/http.h"

struct kw_command;

struct kw_log {
        const struct kw_command *command;
        enum kw_level least;
        bool journal;
};

/** kw_log_level - "error", "warning", "notice", "info" or "request". Return: whether @name is one. */
bool kw_log_level(const char *name, enum kw_level *out);
void kw_log_open(struct kw_log *log, const struct kw_command *command, enum kw_level least);
/** kw_log_say - one line; fits struct kw_http_options. */
void kw_log_say(void *log, enum kw_level level, const char *sentence);

#endif

/*
 * The daemon's log: one event, one line, in one piece, to standard error.
 *
 * Under systemd that is the journal, which takes a line's level from "<4>" before it; elsewhere the line says which
 * command speaks, and how much it matters when it does.
 */
#include "log.h"

#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const struct {
        const char *name, *word;
        int priority; /* as in syslog */
} levels[] = {
        [KW_LOG_ERROR] = {"error", "", 3},     [KW_LOG_WARNING] = {"warning", "warning: ", 4},
        [KW_LOG_NOTICE] = {"notice", "", 5},   [KW_LOG_INFO] = {"info", "", 6},
        [KW_LOG_REQUEST] = {"request", "", 7},
};

#define LEVELS (sizeof levels / sizeof levels[0])

bool kw_log_level(const char *name, enum kw_level *out)
{
        for (size_t i = 0; i < LEVELS; i++) {
                if (strcmp(levels[i].name, name) == 0) {
                        *out = (enum kw_level)i;
                        return true;
                }
        }
        return false;
}

/* systemd says which device and inode the journal's socket has, so that a redirected standard error isn't taken for it.
 */
static bool is_journal(void)
{
        const char *stream = getenv("JOURNAL_STREAM");
        char own[64];
        struct stat st;

        if (!stream || fstat(STDERR_FILENO, &st) < 0)
                return false;
        snprintf(own, sizeof own, "%llu:%llu", (unsigned long long)st.st_dev, (unsigned long long)st.st_ino);
        return strcmp(stream, own) == 0;
}

void kw_log_open(struct kw_log *log, const struct kw_command *command, enum kw_level least)
{
        *log = (struct kw_log){.command = command, .least = least, .journal = is_journal()};
}

void kw_log_say(void *ctx, enum kw_level level, const char *sentence)
{
        const struct kw_log *log = ctx;
        char line[1600];
        int n;

        if (level > log->least)
                return;
        if (log->journal)
                n = snprintf(line, sizeof line, "<%d>%s\n", levels[level].priority, sentence);
        else
                n = snprintf(line, sizeof line, "kinwire %s: %s%s\n", log->command->name, levels[level].word, sentence);
        if (n >= (int)sizeof line)
                n = (int)sizeof line - 1;
        if (write(STDERR_FILENO, line, (size_t)n) < 0)
                return; /* there is nowhere to say so */
}

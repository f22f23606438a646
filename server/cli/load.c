/*
 * kinwire load: append the entries of a file, one a line, all or nothing.
 *
 * The file is read line by line inside one transaction, so that it may be larger than memory.
 */
#include "cli.h"

#include "kinwire/ledger.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#define LINE_MAX_BYTES ((size_t)1 << 21)

struct load {
        const struct kw_command *self;
        const char *ledger_name, *file_name;
        struct kw_sender sender;
        struct kw_ledger *ledger;
        FILE *file;
        int64_t size; /* of the file, bytes; 0: it isn't known */
        int64_t read; /* bytes */
        size_t line;
        int64_t added, repeated;
        struct kw_buf text;
        struct kw_meter meter;
};

/* The next line into in->text. Return: 1; 0 at the end; KW_TOO_LARGE; -errno. */
static int next_line(struct load *in, struct kw_error *err)
{
        int c = EOF;

        kw_buf_clear(&in->text);
        while ((c = getc_unlocked(in->file)) != EOF) {
                char byte = (char)c;
                in->read++;
                if (byte == '\n')
                        break;
                if (in->text.n == LINE_MAX_BYTES)
                        return kw_refuse(err, KW_TOO_LARGE, NULL, "the line is longer than %zu bytes", LINE_MAX_BYTES);
                kw_buf_add(&in->text, &byte, 1);
        }
        if (ferror(in->file))
                return -errno;
        return in->text.failed ? -ENOMEM : c != EOF || in->text.n > 0;
}

static bool is_blank(const char *text)
{
        return text[strspn(text, " \t\r")] == '\0';
}

/*
 * An entry as another ledger stored it says its number there, and when and by whom it was logged. Here it gets its own,
 * so those four are taken off. Whatever else is odd about the line is for kw_draft_read() to say.
 */
static int take_off_stored(struct load *in)
{
        static const char *const stored[] = {"seq", "logged", "by", "terminal"};
        cJSON *json;
        int rc = kw_json_read(kw_buf_text(&in->text), in->text.n, &kw_json_entry_limits, &json, NULL);

        if (rc)
                return rc < 0 ? rc : 0;
        if (cJSON_IsObject(json) && kw_json_get(json, "seq")) {
                for (size_t i = 0; i < sizeof stored / sizeof stored[0]; i++)
                        cJSON_DeleteItemFromObjectCaseSensitive(json, stored[i]);
                kw_buf_clear(&in->text);
                kw_json_canonical(json, &in->text);
        }
        cJSON_Delete(json);
        return in->text.failed ? -ENOMEM : 0;
}

static int take_line(struct load *in, struct kw_error *err)
{
        struct kw_receipt receipt = {0};
        struct kw_draft draft;
        int rc = strstr(kw_buf_text(&in->text), "\"seq\"") ? take_off_stored(in) : 0;

        if (!rc)
                rc = kw_draft_read(kw_buf_text(&in->text), in->text.n, &draft, err);
        if (rc)
                return rc;
        rc = kw_ledger_append(in->ledger, &draft, &in->sender, (int64_t)time(NULL), &receipt, err);
        if (!rc && receipt.repeated)
                in->repeated++;
        else if (!rc)
                in->added++;
        free(receipt.json);
        kw_draft_free(&draft);
        return rc;
}

static bool is_the_ledgers(int rc)
{
        return rc == KW_BUSY || rc == KW_DISK_FULL || rc == KW_INTERNAL || rc < 0;
}

/* "mill.ndjson:12: /body/lines/0/feeds/1/lot: there is no such lot" */
static int refuse_line(const struct load *in, int rc, const struct kw_error *err)
{
        if (is_the_ledgers(rc))
                return kw_failed(in->self, in->ledger_name, rc, err);
        kw_complain(in->self, "%s:%zu: %s%s%s", in->file_name, in->line, err->pointer, err->pointer[0] ? ": " : "",
                    err->text);
        return KW_EXIT_INPUT;
}

static int take_lines(struct load *in)
{
        struct kw_error err = {0};
        int rc;

        for (;;) {
                in->line++;
                rc = next_line(in, &err);
                if (rc < 0) {
                        kw_complain(in->self, "%s: %s", in->file_name, strerror(-rc));
                        return KW_EXIT_INPUT;
                }
                if (rc == 0)
                        break;
                /* next_line's 1 is "a line"; its only refusal is greater */
                if (rc == 1)
                        rc = is_blank(kw_buf_text(&in->text)) ? 0 : take_line(in, &err);
                if (rc) {
                        kw_meter_end(&in->meter);
                        return refuse_line(in, rc, &err);
                }
                kw_meter_show(&in->meter, in->size ? "bytes" : "lines", in->size ? in->read : (int64_t)in->line,
                              in->size);
        }
        if (in->added + in->repeated)
                return KW_EXIT_DONE;
        kw_complain(in->self, "%s: there is no entry in it", in->file_name);
        return KW_EXIT_INPUT;
}

static int report(struct load *in)
{
        struct kw_error err = {0};
        char root[KW_HASH_HEX];
        struct kw_head head;
        int rc = kw_ledger_head(in->ledger, &head, &err);

        if (rc)
                return kw_failed(in->self, in->ledger_name, rc, &err);
        kw_hash_hex(&head.root, root);
        printf("%" PRId64 " entries added, %" PRId64 " already there; head %" PRId64 " %s\n", in->added, in->repeated,
               head.size, root);
        return kw_flush(in->self);
}

/* All lines in one transaction. */
static int load_all(struct load *in)
{
        struct kw_error err = {0};
        int rc = kw_ledger_begin(in->ledger, &err);

        if (rc)
                return kw_failed(in->self, in->ledger_name, rc, &err);
        kw_meter_start(&in->meter, in->self);
        rc = take_lines(in);
        kw_meter_end(&in->meter);
        if (rc) {
                kw_ledger_rollback(in->ledger);
                return rc;
        }
        rc = kw_ledger_commit(in->ledger, &err);
        return rc ? kw_failed(in->self, in->ledger_name, rc, &err) : report(in);
}

static int open_file(struct load *in)
{
        struct stat st;

        if (strcmp(in->file_name, "-") == 0) {
                in->file_name = "standard input";
                in->file = stdin;
        } else {
                in->file = fopen(in->file_name, "re");
        }
        if (!in->file || fstat(fileno(in->file), &st) < 0) {
                kw_complain(in->self, "%s: %s", in->file_name, strerror(errno));
                return KW_EXIT_INPUT;
        }
        in->size = S_ISREG(st.st_mode) ? st.st_size : 0;
        return KW_EXIT_DONE;
}

static int load(struct load *in)
{
        struct kw_error err = {0};
        int rc = open_file(in);

        if (rc)
                return rc;
        rc = kw_ledger_open(in->ledger_name, KW_OPEN_WRITE, &in->ledger, &err);
        if (rc) {
                rc = kw_failed(in->self, in->ledger_name, rc, &err);
        } else {
                rc = load_all(in);
                kw_ledger_close(in->ledger);
        }
        kw_buf_free(&in->text);
        if (in->file != stdin)
                fclose(in->file);
        return rc;
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct load in = {.self = self, .sender = {.by = "load", .terminal = "LOAD", .may_override = true}};
        const struct kw_option options[] = {{"ledger", &in.ledger_name, NULL}, {"as", &in.sender.by, NULL}, {0}};
        int rc = kw_options(self, argc, argv, options, "the file of entries (\"-\": standard input)", &in.file_name);

        if (rc != KW_GO_ON)
                return rc;
        if (!in.sender.by[0] || strlen(in.sender.by) > KW_CODE_MAX)
                return kw_misused(self, "--as NAME has 1 to %d bytes", KW_CODE_MAX);
        return load(&in);
}

const struct kw_command kw_load = {
        .name = "load",
        .does = "append the entries of a file, all or nothing",
        .usage = "--ledger FILE [--as NAME] ENTRIES.ndjson",
        .help = "  --ledger FILE    the ledger; made when it isn't there\n"
                "  --as NAME        who is said to have recorded them (default: load)\n"
                "  ENTRIES.ndjson   one entry a line, as sent or as kinwire export gives it; \"-\" reads standard\n"
                "                   input; blank lines don't count\n"
                "\n"
                "Entries that are there already, with the same key and content, are passed over. A daemon on\n"
                "the same ledger waits while a file is being loaded.\n"
                "\n"
                "Exit status: 0 done, 2 wrong usage, 3 an entry can't be taken (said with file, line and\n"
                "field; nothing was added), 4 the ledger can't be used.\n",
        .run = run,
};

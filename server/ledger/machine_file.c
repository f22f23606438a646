/*
 * A row of a test machine's file to the entry of a test, by the mapping of its columns.
 *
 * A mapping is kept as a note about the instrument: KW_MAPPING and then JSON {"heads": [...], "columns": {head: {"is":
 * target, "unit": text or null}}, "decimal": "." or ","}. It holds for files with exactly these heads.
 */
#include "kinwire/machine_file.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const struct kw_json_limits mapping_limits = {.bytes = 16384, .nodes = 1024};

static bool same_heads(const cJSON *heads, const struct kw_csv *csv)
{
        const char *const *cells = kw_csv_row(csv, 0);
        const cJSON *head;
        size_t i = 0;

        cJSON_ArrayForEach(head, heads)
        {
                if (i == csv->n_columns || !cJSON_IsString(head) || strcmp(head->valuestring, cells[i++]) != 0)
                        return false;
        }
        return i == csv->n_columns;
}

bool kw_mapping_fits(const char *note, const struct kw_csv *csv, cJSON **out)
{
        cJSON *mapping = NULL;

        if (strncmp(note, KW_MAPPING, strlen(KW_MAPPING)) != 0)
                return false;
        note += strlen(KW_MAPPING);
        if (kw_json_read(note, strlen(note), &mapping_limits, &mapping, NULL))
                return false;
        if (cJSON_IsObject(mapping) && cJSON_IsObject(kw_json_get(mapping, "columns")) &&
            cJSON_IsArray(kw_json_get(mapping, "heads")) && same_heads(kw_json_get(mapping, "heads"), csv)) {
                *out = mapping;
                return true;
        }
        cJSON_Delete(mapping);
        return false;
}

/* --- cells ------------------------------------------------------------------------------------------------ */

static bool begins(const char *text, const char *const *words)
{
        for (; *words; words++)
                if (strncasecmp(text, *words, strlen(*words)) == 0)
                        return true;
        return false;
}

/* NULL: neither, and nobody should guess. */
static const char *verdict(const char *text)
{
        static const char *const bad[] = {"fail", "nok", "ng", "no", "bad", "rechaz", "falla", "0", "false", NULL};
        static const char *const good[] = {"pass", "ok", "good", "yes", "true", "1", "conforme", "apto", "aprob", NULL};

        return begins(text, bad) ? "fail" : begins(text, good) ? "pass" : NULL;
}

/* "2026-03-04 09:12[:33[.5]][Z|+01:00]"; without an offset it is UTC. */
static bool when(const char *text, char out[KW_STAMP_LEN + 1])
{
        static const char form[] = "dddd-dd-ddTdd:dd";
        char full[48];
        size_t n = strlen(text), at = strlen(form);
        int64_t seconds;

        if (n > 40 || n < at)
                return false;
        for (size_t i = 0; i < at; i++)
                if (form[i] == 'd' ? !isdigit((unsigned char)text[i])
                                   : text[i] != form[i] && !(form[i] == 'T' && text[i] == ' '))
                        return false;
        snprintf(full, sizeof(full), "%.10sT%.5s%s%s%s", text, text + 11, text[at] == ':' ? "" : ":00", text + at,
                 strpbrk(text + at, "zZ+-") ? "" : "Z");
        if (strncmp(full + 17, "60", 2) == 0 || kw_stamp_read(full, &seconds))
                return false;
        kw_stamp_write(seconds, out);
        return true;
}

static bool count(const char *text, int64_t *out)
{
        size_t n = strlen(text);

        *out = 0;
        if (n == 0 || n > 9 || strspn(text, "0123456789") != n)
                return false;
        for (; *text; text++)
                *out = *out * 10 + (*text - '0');
        return true;
}

/* --- the row ---------------------------------------------------------------------------------------------- */

struct making {
        const struct kw_csv *csv;
        const cJSON *mapping;
        char decimal;
        bool named; /* has a test number */
        char at[KW_STAMP_LEN + 1];
        struct kw_buf body, results;
};

static void put_code(struct kw_buf *b, const char *name, const char *text)
{
        char code[256];
        size_t n = 0;

        for (; *text && n + 1 < sizeof(code); text++)
                code[n++] = (char)(*text >= 'a' && *text <= 'z' ? *text - 'a' + 'A' : *text);
        code[n] = '\0';
        kw_put_string(b, name, code);
}

static bool is_result(const char *is)
{
        static const char *const names[] = {"diameter_um", "tensile_kpa", "breaking_n", "torsions",
                                            "bends",       "zinc_mg_m2",  "lay_um",     "reduction_ppm"};

        for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
                if (strcmp(names[i], is) == 0)
                        return true;
        return false;
}

static bool put_figure(struct making *m, const char *is, const cJSON *to, const char *text)
{
        const cJSON *unit = kw_json_get(to, "unit");
        int64_t value;
        bool plain = strcmp(is, "torsions") == 0 || strcmp(is, "bends") == 0 || strcmp(is, "reduction_ppm") == 0;

        if (!is_result(is) && strcmp(is, "at_mm") != 0 && strcmp(is, "sample_mm") != 0)
                return true; /* a target that this kinwire doesn't know: the column isn't used */
        if (plain ? !count(text, &value)
                  : !kw_machine_figure(text, is, cJSON_IsString(unit) ? unit->valuestring : NULL, m->decimal, &value))
                return false;
        kw_put_int(is_result(is) ? &m->results : &m->body, is, value);
        return true;
}

static bool put_cell(struct making *m, const cJSON *to, const char *text)
{
        const cJSON *member = kw_json_get(to, "is");
        const char *is = cJSON_IsString(member) ? member->valuestring : "";

        if (strcmp(is, "lot") == 0 || strcmp(is, "test") == 0) {
                m->named |= strcmp(is, "test") == 0;
                put_code(&m->body, is, text);
                return true;
        }
        if (strcmp(is, "verdict") == 0) {
                const char *said = verdict(text);

                if (said)
                        kw_put_string(&m->body, "verdict", said);
                return said != NULL;
        }
        if (strcmp(is, "at") == 0)
                return when(text, m->at);
        return put_figure(m, is, to, text);
}

static int put_row(struct making *m, size_t i, struct kw_error *err)
{
        const char *const *heads = kw_csv_row(m->csv, 0), *const *cells = kw_csv_row(m->csv, i);

        for (size_t c = 0; c < m->csv->n_columns; c++) {
                const cJSON *to = kw_json_get(kw_json_get(m->mapping, "columns"), heads[c]);

                if (!cells[c][0] || !cJSON_IsObject(to) || put_cell(m, to, cells[c]))
                        continue;
                kw_refuse_with(err, KW_BAD_VALUE, NULL, "cell",
                               KW_VALUES(KW_FIGURE("column", (int64_t)c + 1), KW_WORD("head", heads[c]),
                                         KW_WORD("text", cells[c])),
                               "line %zu, column %zu (%.60s): \"%.60s\" can't be read", m->csv->lines[i], c + 1,
                               heads[c], cells[c]);
                if (err)
                        err->line = m->csv->lines[i];
                return KW_BAD_VALUE;
        }
        return 0;
}

/* A test without a number of its own is named after its instrument and its row. */
static void put_name(struct making *m, const char *instrument, const char *key)
{
        char name[KW_CODE_MAX + 1];
        size_t n = (size_t)snprintf(name, sizeof(name), "%.27s-", instrument);

        for (size_t used = 0; used < 12; key++) {
                if (*key == '-')
                        continue;
                name[n++] = (char)toupper((unsigned char)*key);
                used++;
        }
        name[n] = '\0';
        kw_put_string(&m->body, "test", name);
}

int kw_machine_row(const struct kw_csv *csv, size_t i, const cJSON *mapping, const char *instrument,
                   struct kw_buf *entry, struct kw_error *err)
{
        const cJSON *decimal = kw_json_get(mapping, "decimal");
        struct making m = {.csv = csv, .mapping = mapping, .decimal = '.'};
        char key[KW_KEY_LEN + 1];
        int rc = kw_row_key(instrument, kw_csv_row(csv, i), csv->n_columns, key);

        if (cJSON_IsString(decimal) && strcmp(decimal->valuestring, ",") == 0)
                m.decimal = ',';
        kw_put_object(&m.body, NULL);
        kw_put_object(&m.results, NULL);
        if (rc == 0)
                rc = put_row(&m, i, err);
        if (rc == 0) {
                if (!m.named)
                        put_name(&m, instrument, key);
                kw_put_string(&m.body, "instrument", instrument);
                kw_put_object_end(&m.results);
                kw_put_raw(&m.body, "results", kw_buf_text(&m.results));
                kw_put_object_end(&m.body);
                kw_put_object(entry, NULL);
                kw_put_string(entry, "key", key);
                kw_put_string(entry, "kind", "test");
                if (m.at[0])
                        kw_put_string(entry, "at", m.at);
                kw_put_raw(entry, "body", kw_buf_text(&m.body));
                kw_put_object_end(entry);
                if (m.body.failed || m.results.failed || entry->failed)
                        rc = -ENOMEM;
        }
        kw_buf_free(&m.body);
        kw_buf_free(&m.results);
        return rc;
}

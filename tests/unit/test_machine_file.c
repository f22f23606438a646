/*
 * A test machine's file: the cases of tests/standards/machine-files.json, to which the page is held too; and SHA-1 by the
 * values that FIPS 180-4's examples give.
 */
#include "suite.h"

#include "kinwire/machine_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static cJSON *cases;

static void read_cases(void)
{
        FILE *f = fopen(MACHINE_FILES, "rb");
        char *text = malloc(1 << 20);
        size_t n;

        ck_assert_ptr_nonnull(f);
        ck_assert_ptr_nonnull(text);
        n = fread(text, 1, (1 << 20) - 1, f);
        text[n] = '\0';
        fclose(f);
        cases = cJSON_Parse(text);
        ck_assert_ptr_nonnull(cases);
        free(text);
}

static void drop_cases(void)
{
        cJSON_Delete(cases);
}

static const char *string_at(const cJSON *array, int i)
{
        return cJSON_GetArrayItem(array, i)->valuestring;
}

static int int_at(const cJSON *array, int i)
{
        return cJSON_GetArrayItem(array, i)->valueint;
}

static void check_rows(const char *name, const struct kw_csv *csv, const cJSON *rows)
{
        ck_assert_msg((int)csv->n_rows == cJSON_GetArraySize(rows), "%s: %zu rows", name, csv->n_rows);
        for (size_t i = 0; i < csv->n_rows; i++) {
                const cJSON *row = cJSON_GetArrayItem(rows, (int)i), *cells = cJSON_GetArrayItem(row, 1);

                ck_assert_msg((int)csv->lines[i] == int_at(row, 0), "%s: line %zu", name, csv->lines[i]);
                ck_assert_msg((int)csv->n_columns == cJSON_GetArraySize(cells), "%s", name);
                for (size_t c = 0; c < csv->n_columns; c++)
                        ck_assert_msg(strcmp(kw_csv_row(csv, i)[c], string_at(cells, (int)c)) == 0, "%s: \"%s\"", name,
                                      kw_csv_row(csv, i)[c]);
        }
}

START_TEST(files_are_taken_apart)
{
        const cJSON *one;

        cJSON_ArrayForEach(one, kw_json_get(cases, "csv"))
        {
                const char *name = kw_json_text(one, "name"), *text = kw_json_text(one, "text");
                const cJSON *wrong = kw_json_get(one, "wrong");
                struct kw_error err = {0};
                struct kw_csv csv;
                int rc = kw_csv_read(text, strlen(text), &csv, &err);

                if (!wrong) {
                        ck_assert_msg(rc == 0, "%s: %s", name, err.text);
                        check_rows(name, &csv, kw_json_get(one, "rows"));
                } else {
                        ck_assert_msg(rc == KW_BAD_VALUE, "%s: %d", name, rc);
                        ck_assert_msg(strcmp(err.said.as, string_at(wrong, 2)) == 0, "%s: %s", name, err.text);
                        if (strcmp(err.said.as, "empty") != 0)
                                ck_assert_msg((int)err.line == int_at(wrong, 0) &&
                                                      err.said.value[0].figure == int_at(wrong, 1),
                                              "%s: %s", name, err.text);
                }
                kw_csv_free(&csv);
        }
}
END_TEST

START_TEST(figures_are_read)
{
        const cJSON *one;

        cJSON_ArrayForEach(one, kw_json_get(cases, "figures"))
        {
                const cJSON *value = cJSON_GetArrayItem(one, 4);
                int64_t got = 0;
                bool read = kw_machine_figure(string_at(one, 0), string_at(one, 1), string_at(one, 2),
                                              string_at(one, 3)[0], &got);

                ck_assert_msg(read == !cJSON_IsNull(value) && (!read || (double)got == value->valuedouble),
                              "%s as %s: %lld", string_at(one, 0), string_at(one, 1), read ? (long long)got : -1);
        }
}
END_TEST

/* Two rows of cells, the heads and the case's, as a file taken apart. */
static void file_of(const cJSON *heads, const cJSON *row, const char *cells[64], size_t lines[2], struct kw_csv *csv)
{
        size_t n = (size_t)cJSON_GetArraySize(heads);

        for (size_t i = 0; i < n; i++) {
                cells[i] = string_at(heads, (int)i);
                cells[n + i] = string_at(row, (int)i);
        }
        lines[0] = 1;
        lines[1] = 2;
        *csv = (struct kw_csv){.cells = cells, .lines = lines, .n_rows = 2, .n_columns = n};
}

START_TEST(rows_become_entries)
{
        const cJSON *all = kw_json_get(cases, "rows"), *mapping = kw_json_get(all, "mapping"), *one;
        const char *instrument = kw_json_text(all, "instrument");

        cJSON_ArrayForEach(one, kw_json_get(all, "cases"))
        {
                const cJSON *wrong = kw_json_get(one, "wrong"), *member;
                struct kw_error err = {0};
                struct kw_draft draft;
                struct kw_buf entry = {0};
                struct kw_csv csv;
                const char *cells[64];
                size_t lines[2];
                int rc;

                file_of(kw_json_get(all, "heads"), kw_json_get(one, "row"), cells, lines, &csv);
                rc = kw_machine_row(&csv, 1, mapping, instrument, &entry, &err);
                ck_assert_msg((rc != 0) == (wrong != NULL), "%s", err.text);
                if (wrong) {
                        ck_assert_str_eq(kw_said_text(&err.said, 1), string_at(wrong, 0));
                        ck_assert_str_eq(kw_said_text(&err.said, 2), string_at(wrong, 1));
                        ck_assert_uint_eq(err.line, 2);
                        continue;
                }
                rc = kw_draft_read(kw_buf_text(&entry), entry.n, &draft, &err);
                ck_assert_msg(rc == 0, "%s: %s", kw_buf_text(&entry), err.text);
                ck_assert_str_eq(draft.at, cJSON_IsNull(kw_json_get(one, "at")) ? "" : kw_json_text(one, "at"));
                cJSON_ArrayForEach(member, kw_json_get(one, "body"))
                        ck_assert_msg(cJSON_Compare(member, kw_json_get(draft.body, member->string), 1), "%s in %s",
                                      member->string, kw_buf_text(&entry));
                if (kw_json_get(one, "key"))
                        ck_assert_str_eq(draft.key, kw_json_text(one, "key"));
                ck_assert_str_eq(kw_json_text(draft.body, "instrument"), instrument);
                ck_assert_int_eq(strncmp(kw_json_text(draft.body, "test"), "TT-2-", 5), 0);
                kw_draft_free(&draft);
                kw_buf_free(&entry);
        }
}
END_TEST

START_TEST(a_mapping_holds_for_its_heads_alone)
{
        static const char *const notes[] = {
                KW_MAPPING "{\"heads\":[\"a\",\"b\"],\"columns\":{}}", KW_MAPPING "{\"heads\":[\"a\"],\"columns\":{}}",
                KW_MAPPING "{\"heads\":[\"a\",\"b\",\"c\"],\"columns\":{}}", KW_MAPPING "{\"heads\":[\"a\",1],\"columns\":{}}",
                KW_MAPPING "{\"heads\":[\"a\",\"b\"]}", KW_MAPPING "{", KW_MAPPING "[]", "a note", ""};
        struct kw_csv csv;

        ck_assert_int_eq(kw_csv_read("a,b\n", 4, &csv, NULL), 0);
        for (size_t i = 0; i < sizeof(notes) / sizeof(notes[0]); i++) {
                cJSON *mapping = NULL;

                ck_assert_msg(kw_mapping_fits(notes[i], &csv, &mapping) == (i == 0), "%s", notes[i]);
                cJSON_Delete(mapping);
        }
        kw_csv_free(&csv);
}
END_TEST

START_TEST(sha1_is_that_of_the_standard)
{
        static const struct {
                const char *text, *hex;
        } known[] = {
                {"abc", "a9993e364706816aba3e25717850c26c9cd0d89d"},
                {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", "84983e441c3bd26ebaae4aa1f95129e5e54670f1"},
                {"", "da39a3ee5e6b4b0d3255bfef95601890afd80709"},
        };

        for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++) {
                unsigned char h[20];
                char hex[41];

                kw_sha1(known[i].text, strlen(known[i].text), h);
                for (size_t b = 0; b < 20; b++)
                        snprintf(hex + 2 * b, 3, "%02x", h[b]);
                ck_assert_str_eq(hex, known[i].hex);
        }
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_checked_fixture(tests, read_cases, drop_cases);
        tcase_add_test(tests, files_are_taken_apart);
        tcase_add_test(tests, figures_are_read);
        tcase_add_test(tests, rows_become_entries);
        tcase_add_test(tests, a_mapping_holds_for_its_heads_alone);
        tcase_add_test(tests, sha1_is_that_of_the_standard);
}

int main(void)
{
        return run_suite("machine file", add);
}

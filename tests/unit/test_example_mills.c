/*
 * The worked examples as entries: recorded in a ledger, every expected trace must come out of it to the millimetre.
 *
 * Each folder of tests/examples holds entries.ndjson and traces.json, and each trace names exactly the lots of its
 * answer with their spans. What is compared is the JSON that the API gives.
 */
#include "recorder.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *folder; /* tests/examples */

static const char *const examples[] = {"1-one-weld", "2-weld-seen", "3-order-on-the-spool", "4-three-wires",
                                       "5-small-mill"};

static char *slurp(const char *example, const char *name, size_t *n)
{
        char path[1024];

        snprintf(path, sizeof(path), "%s/%s/%s", folder, example, name);
        return recorder_file(path, n);
}

static struct kw_ledger *load(const char *example)
{
        struct kw_ledger *ledger = recorder_new();
        size_t n;
        char *text = slurp(example, "entries.ndjson", &n);

        for (char *line = text, *end; (end = strchr(line, '\n')); line = end + 1)
                record_line(ledger, line, (size_t)(end - line));
        free(text);
        return ledger;
}

static cJSON *ask(struct kw_ledger *ledger, const cJSON *wanted)
{
        struct kw_question q;
        struct kw_error err = {0};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_question_read(kw_json_text(wanted, "origin"), kw_json_text(wanted, "direction"), &q, &err),
                         0);
        q.part = kw_json_get(wanted, "from_mm") != NULL;
        q.from_mm = kw_json_int(wanted, "from_mm", 0);
        q.to_mm = kw_json_int(wanted, "to_mm", 0);
        ask_trace(ledger, &q, KW_AS_JSON, &out);
        return ask_json(&out);
}

static void compare_lot(const cJSON *wanted, const cJSON *got, const char *which, const char *where)
{
        char *a = cJSON_PrintUnformatted(kw_json_get(wanted, which));
        char *b = cJSON_PrintUnformatted(kw_json_get(got, which));

        ck_assert_msg(strcmp(a, b) == 0, "%s, %s: wanted %s, got %s", where, which, a, b);
        free(a);
        free(b);
}

static const cJSON *row_of(const cJSON *answer, const char *lot)
{
        const cJSON *row;

        cJSON_ArrayForEach(row, kw_json_get(answer, "lots"))
        {
                if (strcmp(kw_json_text(row, "lot"), lot) == 0)
                        return row;
        }
        return NULL;
}

static void compare(const char *example, const cJSON *wanted, const cJSON *answer)
{
        const cJSON *lots = kw_json_get(wanted, "lots"), *lot;
        char where[300];

        cJSON_ArrayForEach(lot, lots)
        {
                const cJSON *row = row_of(answer, lot->string);

                snprintf(where, sizeof(where), "%s: %s %s: %s", example, kw_json_text(wanted, "origin"),
                         kw_json_text(wanted, "direction"), lot->string);
                ck_assert_msg(row != NULL, "%s is missing", where);
                compare_lot(lot, row, "certain", where);
                compare_lot(lot, row, "possible", where);
        }
        ck_assert_int_eq(cJSON_GetArraySize(kw_json_get(answer, "lots")), cJSON_GetArraySize(lots));
        ck_assert_int_eq(kw_json_int(answer, "count", -1), cJSON_GetArraySize(lots));
}

START_TEST(every_trace)
{
        struct kw_ledger *ledger = load(examples[_i]);
        size_t n;
        char *text = slurp(examples[_i], "traces.json", &n);
        cJSON *traces = cJSON_Parse(text), *wanted;

        ck_assert_ptr_nonnull(traces);
        cJSON_ArrayForEach(wanted, traces)
        {
                cJSON *answer = ask(ledger, wanted);

                compare(examples[_i], wanted, answer);
                cJSON_Delete(answer);
        }
        cJSON_Delete(traces);
        free(text);
        kw_ledger_close(ledger);
}
END_TEST

int main(int argc, char **argv)
{
        Suite *suite = suite_create("example mills");
        TCase *all = tcase_create("traces");
        SRunner *runner = srunner_create(suite);
        int failed;

        folder = argc > 1 ? argv[1] : "tests/examples";
        tcase_set_timeout(all, 1200);
        tcase_add_loop_test(all, every_trace, 0, (int)(sizeof(examples) / sizeof(*examples)));
        suite_add_tcase(suite, all);
        srunner_run_all(runner, CK_NORMAL);
        failed = srunner_ntests_failed(runner);
        srunner_free(runner);
        return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}

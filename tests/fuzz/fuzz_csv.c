/*
 * Any bytes as a test machine's file. What is taken has rows of one width, each of whole text on a line of its own; its
 * rows become drafts, or are refused with a sentence; and a mapping is read from any first row.
 */
#include "fuzz.h"

#include "kinwire/machine_file.h"

#include <string.h>

static cJSON *mapping_of(const struct kw_csv *csv)
{
        static const char *const targets[] = {"lot",        "test",     "at",        "verdict",  "at_mm", "tensile_kpa",
                                              "breaking_n", "torsions", "lay_um",    "zinc_mg_m2"};
        cJSON *mapping = cJSON_CreateObject(), *columns = cJSON_AddObjectToObject(mapping, "columns");

        for (size_t c = 0; c < csv->n_columns; c++) {
                cJSON *to = cJSON_AddObjectToObject(columns, kw_csv_row(csv, 0)[c]);

                MUST(to);
                cJSON_AddStringToObject(to, "is", targets[c % 10]);
        }
        return mapping;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
        struct kw_error err = {0};
        struct kw_csv csv;
        int rc = kw_csv_read((const char *)bytes, n, &csv, &err);
        cJSON *mapping = NULL;

        if (rc) {
                MUST(rc > 0 && err.text[0]);
                kw_csv_free(&csv);
                return 0;
        }
        MUST(csv.n_rows > 0 && csv.n_columns > 0 && csv.n_columns <= KW_CSV_COLUMNS);
        mapping = mapping_of(&csv);
        for (size_t i = 1; i < csv.n_rows; i++) {
                struct kw_buf entry = {0};
                struct kw_draft draft;

                MUST(csv.lines[i] > csv.lines[i - 1]);
                rc = kw_machine_row(&csv, i, mapping, "TT-2", &entry, &err);
                MUST(rc == 0 || (rc == KW_BAD_VALUE && err.line == csv.lines[i] && err.text[0]));
                if (rc == 0 && kw_draft_read(kw_buf_text(&entry), entry.n, &draft, &err) == 0) {
                        MUST(strcmp(draft.kind, "test") == 0);
                        kw_draft_free(&draft);
                }
                kw_buf_free(&entry);
        }
        cJSON_Delete(mapping);
        kw_csv_free(&csv);
        return 0;
}

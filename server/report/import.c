/*
 * A test machine's file: its mapping is looked up, and its rows become entries for whoever records them.
 */
#include "kinwire/import.h"

#include "kinwire/machine_file.h"
#include "ledger/read/read.h"

#include <errno.h>

static int find_mapping(struct kw_ledger *ledger, const char *instrument, const struct kw_csv *csv, cJSON **out,
                        struct kw_error *err)
{
        const struct kw_note_row *notes;
        struct kw_reader *reader = NULL;
        size_t n = 0;
        int rc = kw_reader_new(ledger, &reader);

        if (rc == 0)
                rc = kw_read_notes(reader, "instrument", instrument, &notes, &n);
        while (rc == 0 && n-- && !kw_mapping_fits(notes[n].text, csv, out))
                ;
        if (reader)
                rc = kw_reader_failed(reader, rc, err);
        kw_reader_free(reader);
        if (rc == 0 && !*out)
                rc = kw_refuse_with(err, KW_MISSING, NULL, "no-mapping", KW_VALUES(KW_WORD("instrument", instrument)),
                                    "what the columns of a file of %s are has not been said: drop one with these heads "
                                    "on the page of the testing station once",
                                    instrument);
        return rc;
}

int kw_import_read(struct kw_ledger *ledger, const char *instrument, const char *text, size_t n,
                   int (*row)(void *ctx, const struct kw_buf *entry, size_t line), void *ctx, struct kw_error *err)
{
        cJSON *mapping = NULL;
        struct kw_csv csv;
        int rc = kw_csv_read(text, n, &csv, err);

        if (rc == 0)
                rc = find_mapping(ledger, instrument, &csv, &mapping, err);
        for (size_t i = 1; rc == 0 && i < csv.n_rows; i++) {
                struct kw_buf entry = {0};

                rc = kw_machine_row(&csv, i, mapping, instrument, &entry, err);
                if (rc == 0)
                        rc = row(ctx, &entry, csv.lines[i]);
                kw_buf_free(&entry);
        }
        cJSON_Delete(mapping);
        kw_csv_free(&csv);
        return rc;
}

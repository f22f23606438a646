/*
 * Cells of CSV.
 */
#include "cell.h"

#include "ledger/read/read.h"

#include <inttypes.h>
#include <string.h>

void kw_csv_first(struct kw_buf *out, const char *text)
{
        bool quote;

        if (!text)
                return;
        quote = strpbrk(text, ",\"\r\n") != NULL;
        kw_buf_text_add(out, quote ? "\"" : "");
        if (*text && strchr("=+-@\t\r", *text))
                kw_buf_text_add(out, "'");
        for (; *text; text++) {
                if (*text == '"')
                        kw_buf_text_add(out, "\"");
                kw_buf_add(out, text, 1);
        }
        kw_buf_text_add(out, quote ? "\"" : "");
}

void kw_csv_text(struct kw_buf *out, const char *text)
{
        kw_buf_text_add(out, ",");
        kw_csv_first(out, text);
}

void kw_csv_number(struct kw_buf *out, int64_t value)
{
        kw_buf_text_add(out, ",");
        if (value != KW_NONE)
                kw_buf_printf(out, "%" PRId64, value);
}

/*
 * Receipts. They are not under the head, since what is found odd may be said otherwise by a later kinwire; a sum beside
 * the text tells whether it is still what was written. Receipts from before there was one have none.
 */
#include "receipt.h"

#include "kinwire/merkle.h"

#include <errno.h>
#include <inttypes.h>
#include <stdbool.h>
#include <string.h>

/* After the findings, which are JSON without a line end: a line end and this. */
static int sum_of(int64_t seq, const char *findings, size_t n, char hex[KW_HASH_HEX])
{
        struct kw_buf text = {0};
        struct kw_hash hash;
        int rc;

        kw_buf_printf(&text, "receipt %" PRId64 "\n", seq);
        kw_buf_add(&text, findings, n);
        kw_buf_text(&text);
        rc = text.failed ? -ENOMEM : 0;
        if (rc == 0) {
                kw_hash_leaf(text.at, text.n, &hash);
                kw_hash_hex(&hash, hex);
        }
        kw_buf_free(&text);
        return rc;
}

int kw_receipt_put(struct kw_ledger *l, int64_t seq, const char *findings)
{
        struct kw_buf text = {0};
        char hex[KW_HASH_HEX];
        int rc = sum_of(seq, findings, strlen(findings), hex);

        kw_buf_printf(&text, "%s\n%s", findings, rc ? "" : hex);
        kw_buf_text(&text);
        if (rc == 0)
                rc = text.failed ? -ENOMEM
                                 : kw_do(l, "INSERT INTO receipt (seq, findings) VALUES (?1, ?2)", "it", seq, text.at);
        kw_buf_free(&text);
        return rc;
}

int kw_receipt_get(struct kw_ledger *l, int64_t seq, struct kw_buf *out)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT findings FROM receipt WHERE seq = ?1", "i", seq);

        if (rc == 0)
                rc = kw_next(l, &q);
        if (rc == 1)
                kw_buf_add(out, kw_text(&q, 0), strcspn(kw_text(&q, 0), "\n"));
        else if (rc == 0)
                kw_buf_text_add(out, "[]");
        kw_end(&q);
        kw_buf_text(out);
        return rc < 0 ? rc : out->failed ? -ENOMEM : 0;
}

int kw_receipts_check(struct kw_ledger *l, int64_t *wrong)
{
        struct kw_query q;
        int rc = kw_ask(l, &q, "SELECT seq, findings FROM receipt ORDER BY seq", "");

        *wrong = 0;
        while (rc == 0 && *wrong == 0 && (rc = kw_next(l, &q)) == 1) {
                const char *text = kw_text(&q, 1) ? kw_text(&q, 1) : "";
                size_t n = strcspn(text, "\n");
                bool summed = text[n] != '\0';
                char hex[KW_HASH_HEX];

                rc = summed ? sum_of(kw_int(&q, 0), text, n, hex) : 0;
                if (rc == 0 && (summed ? strcmp(text + n + 1, hex) != 0 : !n || text[n - 1] != ']'))
                        *wrong = kw_int(&q, 0);
        }
        kw_end(&q);
        return rc < 0 ? rc : 0;
}

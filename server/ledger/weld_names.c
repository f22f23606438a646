/*
 * Names for joints that nobody named: made from the entry's key, so that they come out the same wherever the entry is
 * read.
 */
#include "kinwire/entry.h"

#include <errno.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>

/* "J-" and 12 hex digits, upper case as all codes are, of SHA-256(key "-" number). */
void kw_weld_name(const char *key, size_t number, char code[16])
{
        unsigned char hash[crypto_hash_sha256_BYTES];
        char text[KW_KEY_LEN + 24];
        const int n = snprintf(text, sizeof(text), "%s-%zu", key, number);

        crypto_hash_sha256(hash, (const unsigned char *)text, (unsigned long long)n);
        snprintf(code, 16, "J-%02X%02X%02X%02X%02X%02X", hash[0], hash[1], hash[2], hash[3], hash[4], hash[5]);
}

int kw_body_name_welds(cJSON *run_body, const char *key)
{
        const cJSON *line;
        size_t number = 0;

        cJSON_ArrayForEach(line, kw_json_get(run_body, "lines"))
        {
                cJSON *first = cJSON_GetObjectItemCaseSensitive(line, "feeds")->child;

                for (cJSON *feed = first->next; feed; feed = feed->next) {
                        char code[16];

                        number++;
                        if (kw_json_get(feed, "weld"))
                                continue;
                        kw_weld_name(key, number, code);
                        if (!cJSON_AddStringToObject(feed, "weld", code))
                                return -ENOMEM;
                }
        }
        return 0;
}

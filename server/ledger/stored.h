#ifndef KW_LEDGER_STORED_H
#define KW_LEDGER_STORED_H
/* Entries as they stand in the store: the leaf's text, and the body that stands of it. */
#include "store.h"

#include <cjson/cJSON.h>

/** What stands of an entry. Free with kw_standing_free(). */
struct kw_standing {
        int64_t seq, body_seq;
        bool is_void;
        char key[KW_KEY_LEN + 1];
        char kind[16];
        int64_t at;
        cJSON *leaf;       /* of the entry whose body stands */
        const cJSON *body; /* inside leaf */
};

/** kw_stored_load - Return: 0; -ENOENT; -EIO when the text is not what was hashed; -ENOMEM. */
int kw_stored_load(struct kw_ledger *l, int64_t seq, struct kw_standing *out);
void kw_standing_free(struct kw_standing *s);

/**
 * kw_leaf_write - the canonical text that is hashed for an entry
 * @body: canonical JSON
 */
void kw_leaf_write(struct kw_buf *out, int64_t seq, const char *key, const char *kind, const char *at,
                   const char *logged, const char *by, const char *terminal, const char *body);

extern const struct kw_json_limits kw_stored_limits;

#endif

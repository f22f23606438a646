#ifndef KW_EXPORT_EVENT_H
#define KW_EXPORT_EVENT_H
/*
 * An EPCIS event while it is being written: what it is of, and the parts that events have in common.
 */
#include "inside.h"

struct kw_event {
        struct kw_export *x;
        const struct kw_entry_row *entry;
        const cJSON *body;
        const struct kw_run_row *run; /* NULL where its positions are not told */
        struct kw_buf *out;
};

/** kw_event_url - the name of a thing: "https://.../lot/RL-1", with what a name can't hold percent-encoded. */
void kw_event_url(struct kw_event *e, const char *name, const char *type, const char *text);
/** kw_event_place - {"id": the name of a thing} */
void kw_event_place(struct kw_event *e, const char *name, const char *type, const char *text);
/** kw_event_transaction - the one paper that an event refers to. */
void kw_event_transaction(struct kw_event *e, const char *type, const char *what, const char *code);
/** kw_event_add - add a lot's code to a list, nothing for NULL. Return: 0; -ENOMEM. */
int kw_event_add(struct kw_event *e, struct kw_list *codes, const char *code);
/** kw_event_list - write the list, each lot once; nothing when it is empty. */
void kw_event_list(struct kw_event *e, const char *name, struct kw_list *codes);
/** kw_event_lot - the lot that an item of a body names: a code, or the member "lot". */
const char *kw_event_lot(const cJSON *item);
/** kw_event_run - what a TransformationEvent has: lots in and out and, of what stands, their positions. */
int kw_event_run(struct kw_event *e);

#endif

#ifndef KW_LEDGER_SHAPE_H
#define KW_LEDGER_SHAPE_H
/*
 * Shapes: what a body may look like, as tables. A kind of entry is a row in shape_kinds.c and a table of members.
 *
 *      struct kw_shape     one value: its type and range, and for an object its members and the rules between them
 *      struct kw_member    a member of an object: its name, its shape, whether it may be left out, and what it is
 *      struct kw_rule      what two members of one object have to do with each other
 *
 * schema/entry.schema.json says the same to the world outside; a test holds the two together.
 */
#include "kinwire/entry.h"

#include "pointer.h"

enum kw_shape_type {
        KW_SHAPE_INTEGER, /* min..max */
        KW_SHAPE_CODE,    /* upper-cased */
        KW_SHAPE_LINE,    /* text of min..max characters on one line */
        KW_SHAPE_PROSE,   /* the same, with line feeds and tabs */
        KW_SHAPE_TIME,    /* rewritten in UTC, whole seconds */
        KW_SHAPE_KEY,     /* a UUID, lower-cased */
        KW_SHAPE_ORIGIN,  /* type:CODE, the type out of choices; the code is upper-cased */
        KW_SHAPE_CHOICE,  /* one of choices */
        KW_SHAPE_SETTING, /* an integer, or a text of min..max characters on one line */
        KW_SHAPE_BOOL,
        KW_SHAPE_OBJECT, /* members and rules */
        KW_SHAPE_ARRAY,  /* min..max items */
        KW_SHAPE_MAP,    /* an object with min..max members of free names, each of the shape items */
        KW_SHAPE_ANY     /* an object that somebody else looks at */
};

enum kw_need { KW_OPTIONAL, KW_NEEDED };

struct kw_member {
        const char *name; /* NULL ends the list */
        enum kw_need need;
        const struct kw_shape *shape;
        const char *says; /* what it is, for the sentence that asks for it */
};

enum kw_rule_kind {
        KW_RULE_END,
        KW_RULE_PAIR,      /* a and b: both or neither */
        KW_RULE_APART,     /* a and b: not together */
        KW_RULE_ONE,       /* a or b: exactly one */
        KW_RULE_ANY,       /* a or b: at least one */
        KW_RULE_RISING,    /* integers: a < b */
        KW_RULE_NOT_BEFORE /* times: a <= b */
};

struct kw_rule {
        enum kw_rule_kind kind;
        const char *a, *b;
        const char *says; /* the sentence, without its full stop */
};

struct kw_walk;

struct kw_shape {
        enum kw_shape_type type;
        const char *noun; /* of an object, with its article: "a feed" */
        int64_t min, max;
        const char *const *choices;      /* NULL ends the list */
        const char *(*listed)(size_t i); /* or choices from another table: the name of row i, NULL past the last */
        const struct kw_member *members;
        const struct kw_rule *rules;
        const struct kw_shape *items;
        /* of an array: items are distinct in this member, "" for items that are texts themselves */
        const char *distinct;
        /* of a map: whether a member may be called so, and what to say if not */
        bool (*name_ok)(const char *name);
        const char *names;
        /* "lot": an object may be given as the plain code of its lot; a code may be given as {"lot": code} */
        const char *stands_for;
        /* an object with the member @tag has the shape @tagged instead */
        const char *tag;
        const struct kw_shape *tagged;
        /* what no table says; called when all else is right */
        int (*also)(struct kw_walk *walk, const cJSON *value);
};

/** A walk through one body. */
struct kw_walk {
        struct kw_pointer pointer;
        struct kw_error *err;
};

/** kw_shape_check - check @value, which may be replaced in its parent, and bring it into normal form. 0; refusal;
 * -ENOMEM. */
int kw_shape_check(struct kw_walk *walk, const struct kw_shape *shape, cJSON *parent, cJSON *value);

/** kw_shape_scalar - the part of it for a single text or number. */
int kw_shape_scalar(struct kw_walk *walk, const struct kw_shape *shape, cJSON *value);

/** kw_shape_rules - the part of it for rules between an object's members. */
int kw_shape_rules(struct kw_walk *walk, const struct kw_shape *shape, const cJSON *object);

/** kw_shape_distinct - refuse what stands in an array twice (see kw_shape.distinct). 0; KW_BAD_VALUE; -ENOMEM. */
int kw_shape_distinct(struct kw_walk *walk, const struct kw_shape *shape, const cJSON *array);

/**
 * kw_first_twin - the first of @texts that has stood there before
 * @twin: receives its place, @n when all are distinct. Return: 0; -ENOMEM.
 */
int kw_first_twin(const char *const *texts, size_t n, size_t *twin);

/**
 * kw_walk_refuse - refuse what the walk stands on, or its member @member if not NULL
 * @as, @values: as for kw_refuse_with(); what it is about is told by the pointer and is no value
 */
int kw_walk_refuse(struct kw_walk *walk, enum kw_refusal what, const char *member, const char *as,
                   const struct kw_value *values, const char *fmt, ...) __attribute__((format(printf, 6, 7)));

/** kw_choice - choice number @i of a shape, NULL past the last. */
const char *kw_choice(const struct kw_shape *shape, size_t i);
/** kw_choices_text - "rod, coil or bobbin" */
const char *kw_choices_text(const struct kw_shape *shape, char *text, size_t room);

/* shape_special.c: what the tables name but cannot say */
const char *kw_process_name(size_t i);
const char *kw_lot_kind_name(size_t i);
bool kw_is_element(const char *name);
bool kw_is_property(const char *name);
int kw_receive_measures(struct kw_walk *walk, const cJSON *body);
int kw_first_feed_has_no_join(struct kw_walk *walk, const cJSON *feeds);
int kw_run_welds_distinct(struct kw_walk *walk, const cJSON *body);

/* code.c */
bool kw_code_upper(char *code); /* in place; whether it is a code then */
bool kw_key_lower(char *key);   /* in place; whether it is a UUID */

/* shape_kinds.c */
const struct kw_shape *kw_kind_shape(const char *kind); /* NULL: no such kind */
extern const struct kw_shape kw_shape_lot_spans;        /* lots, each whole or a part of it */

/* shape_quality.c */
extern const struct kw_shape kw_shape_test, kw_shape_instrument, kw_shape_spec, kw_shape_tolerance_by;

/* shape_people.c */
extern const struct kw_shape kw_shape_person, kw_shape_terminal, kw_shape_token, kw_shape_access;
/* shape_drill.c */
extern const struct kw_shape kw_shape_drill, kw_shape_sample;

/* shape_hold.c */
extern const struct kw_shape kw_shape_hold, kw_shape_agree, kw_shape_release;

/* shape_certify.c */
extern const struct kw_shape kw_shape_certify, kw_shape_withdraw, kw_shape_clear;

#endif

#ifndef KINWIRE_ANSWER_H
#define KINWIRE_ANSWER_H
/*
 * Answers: what the ledger says to a question, in the form in which it leaves: JSON for the API and the pages, CSV, a
 * table for a terminal. The HTTP routes and the program's commands both get theirs here.
 *
 * Every function is called between kw_ledger_look() and kw_ledger_done(), appends to @out, and returns 0, a refusal
 * (KW_NOT_FOUND, KW_BAD_REQUEST, KW_UNKNOWN_...) or a negative errno; on failure @out may hold a part of the answer.
 */
#include "kinwire/ledger.h"
#include "kinwire/trace.h"

enum kw_direction { KW_FORWARD, KW_BACK, KW_KIN };

/** A question for a trace. */
struct kw_question {
        char type[16]; /* heat, lot, run, batch, weld, test, certificate, machine, instrument, consignment, supply */
        char code[KW_CODE_MAX + 1]; /* upper case */
        enum kw_direction direction;
        bool part; /* of a lot: only from_mm to to_mm */
        int64_t from_mm, to_mm;
        bool window; /* of a machine or an instrument: only since to until; either may be INT64_MIN or INT64_MAX */
        int64_t since, until;
        size_t most; /* lots that may be touched, 0: any number; KW_TOO_LARGE when there are more */
};

/*
 * Lots in an answer to whoever asks over the network. An answer is held in memory until it is sent, some 3 kB a lot: so
 * this is 0.8 GB. A heat touches some 4,000 lots, a furnace's month 20,000; a large mill makes 350,000 a year.
 */
#define KW_TRACE_MOST 250000

/** kw_question_read - "heat:H1" and a direction ("" or NULL: forward) into a question. Return: 0; KW_BAD_REQUEST. */
int kw_question_read(const char *origin, const char *direction, struct kw_question *out, struct kw_error *err);

/** The answer to a question, held in memory. */
struct kw_trace_answer;
int kw_trace_ask(struct kw_ledger *ledger, const struct kw_question *q, struct kw_trace_answer **out,
                 struct kw_error *err);
void kw_trace_answer_free(struct kw_trace_answer *answer);
size_t kw_trace_count(const struct kw_trace_answer *answer);

enum kw_trace_as { KW_AS_JSON, KW_AS_CSV, KW_AS_TABLE };

/**
 * A trace on its way out, piece by piece, so that memory does not grow with its text.
 * @after: lot code after which rows begin, or NULL; @limit: rows at most, 0 for all.
 */
struct kw_trace_writer {
        const struct kw_trace_answer *answer;
        enum kw_trace_as as;
        const char *after;
        size_t limit;
        size_t next;             /* internal: row to come */
        int stage;               /* internal */
        size_t given;            /* internal */
        size_t start, start_end; /* internal: of the lots that it starts with, what is to come */
        bool any;                /* internal: some of these were given */
};
/** kw_trace_write - append the next piece (about 64 KiB) to @out. Return: 1, more to come; 0, that was the last;
 * -ENOMEM. */
int kw_trace_write(struct kw_trace_writer *w, struct kw_buf *out);

int kw_answer_lot(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err);
/** @by: "heat", or "lot" with @kind the kind of lot to list (NULL: every kind) */
int kw_answer_makeup(struct kw_ledger *ledger, const char *lot, const char *by, const char *kind, struct kw_buf *out,
                     struct kw_error *err);
int kw_answer_joints(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err);
/** The wires in a rope, their strength by their tests, and the catalogue's figures beside it. */
int kw_answer_strength(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err);
/** What tests are judged by: every version of every specification; every instrument as its last entry has it. */
int kw_answer_specs(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err);
int kw_answer_instruments(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err);
/** One instrument: its calibrations, what a bad one makes doubtful, the tests made while none held. */
int kw_answer_instrument(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err);
/** Which results a chart is of. NULL, or INT64_MIN of a number, where it is not asked for. */
struct kw_chart_question {
        const char *property;
        bool by_place;        /* along the run or the lot that is asked for; else by time */
        int64_t since, until; /* INT64_MIN and INT64_MAX where not bounded */
        const char *kind, *grade, *construction;
        const char *machine, *instrument, *spec, *heat, *run, *lot; /* codes, upper case */
        int64_t tensile_kpa, from_um, below_um;
        int64_t limit; /* the last so many */
        bool csv;
};
/** Individuals with their moving ranges and limits, and capability; as JSON or as CSV. */
int kw_answer_chart(struct kw_ledger *ledger, const struct kw_chart_question *q, struct kw_buf *out,
                    struct kw_error *err);
/** A test judged by a version of a specification, or by the one that stands where @version is 0; nothing is changed. */
int kw_answer_judged(struct kw_ledger *ledger, const char *test, const char *spec, int64_t version, struct kw_buf *out,
                     struct kw_error *err);
int kw_answer_balance(struct kw_ledger *ledger, const char *lot, struct kw_buf *out, struct kw_error *err);
int kw_answer_thing(struct kw_ledger *ledger, const char *type, const char *code, struct kw_buf *out,
                    struct kw_error *err);
int kw_answer_find(struct kw_ledger *ledger, const char *text, struct kw_buf *out, struct kw_error *err);
int kw_answer_attention(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err);
/** What a certificate is wanted for: @reels, codes with commas between them. */
struct kw_certify_question {
        const char *reels;
        const char *type;     /* "2.2", "3.1", "3.2" */
        const char *replaces; /* code, or NULL */
};
/** Whether reels may be certified; all that is missing for it, and what whoever signs has to know. */
int kw_answer_certifiable(struct kw_ledger *ledger, const struct kw_certify_question *q, struct kw_buf *out,
                          struct kw_error *err);
/** All that is missing for a certify entry's body, as an array; reels that are not there are passed over. */
int kw_answer_missing(struct kw_ledger *ledger, const cJSON *body, struct kw_buf *out, struct kw_error *err);
/** A certificate: its document, what became of it, and the proof of its entry under the first head that it is under. */
int kw_answer_certificate(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err);
/** Certificates, newest first. @before: of the page before, 0: the first; @marked: those that something speaks against.
 */
int kw_answer_certificates(struct kw_ledger *ledger, int64_t before, int64_t limit, bool marked, struct kw_buf *out,
                           struct kw_error *err);
/** The same of @codes with commas between them, at most @most, in their order. */
int kw_answer_certificates_named(struct kw_ledger *ledger, const char *codes, size_t most, struct kw_buf *out,
                                 struct kw_error *err);
/** What a balance of mass is of. */
struct kw_balance_question {
        char type[16];              /* run, lot, heat, machine; "": the whole mill */
        char code[KW_CODE_MAX + 1]; /* upper case */
        int64_t since, until; /* of a machine or the mill: since <= t < until; INT64_MIN and INT64_MAX: not bounded */
        bool csv;
};
struct kw_months;
/**
 * What came in against what went where, in whole grams: in = out + unaccounted.
 * @months: what is kept of this ledger's months (kinwire/months.h); the ledger may be made to look anew for it. NULL:
 * everything is summed up for the question.
 * Return: as the others; -EINPROGRESS when months are still to be summed up, which is then not done here.
 */
int kw_answer_masses(struct kw_ledger *ledger, struct kw_months *months, const struct kw_balance_question *q,
                     struct kw_buf *out, struct kw_error *err);

/** Labels of things, for printing. */
struct kw_label_question {
        const char *lots, *welds, *batches; /* codes with commas between them; NULL: none */
        const char *size;                   /* "100x60", "100x150", "62" */
        bool pdf;                           /* else SVG */
        bool us;                            /* lengths in feet, diameters in inches; else metres and millimetres */
};
int kw_answer_labels(struct kw_ledger *ledger, const struct kw_label_question *q, struct kw_buf *out,
                     struct kw_error *err);

/** What runs on the floor, on @machine only where that is not NULL, and which machines there are. */
int kw_answer_floor(struct kw_ledger *ledger, const char *machine, struct kw_buf *out, struct kw_error *err);
int kw_answer_orders(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err);
/** Holds of a state ("any", "open", "closed"), newest first; before entry @before where that is not 0. */
int kw_answer_holds(struct kw_ledger *ledger, const char *state, int64_t before, int64_t limit, struct kw_buf *out,
                    struct kw_error *err);
int kw_answer_hold(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err);

/** What the ledger page asks for: newest first. NULL or 0 where a filter is not wanted. */
struct kw_entry_filter {
        int64_t before;
        int64_t limit;
        const char *kind, *by, *code;
};
int kw_answer_entries(struct kw_ledger *ledger, const struct kw_entry_filter *filter, struct kw_buf *out,
                      struct kw_error *err);
int kw_answer_entry(struct kw_ledger *ledger, int64_t seq, struct kw_buf *out, struct kw_error *err);
int kw_answer_head(struct kw_ledger *ledger, struct kw_buf *out, struct kw_error *err);
/** How many entries were logged up to @at, and the root over them. */
int kw_answer_size_at(struct kw_ledger *ledger, int64_t at, struct kw_buf *out, struct kw_error *err);
int kw_answer_inclusion(struct kw_ledger *ledger, int64_t seq, int64_t size, struct kw_buf *out, struct kw_error *err);
int kw_answer_consistency(struct kw_ledger *ledger, int64_t from, int64_t size, struct kw_buf *out,
                          struct kw_error *err);

#endif

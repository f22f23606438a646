/*
 * The shapes of a hold's life: what bars, a second person's word, what releases.
 */
#include "shape.h"

#include "kinwire/disposition.h"

#include <string.h>

/* clang-format off */
#define END {NULL, KW_OPTIONAL, NULL, NULL}
#define NO_MORE {KW_RULE_END, NULL, NULL, NULL}
/* clang-format on */

static const char *disposition_name(size_t i)
{
        return kw_dispositions[i].name;
}

static const struct kw_shape code = {.type = KW_SHAPE_CODE};
static const struct kw_shape name = {.type = KW_SHAPE_LINE, .min = 1, .max = 200};
static const struct kw_shape prose = {.type = KW_SHAPE_PROSE, .min = 1, .max = KW_TEXT_MAX};
static const struct kw_shape when = {.type = KW_SHAPE_TIME};
static const struct kw_shape place = {.type = KW_SHAPE_INTEGER, .min = 0, .max = INT64_C(1000000000000)};
static const struct kw_shape ledger_size = {.type = KW_SHAPE_INTEGER, .min = 0, .max = KW_JSON_INT_MAX};
static const struct kw_shape disposition = {.type = KW_SHAPE_CHOICE, .listed = disposition_name};

/* --- the question that a hold was opened from --------------------------------------------------------- */

static const struct kw_shape origin = {.type = KW_SHAPE_ORIGIN,
                                       .choices = (const char *const[]){"heat", "lot", "run", "batch", "weld", "test",
                                                                        "certificate", "machine", "instrument",
                                                                        "consignment", "supply", NULL}};
static const struct kw_shape direction = {.type = KW_SHAPE_CHOICE,
                                          .choices = (const char *const[]){"forward", "back", "kin", NULL}};

static int is_root(struct kw_walk *walk, const cJSON *value)
{
        if (strspn(value->valuestring, "0123456789abcdef") == 64)
                return 0;
        return kw_walk_refuse(walk, KW_BAD_VALUE, NULL, "root", NULL, "a root is 64 digits out of 0-9 a-f.");
}

static const struct kw_shape root = {.type = KW_SHAPE_LINE, .min = 64, .max = 64, .also = is_root};
static const struct kw_shape trace = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a question",
        .members = (const struct kw_member[]){{"origin", KW_NEEDED, &origin, "what it started from"},
                                              {"direction", KW_OPTIONAL, &direction, "which way it went"},
                                              {"from_mm", KW_OPTIONAL, &place, "where the part of the lot begins"},
                                              {"to_mm", KW_OPTIONAL, &place, "where the part of the lot ends"},
                                              {"since", KW_OPTIONAL, &when, "when the window begins"},
                                              {"until", KW_OPTIONAL, &when, "when the window ends"},
                                              {"size", KW_NEEDED, &ledger_size, "the ledger's size at the answer"},
                                              {"root", KW_NEEDED, &root, "the ledger's root at that size"},
                                              END},
        .rules = (const struct kw_rule[]){
                {KW_RULE_PAIR, "from_mm", "to_mm", "an interval has both its ends"},
                {KW_RULE_RISING, "from_mm", "to_mm", "An interval runs from the smaller place to the greater one"},
                {KW_RULE_NOT_BEFORE, "since", "until", "A window cannot end before it began"},
                NO_MORE}};

const struct kw_shape kw_shape_hold = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a hold",
        .members = (const struct kw_member[]){{"hold", KW_NEEDED, &code, "a code for the hold"},
                                              {"reason", KW_NEEDED, &prose, "the reason"},
                                              {"lots", KW_NEEDED, &kw_shape_lot_spans, "what is put on hold"},
                                              {"question", KW_OPTIONAL, &prose, "the trace it was opened from"},
                                              {"at_size", KW_OPTIONAL, &ledger_size, "the ledger's size at that trace"},
                                              {"trace", KW_OPTIONAL, &trace, "the question it was opened from"},
                                              {"decides", KW_OPTIONAL, &name, "who is to decide"},
                                              END}};

/* --- what becomes of it ---------------------------------------------------------------------------------- */

static int only_where_it_belongs(struct kw_walk *walk, const cJSON *body)
{
        const char *is = kw_json_text(body, "disposition");

        if (kw_json_get(body, "into") && strcmp(is, "rework") != 0)
                return kw_walk_refuse(walk, KW_BAD_VALUE, "into", "rework-only", NULL,
                                      "\"into\" is for rework; this is \"%s\".", is);
        if (kw_json_get(body, "grade") && strcmp(is, "regrade") != 0)
                return kw_walk_refuse(walk, KW_BAD_VALUE, "grade", "regrade-only", NULL,
                                      "\"grade\" is for a regrade; this is \"%s\".", is);
        return 0;
}

static const struct kw_shape process = {.type = KW_SHAPE_CHOICE, .listed = kw_process_name};
static const struct kw_shape processes = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 10, .items = &process, .distinct = ""};
static const struct kw_shape entry = {.type = KW_SHAPE_INTEGER, .min = 1, .max = KW_JSON_INT_MAX};

/* clang-format off */
#define DISPOSED \
        {"hold", KW_NEEDED, &code, "the code of the hold"}, \
        {"disposition", KW_NEEDED, &disposition, "what becomes of the lots"}, \
        {"reason", KW_NEEDED, &prose, "the reason"}, \
        {"into", KW_OPTIONAL, &processes, "the processes that rework may go into"}, \
        {"grade", KW_OPTIONAL, &name, "the grade that regraded lots get"}
/* clang-format on */

const struct kw_shape kw_shape_agree = {
        .type = KW_SHAPE_OBJECT,
        .noun = "an agreement",
        .members = (const struct kw_member[]){DISPOSED,
                                              {"lots", KW_OPTIONAL, &kw_shape_lot_spans, "what of the hold it is for"},
                                              END},
        .also = only_where_it_belongs};

const struct kw_shape kw_shape_release = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a release",
        .members =
                (const struct kw_member[]){DISPOSED,
                                           {"lots", KW_OPTIONAL, &kw_shape_lot_spans, "what of the hold is released"},
                                           {"agreed", KW_OPTIONAL, &entry, "the entry by which another agreed"},
                                           END},
        .also = only_where_it_belongs};

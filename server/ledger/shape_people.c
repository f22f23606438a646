/*
 * The shapes of what is said of people: who there is, which terminals and tokens, and who came in.
 */
#include "shape.h"

#include "kinwire/rights.h"

/* clang-format off */
#define END {NULL, KW_OPTIONAL, NULL, NULL}
#define NO_MORE {KW_RULE_END, NULL, NULL, NULL}
#define CHOICE(...) {.type = KW_SHAPE_CHOICE, .choices = (const char *const[]){__VA_ARGS__, NULL}}
/* clang-format on */

static const struct kw_shape code = {.type = KW_SHAPE_CODE};
static const struct kw_shape name = {.type = KW_SHAPE_LINE, .min = 1, .max = 200};
static const struct kw_shape prose = {.type = KW_SHAPE_PROSE, .min = 1, .max = KW_TEXT_MAX};
static const struct kw_shape when = {.type = KW_SHAPE_TIME};
static const struct kw_shape closed = {.type = KW_SHAPE_BOOL};
static const struct kw_shape role = {.type = KW_SHAPE_CHOICE, .listed = kw_role_name};
static const struct kw_shape roles = {.type = KW_SHAPE_ARRAY, .max = 4, .items = &role, .distinct = ""};

const struct kw_shape kw_shape_person = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a person",
        .members = (const struct kw_member[]){{"person", KW_NEEDED, &code, "the person's code"},
                                              {"name", KW_NEEDED, &name, "the name"},
                                              {"roles", KW_NEEDED, &roles, "the roles"},
                                              {"badge", KW_OPTIONAL, &code, "what the badge reads"},
                                              {"closed", KW_OPTIONAL, &closed, "whether the person has left"},
                                              {"note", KW_OPTIONAL, &prose, "what else there is to say"},
                                              END}};

const struct kw_shape kw_shape_terminal = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a terminal",
        .members = (const struct kw_member[]){{"terminal", KW_NEEDED, &code, "its code"},
                                              {"where", KW_NEEDED, &name, "where it stands"},
                                              {"closed", KW_OPTIONAL, &closed, "whether it is out of use"},
                                              {"note", KW_OPTIONAL, &prose, "what else there is to say"},
                                              END}};

/* --- tokens ----------------------------------------------------------------------------------- */

static const struct kw_shape kind = {.type = KW_SHAPE_CHOICE, .listed = kw_kind_name};
static const struct kw_shape reads = CHOICE("ledger", "metrics");
static const struct kw_shape only = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a purpose",
        .members = (const struct kw_member[]){{"kind", KW_OPTIONAL, &kind, "the one kind of entry"},
                                              {"machine", KW_OPTIONAL, &code, "the one machine"},
                                              {"instrument", KW_OPTIONAL, &code, "the one instrument"},
                                              {"read", KW_OPTIONAL, &reads, "what it reads"},
                                              END},
        .rules = (const struct kw_rule[]){{KW_RULE_APART, "kind", "read", "A token either records or reads"},
                                          {KW_RULE_APART, "machine", "read", "A token either records or reads"},
                                          {KW_RULE_APART, "instrument", "read", "A token either records or reads"},
                                          NO_MORE}};

const struct kw_shape kw_shape_token = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a token",
        .members = (const struct kw_member[]){{"token", KW_NEEDED, &code, "its name"},
                                              {"role", KW_NEEDED, &role, "its role"},
                                              {"only", KW_OPTIONAL, &only, "its one purpose"},
                                              {"expires", KW_OPTIONAL, &when, "until when it is good"},
                                              {"closed", KW_OPTIONAL, &closed, "whether it is out of use"},
                                              {"note", KW_OPTIONAL, &prose, "what else there is to say"},
                                              END}};

/* --- who came in ------------------------------------------------------------------------------ */

static const struct kw_shape what =
        CHOICE("sign-in", "sign-out", "refused", "locked", "denied", "password-set", "pin-set", "code-given",
               "pin-code-given", "terminal-code-given", "enrolled", "token-given");
static const struct kw_shape times = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 1000000000};

const struct kw_shape kw_shape_access = {
        .type = KW_SHAPE_OBJECT,
        .noun = "an access",
        .members = (const struct kw_member[]){{"what", KW_NEEDED, &what, "what happened"},
                                              {"person", KW_OPTIONAL, &code, "of whom"},
                                              {"terminal", KW_OPTIONAL, &code, "of which terminal"},
                                              {"token", KW_OPTIONAL, &code, "of which token"},
                                              {"why", KW_OPTIONAL, &name, "why, or how"},
                                              {"count", KW_OPTIONAL, &times, "how often, when more than once"},
                                              {"since", KW_OPTIONAL, &when, "since when"},
                                              END}};

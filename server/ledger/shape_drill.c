/*
 * The shapes of trials of the record itself: a mock recall, and certificates picked and walked back.
 */
#include "shape.h"

/* clang-format off */
#define END {NULL, KW_OPTIONAL, NULL, NULL}
#define NO_MORE {KW_RULE_END, NULL, NULL, NULL}
/* clang-format on */

static const struct kw_shape code = {.type = KW_SHAPE_CODE};
static const struct kw_shape name = {.type = KW_SHAPE_LINE, .min = 1, .max = 200};
static const struct kw_shape prose = {.type = KW_SHAPE_PROSE, .min = 1, .max = KW_TEXT_MAX};
static const struct kw_shape size = {.type = KW_SHAPE_INTEGER, .min = 1, .max = KW_JSON_INT_MAX};
static const struct kw_shape few = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 20};
static const struct kw_shape said = {.type = KW_SHAPE_ANY};

static const struct kw_shape seed = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a seed",
        .members = (const struct kw_member[]){{"size", KW_NEEDED, &size, "the ledger's size that was stated first"},
                                              {"text", KW_NEEDED, &name, "the text that was given afterwards"},
                                              END}};

const struct kw_shape kw_shape_drill = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a drill",
        .members = (const struct kw_member[]){{"lot", KW_OPTIONAL, &code, "the lot to recall"},
                                              {"seed", KW_OPTIONAL, &seed, "what a lot is drawn by"},
                                              {"note", KW_OPTIONAL, &prose, "why, and who took part"},
                                              {"chosen", KW_OPTIONAL, &said, "what was recalled"},
                                              {"found", KW_OPTIONAL, &said, "what was found"},
                                              END},
        .rules = (const struct kw_rule[]){
                {KW_RULE_ONE, "lot", "seed", "A drill recalls the lot it names (lot), or one drawn by a seed (seed)"},
                NO_MORE}};

const struct kw_shape kw_shape_sample = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a sample",
        .members = (const struct kw_member[]){{"n", KW_NEEDED, &few, "how many certificates"},
                                              {"seed", KW_NEEDED, &seed, "what they are drawn by"},
                                              {"note", KW_OPTIONAL, &prose, "why, and who took part"},
                                              {"chosen", KW_OPTIONAL, &said, "how they were drawn"},
                                              {"found", KW_OPTIONAL, &said, "what was found"},
                                              END}};

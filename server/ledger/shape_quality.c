/*
 * The shapes of tests, and of what they are judged by: instruments and specifications.
 */
#include "shape.h"

#include "kinwire/process.h"

#include <string.h>

#define MOST INT64_C(1000000000000) /* of a result */
/* clang-format off */
#define END {NULL, KW_OPTIONAL, NULL, NULL}
#define NO_MORE {KW_RULE_END, NULL, NULL, NULL}
#define CHOICE(...) {.type = KW_SHAPE_CHOICE, .choices = (const char *const[]){__VA_ARGS__, NULL}}
/* clang-format on */

static const struct kw_shape code = {.type = KW_SHAPE_CODE};
static const struct kw_shape name = {.type = KW_SHAPE_LINE, .min = 1, .max = 200};
static const struct kw_shape prose = {.type = KW_SHAPE_PROSE, .min = 1, .max = KW_TEXT_MAX};
static const struct kw_shape when = {.type = KW_SHAPE_TIME};

/* --- tests -------------------------------------------------------------------------------------------------- */

static const struct kw_shape value = {.type = KW_SHAPE_INTEGER, .min = 0, .max = MOST};
static const struct kw_shape place = {.type = KW_SHAPE_INTEGER, .min = 0, .max = MOST};
static const struct kw_shape sample = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 1000000000};
static const struct kw_shape verdict = CHOICE("pass", "fail");
static const struct kw_shape results = {.type = KW_SHAPE_MAP,
                                        .min = 1,
                                        .max = 100,
                                        .items = &value,
                                        .name_ok = kw_is_property,
                                        .names =
                                                "a property, such as tensile_kpa: 1 to 40 characters out of a-z 0-9 _"};

/* The name of the range is longer by six characters, and is a property too. */
static bool is_read_property(const char *text)
{
        return kw_is_property(text) && strlen(text) <= 40 - (sizeof("_range") - 1);
}

static const struct kw_shape read_several = {.type = KW_SHAPE_ARRAY, .min = 2, .max = 100, .items = &value};
static const struct kw_shape readings = {
        .type = KW_SHAPE_MAP,
        .min = 1,
        .max = 20,
        .items = &read_several,
        .name_ok = is_read_property,
        .names = "a property that is read several times, such as diameter_um: 1 to 34 characters out of a-z 0-9 _"};

const struct kw_shape kw_shape_test = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a test",
        .members = (const struct kw_member[]){{"test", KW_NEEDED, &code, "its number"},
                                              {"lot", KW_NEEDED, &code, "the lot that was sampled"},
                                              {"at_mm", KW_OPTIONAL, &place, "where the sample was taken"},
                                              {"sample_mm", KW_OPTIONAL, &sample, "the length of the sample"},
                                              {"instrument", KW_OPTIONAL, &code, "the instrument"},
                                              {"results", KW_OPTIONAL, &results, "what was measured"},
                                              {"readings", KW_OPTIONAL, &readings, "what was measured several times"},
                                              {"verdict", KW_OPTIONAL, &verdict, "pass or fail"},
                                              {"retest_of", KW_OPTIONAL, &code, "the test that it repeats"},
                                              END},
        .rules = (const struct kw_rule[]){
                {KW_RULE_ANY, "results", "readings", "A test needs what was measured (results, or readings)"},
                NO_MORE}};

/* --- instruments -------------------------------------------------------------------------------------------- */

static const struct kw_shape found = CHOICE("good", "bad");

const struct kw_shape kw_shape_instrument = {
        .type = KW_SHAPE_OBJECT,
        .noun = "an instrument",
        .members = (const struct kw_member[]){{"instrument", KW_NEEDED, &code, "its code"},
                                              {"what", KW_NEEDED, &name, "what it is"},
                                              {"calibrated", KW_OPTIONAL, &when, "when it was calibrated"},
                                              {"valid_until", KW_OPTIONAL, &when, "until when that holds"},
                                              {"found", KW_OPTIONAL, &found, "how it was found then: good or bad"},
                                              {"note", KW_OPTIONAL, &prose, "what else there is to say"},
                                              END},
        .rules = (const struct kw_rule[]){
                {KW_RULE_NOT_BEFORE, "calibrated", "valid_until", "It cannot end before the calibration"}, NO_MORE}};

/* --- specifications --------------------------------------------------------------------------------------- */

static int is_property(struct kw_walk *walk, const cJSON *text)
{
        return kw_is_property(text->valuestring)
                       ? 0
                       : kw_walk_refuse(walk, KW_BAD_VALUE, NULL, "property", NULL,
                                        "A property is named as in tensile_kpa: 1 to 40 characters out of a-z 0-9 _.");
}

/* A limit may be one value: the same least and greatest. */
static int is_band(struct kw_walk *walk, const cJSON *limit)
{
        const cJSON *min = kw_json_get(limit, "min"), *max = kw_json_get(limit, "max");

        if (!min || !max || min->valuedouble <= max->valuedouble)
                return 0;
        return kw_walk_refuse(walk, KW_BAD_ORDER, "max", "band", NULL, "The greatest value is below the least.");
}

static bool is_process(const char *text)
{
        return kw_process(text) != NULL;
}

static const struct kw_shape limit = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a limit",
        .members = (const struct kw_member[]){{"min", KW_OPTIONAL, &value, "the least value"},
                                              {"max", KW_OPTIONAL, &value, "the greatest value"},
                                              END},
        .rules = (const struct kw_rule[]){{KW_RULE_ANY, "min", "max", "A limit has a least or a greatest value"},
                                          NO_MORE},
        .also = is_band};
static const struct kw_shape limits = {.type = KW_SHAPE_MAP,
                                       .max = 100,
                                       .items = &limit,
                                       .name_ok = kw_is_property,
                                       .names = "a property, such as tensile_kpa: 1 to 40 characters out of a-z 0-9 _"};

static const struct kw_shape property = {.type = KW_SHAPE_LINE, .min = 1, .max = 40, .also = is_property};
static const struct kw_shape per = CHOICE("lot", "run");
static const struct kw_shape how_many = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 1000};
static const struct kw_shape needed_test = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a test that is needed",
        .members = (const struct kw_member[]){{"property", KW_NEEDED, &property, "what is measured"},
                                              {"per", KW_NEEDED, &per, "whether for each lot or each run"},
                                              {"n", KW_NEEDED, &how_many, "how many"},
                                              END}};
static const struct kw_shape needed_tests = {
        .type = KW_SHAPE_ARRAY, .max = 100, .items = &needed_test, .distinct = "property"};

static const struct kw_shape what = CHOICE("rod", "wire", "strand", "core", "rope");
static const struct kw_shape version = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 1000000};
static const struct kw_shape diameter = {.type = KW_SHAPE_INTEGER, .min = 10, .max = 200000};
static const struct kw_shape tensile = {.type = KW_SHAPE_INTEGER, .min = 100000, .max = 4000000};
static const struct kw_shape retests = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 100};
static const struct kw_shape multiple = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 10000};
static const struct kw_shape heats = CHOICE("one", "any");
static const struct kw_shape tolerance = {.type = KW_SHAPE_INTEGER, .min = 0, .max = 999999};
static const struct kw_shape tolerances = {
        .type = KW_SHAPE_MAP, .max = 100, .items = &tolerance, .name_ok = is_process, .names = "a process"};

const struct kw_shape kw_shape_spec = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a specification",
        .members =
                (const struct kw_member[]){
                        {"spec", KW_NEEDED, &code, "its code"},
                        {"version", KW_NEEDED, &version, "its version, a number"},
                        {"what", KW_NEEDED, &what, "what it is for"},
                        {"grade", KW_OPTIONAL, &name, "the grade it is for"},
                        {"diameter_from_um", KW_OPTIONAL, &diameter, "the least diameter it is for"},
                        {"diameter_below_um", KW_OPTIONAL, &diameter, "the diameter below which it ends"},
                        {"construction", KW_OPTIONAL, &name, "the construction it is for"},
                        {"tensile_grade_kpa", KW_OPTIONAL, &tensile, "the tensile grade it is for"},
                        {"limits", KW_NEEDED, &limits, "the limits of each property"},
                        {"tests", KW_NEEDED, &needed_tests, "the tests that are needed"},
                        {"retests", KW_OPTIONAL, &retests, "how many retests have to pass after a failed test"},
                        {"joint_multiple", KW_OPTIONAL, &multiple, "how many diameters joints are apart"},
                        {"joint_of_um", KW_OPTIONAL, &diameter, "the diameter that is of"},
                        {"heats", KW_OPTIONAL, &heats, "whether heats may be mixed"},
                        {"tolerance_ppm", KW_OPTIONAL, &tolerances, "the length tolerance of each process"},
                        {"source", KW_OPTIONAL, &name, "where its figures come from"},
                        END},
        .rules = (const struct kw_rule[]){
                {KW_RULE_RISING, "diameter_from_um", "diameter_below_um", "The diameters end before they begin"},
                NO_MORE}};

/* Written by the server beside the tolerance that it found for a run which states none. */
const struct kw_shape kw_shape_tolerance_by = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a version of a specification",
        .members = (const struct kw_member[]){{"spec", KW_NEEDED, &code, "its code"},
                                              {"version", KW_NEEDED, &version, "its version, a number"},
                                              END}};

/*
 * The shapes of all kinds of entry: one table of members a kind, and the list of kinds at the end.
 *
 * Units are in the names. A new kind is a table here, a row in kinds[], and its $defs in schema/entry.schema.json.
 */
#include "shape.h"

#include <string.h>

#define LENGTH_MAX INT64_C(1000000000000) /* mm */
/* clang-format off */
#define END {NULL, KW_OPTIONAL, NULL, NULL}
#define NO_MORE {KW_RULE_END, NULL, NULL, NULL}
#define CHOICE(...) {.type = KW_SHAPE_CHOICE, .choices = (const char *const[]){__VA_ARGS__, NULL}}
#define WHOLE_INTERVAL \
        {KW_RULE_PAIR, "from_mm", "to_mm", "an interval has both its ends"}, \
        {KW_RULE_RISING, "from_mm", "to_mm", "An interval runs from the smaller place to the greater one"}
#define IN_TIME {KW_RULE_NOT_BEFORE, "started", "ended", "It cannot have ended before it started"}
/* clang-format on */

/* --- single values ------------------------------------------------------------------------------ */

static const struct kw_shape code = {.type = KW_SHAPE_CODE};
static const struct kw_shape lot_code = {.type = KW_SHAPE_CODE, .stands_for = "lot"};
static const struct kw_shape name = {.type = KW_SHAPE_LINE, .min = 1, .max = 200};
static const struct kw_shape label = {.type = KW_SHAPE_LINE, .min = 1, .max = 80};
static const struct kw_shape prose = {.type = KW_SHAPE_PROSE, .min = 1, .max = KW_TEXT_MAX};
static const struct kw_shape when = {.type = KW_SHAPE_TIME};
static const struct kw_shape entry_key = {.type = KW_SHAPE_KEY};
static const struct kw_shape other_body = {.type = KW_SHAPE_ANY};

static const struct kw_shape place = {.type = KW_SHAPE_INTEGER, .min = 0, .max = LENGTH_MAX};
static const struct kw_shape length = {.type = KW_SHAPE_INTEGER, .min = 1, .max = LENGTH_MAX};
static const struct kw_shape diameter = {.type = KW_SHAPE_INTEGER, .min = 10, .max = 200000};
static const struct kw_shape tensile = {.type = KW_SHAPE_INTEGER, .min = 100000, .max = 4000000};
static const struct kw_shape mass = {.type = KW_SHAPE_INTEGER, .min = 1, .max = INT64_C(10000000000)};
static const struct kw_shape affected = {.type = KW_SHAPE_INTEGER, .min = 0, .max = 1000000000};
static const struct kw_shape tolerance = {.type = KW_SHAPE_INTEGER, .min = 0, .max = 999999};
static const struct kw_shape share = {.type = KW_SHAPE_INTEGER, .min = 0, .max = 1000000};

static const struct kw_shape lot_kind = {.type = KW_SHAPE_CHOICE, .listed = kw_lot_kind_name};
static const struct kw_shape process = {.type = KW_SHAPE_CHOICE, .listed = kw_process_name};
static const struct kw_shape end_of_lot = CHOICE("outer", "inner");
static const struct kw_shape join = CHOICE("weld", "braze", "tuck");
static const struct kw_shape origin = {.type = KW_SHAPE_ORIGIN,
                                       .choices = (const char *const[]){"heat", "lot", "run", "batch", "weld", "test",
                                                                        "certificate", "machine", "instrument",
                                                                        "consignment", "supply", NULL}};

static const struct kw_shape setting = {.type = KW_SHAPE_SETTING, .min = 1, .max = 200};
static const struct kw_shape settings = {.type = KW_SHAPE_MAP,
                                         .max = 200,
                                         .items = &setting,
                                         .name_ok = kw_is_property,
                                         .names = "a name for a setting: 1 to 40 characters out of a-z 0-9 _"};

/* --- lists of lots -------------------------------------------------------------------------------- */

static const struct kw_shape lot_span = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a lot in a list",
        .stands_for = "lot",
        .members = (const struct kw_member[]){{"lot", KW_NEEDED, &code, "the code on the lot's label"},
                                              {"from_mm", KW_OPTIONAL, &place, "where the interval begins"},
                                              {"to_mm", KW_OPTIONAL, &place, "where the interval ends"},
                                              END},
        .rules = (const struct kw_rule[]){WHOLE_INTERVAL, NO_MORE}};
const struct kw_shape kw_shape_lot_spans = {.type = KW_SHAPE_ARRAY, .min = 1, .max = 20000, .items = &lot_span};
static const struct kw_shape lots = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 20000, .items = &lot_code, .distinct = ""};
static const struct kw_shape codes = {.type = KW_SHAPE_ARRAY, .min = 0, .max = 2000, .items = &code, .distinct = ""};

/* --- goods-in ------------------------------------------------------------------------------------- */

static const struct kw_shape analysis = {.type = KW_SHAPE_MAP,
                                         .min = 1,
                                         .max = 100,
                                         .items = &share,
                                         .name_ok = kw_is_element,
                                         .names = "an element, such as C, Mn or Cr+Ni+Cu"};
static const struct kw_shape heat = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a heat",
        .members = (const struct kw_member[]){{"heat", KW_NEEDED, &code, "the steelmaker's heat number"},
                                              {"supplier", KW_NEEDED, &name, "the steelmaker's name"},
                                              {"grade", KW_NEEDED, &name, "the grade of the steel"},
                                              {"mill_certificate", KW_OPTIONAL, &name, "the certificate's number"},
                                              {"analysis_ppm", KW_OPTIONAL, &analysis, "the analysis, in ppm by mass"},
                                              END}};

static const struct kw_shape supply = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a supply",
        .members = (const struct kw_member[]){{"supply", KW_NEEDED, &code, "a code for this delivery"},
                                              {"what", KW_NEEDED, &name, "what was delivered"},
                                              {"supplier", KW_NEEDED, &name, "the supplier's name"},
                                              {"supplier_lot", KW_OPTIONAL, &name, "the supplier's lot number"},
                                              {"settings", KW_OPTIONAL, &settings, "its properties"},
                                              END}};

static const struct kw_shape measured = {.type = KW_SHAPE_ARRAY, .min = 1, .max = 32, .items = &diameter};
static const struct kw_shape receive = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a received lot",
        .members = (const struct kw_member[]){{"lot", KW_NEEDED, &code, "the code on its label"},
                                              {"kind", KW_OPTIONAL, &lot_kind, "the kind of lot"},
                                              {"heat", KW_OPTIONAL, &code, "its heat"},
                                              {"supply", KW_OPTIONAL, &code, "its supply"},
                                              {"diameter_um", KW_OPTIONAL, &diameter, "its nominal diameter"},
                                              {"length_mm", KW_OPTIONAL, &length, "its length"},
                                              {"mass_g", KW_OPTIONAL, &mass, "its mass"},
                                              {"measured_um", KW_OPTIONAL, &measured, "measured diameters"},
                                              {"tensile_grade_kpa", KW_OPTIONAL, &tensile, "its tensile grade"},
                                              {"order", KW_OPTIONAL, &label, "the order it was bought on"},
                                              {"location", KW_OPTIONAL, &label, "where it was put"},
                                              END},
        .rules = (const struct kw_rule[]){{KW_RULE_ONE, "heat", "supply",
                                           "A received lot is of a heat or of a supply; name one of them"},
                                          {KW_RULE_ANY, "length_mm", "mass_g",
                                           "A received lot needs its length (length_mm) or its mass (mass_g)"},
                                          NO_MORE},
        .also = kw_receive_measures};

/* --- batches and runs ----------------------------------------------------------------------------- */

static const struct kw_shape batch = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a batch",
        .members = (const struct kw_member[]){{"batch", KW_NEEDED, &code, "a code for the batch"},
                                              {"process", KW_NEEDED, &process, "the process"},
                                              {"machine", KW_NEEDED, &code, "the machine, bath or furnace"},
                                              {"started", KW_OPTIONAL, &when, "when it started"},
                                              {"ended", KW_OPTIONAL, &when, "when it ended"},
                                              {"settings", KW_OPTIONAL, &settings, "the machine's settings"},
                                              {"lots", KW_OPTIONAL, &kw_shape_lot_spans, "the lots treated"},
                                              END},
        .rules = (const struct kw_rule[]){IN_TIME, NO_MORE}};

static const struct kw_shape feed = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a feed",
        .members =
                (const struct kw_member[]){{"lot", KW_NEEDED, &code, "the code on the label of the lot that was fed"},
                                           {"from_mm", KW_OPTIONAL, &place, "where the interval taken begins"},
                                           {"to_mm", KW_OPTIONAL, &place, "where the interval taken ends"},
                                           {"take_mm", KW_OPTIONAL, &length, "the length taken"},
                                           {"off", KW_OPTIONAL, &end_of_lot, "the end it pays off from"},
                                           {"weld", KW_OPTIONAL, &code, "the joint before this feed"},
                                           {"join", KW_OPTIONAL, &join, "how the joint was made"},
                                           {"affected_mm", KW_OPTIONAL, &affected, "what the joint affects each way"},
                                           {"seen_at_mm", KW_OPTIONAL, &length, "the counter when the joint was seen"},
                                           END},
        .rules = (const struct kw_rule[]){
                WHOLE_INTERVAL,
                {KW_RULE_APART, "from_mm", "take_mm", "A feed takes an interval or a length (take_mm), not both"},
                NO_MORE}};
static const struct kw_shape feeds = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 2000, .items = &feed, .also = kw_first_feed_has_no_join};
/* A line is named within its run: its label stays as it was written. */
static const struct kw_shape line_label = {.type = KW_SHAPE_LINE, .min = 1, .max = KW_CODE_MAX};
static const struct kw_shape line = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a line",
        .members = (const struct kw_member[]){{"line", KW_NEEDED, &line_label, "its label, such as 1 or core"},
                                              {"feeds", KW_NEEDED, &feeds, "the lots that were fed, in order"},
                                              END}};
static const struct kw_shape lines = {.type = KW_SHAPE_ARRAY, .min = 1, .max = 400, .items = &line, .distinct = "line"};

static const struct kw_shape scrap_package = {
        .type = KW_SHAPE_OBJECT,
        .noun = "scrap in the order made",
        .members = (const struct kw_member[]){{"scrap_mm", KW_NEEDED, &length, "the length scrapped"},
                                              {"reason", KW_OPTIONAL, &prose, "why it was scrapped"},
                                              END}};
static const struct kw_shape package = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a package",
        .tag = "scrap_mm",
        .tagged = &scrap_package,
        .members = (const struct kw_member[]){
                {"lot", KW_NEEDED, &code, "the code on its new label"},
                {"kind", KW_NEEDED, &lot_kind, "the kind of lot"},
                {"length_mm", KW_NEEDED, &length, "its length"},
                {"mass_g", KW_OPTIONAL, &mass, "its mass"},
                {"diameter_um", KW_OPTIONAL, &diameter, "its diameter"},
                {"construction", KW_OPTIONAL, &name, "its construction, such as 6x36WS-IWRC"},
                {"tensile_grade_kpa", KW_OPTIONAL, &tensile, "its tensile grade"},
                {"doffed", KW_OPTIONAL, &when, "when it was taken off"},
                {"location", KW_OPTIONAL, &label, "where it was put"},
                END}};
static const struct kw_shape packages = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 2000, .items = &package, .distinct = "lot"};

static const struct kw_shape yes_or_no = {.type = KW_SHAPE_BOOL};

/* What a person was warned of and went on with. */
static const struct kw_shape accepted_one = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a warning that was accepted",
        .members = (const struct kw_member[]){{"code", KW_NEEDED, &label, "the finding's code"},
                                              {"reason", KW_NEEDED, &prose, "why it was accepted"},
                                              END}};
static const struct kw_shape accepted = {.type = KW_SHAPE_ARRAY, .min = 1, .max = 20, .items = &accepted_one};

/* Written by the server; what a sender says here is replaced. */
static const struct kw_shape overridden_holds = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 20000, .items = &code, .noun = "the holds"};

static const struct kw_shape override = {
        .type = KW_SHAPE_OBJECT,
        .noun = "an override",
        .members = (const struct kw_member[]){{"reason", KW_NEEDED, &prose, "the reason"},
                                              {"holds", KW_OPTIONAL, &overridden_holds, "the holds"},
                                              END}};

static const struct kw_shape run = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a run",
        .members =
                (const struct kw_member[]){
                        {"run", KW_NEEDED, &code, "a code for the run"},
                        {"process", KW_NEEDED, &process, "the process"},
                        {"machine", KW_NEEDED, &code, "the machine"},
                        {"started", KW_OPTIONAL, &when, "when it started"},
                        {"ended", KW_OPTIONAL, &when, "when it ended"},
                        {"batch", KW_OPTIONAL, &code, "the batch it was made under"},
                        {"tolerance_ppm", KW_OPTIONAL, &tolerance, "how far its lengths may be out"},
                        {"tolerance_by", KW_OPTIONAL, &kw_shape_tolerance_by, "the specification that says so"},
                        {"supplies", KW_OPTIONAL, &codes, "the supplies it used"},
                        {"settings", KW_OPTIONAL, &settings, "the machine's settings"},
                        {"lines", KW_NEEDED, &lines, "what went in"},
                        {"packages", KW_NEEDED, &packages, "what came out"},
                        {"override", KW_OPTIONAL, &override, "why it is recorded in spite of a hold"},
                        {"order", KW_OPTIONAL, &code, "the order it was made for"},
                        {"accepted", KW_OPTIONAL, &accepted, "the warnings that were accepted"},
                        END},
        .rules = (const struct kw_rule[]){IN_TIME, NO_MORE},
        .also = kw_run_welds_distinct};

/* --- orders, and a run as it happens ------------------------------------------------------------------ */

static const struct kw_shape pieces_count = {.type = KW_SHAPE_INTEGER, .min = 1, .max = 100000};
static const struct kw_shape piece = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a line of the cutting list",
        .members = (const struct kw_member[]){{"length_mm", KW_NEEDED, &length, "the length of each"},
                                              {"n", KW_NEEDED, &pieces_count, "how many"},
                                              END}};
static const struct kw_shape cutting_list = {.type = KW_SHAPE_ARRAY, .min = 1, .max = 500, .items = &piece};

static const struct kw_shape order = {
        .type = KW_SHAPE_OBJECT,
        .noun = "an order",
        .members = (const struct kw_member[]){{"order", KW_NEEDED, &code, "its number"},
                                              {"customer", KW_OPTIONAL, &name, "whom it is for"},
                                              {"process", KW_OPTIONAL, &process, "the process it asks for"},
                                              {"grade", KW_OPTIONAL, &name, "the grade of the steel"},
                                              {"diameter_um", KW_OPTIONAL, &diameter, "the diameter out"},
                                              {"diameter_tolerance_um", KW_OPTIONAL, &place, "how far that may be out"},
                                              {"construction", KW_OPTIONAL, &name, "the construction"},
                                              {"tensile_grade_kpa", KW_OPTIONAL, &tensile, "the tensile grade"},
                                              {"joint_distance_mm", KW_OPTIONAL, &length, "how far joints are apart"},
                                              {"one_heat", KW_OPTIONAL, &yes_or_no, "whether heats may not be mixed"},
                                              {"machine", KW_OPTIONAL, &code, "the machine it is for"},
                                              {"pieces", KW_OPTIONAL, &cutting_list, "the lengths to be cut"},
                                              END}};

static const struct kw_shape line_labels = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 400, .items = &line_label, .distinct = ""};
static const struct kw_shape open_run = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a run that begins",
        .members = (const struct kw_member[]){
                {"run", KW_NEEDED, &code, "a code for the run"},
                {"process", KW_NEEDED, &process, "the process"},
                {"machine", KW_NEEDED, &code, "the machine"},
                {"started", KW_OPTIONAL, &when, "when it started"},
                {"batch", KW_OPTIONAL, &code, "the batch it is made under"},
                {"tolerance_ppm", KW_OPTIONAL, &tolerance, "how far its lengths may be out"},
                {"tolerance_by", KW_OPTIONAL, &kw_shape_tolerance_by, "the specification that says so"},
                {"supplies", KW_OPTIONAL, &codes, "the supplies it uses"},
                {"settings", KW_OPTIONAL, &settings, "the machine's settings"},
                {"order", KW_OPTIONAL, &code, "the order it is made for"},
                {"lines", KW_NEEDED, &line_labels, "the labels of its lines"},
                {"accepted", KW_OPTIONAL, &accepted, "the warnings that were accepted"},
                END}};

/* Written by the server: the intervals that a load took, in the order in which they pay off. */
static const struct kw_shape interval = {.type = KW_SHAPE_ARRAY, .min = 2, .max = 2, .items = &place};
static const struct kw_shape intervals = {.type = KW_SHAPE_ARRAY, .min = 1, .max = 2000, .items = &interval};
static const struct kw_shape load = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a lot that is loaded",
        .members =
                (const struct kw_member[]){{"run", KW_NEEDED, &code, "the run under way"},
                                           {"line", KW_NEEDED, &line_label, "the line it goes on"},
                                           {"lot", KW_NEEDED, &code, "the code on its label"},
                                           {"from_mm", KW_OPTIONAL, &place, "where the interval taken begins"},
                                           {"to_mm", KW_OPTIONAL, &place, "where the interval taken ends"},
                                           {"take_mm", KW_OPTIONAL, &length, "the length taken"},
                                           {"off", KW_OPTIONAL, &end_of_lot, "the end it pays off from"},
                                           {"weld", KW_OPTIONAL, &code, "the joint before it"},
                                           {"join", KW_OPTIONAL, &join, "how the joint was made"},
                                           {"affected_mm", KW_OPTIONAL, &affected, "what the joint affects each way"},
                                           {"seen_at_mm", KW_OPTIONAL, &length, "the counter when the joint was seen"},
                                           {"taken", KW_OPTIONAL, &intervals, "the intervals it took"},
                                           {"accepted", KW_OPTIONAL, &accepted, "the warnings that were accepted"},
                                           END},
        .rules = (const struct kw_rule[]){
                WHOLE_INTERVAL,
                {KW_RULE_APART, "from_mm", "take_mm", "A load takes an interval or a length (take_mm), not both"},
                NO_MORE}};

static const struct kw_shape doff_scrap = {
        .type = KW_SHAPE_OBJECT,
        .noun = "scrap taken off",
        .members = (const struct kw_member[]){{"run", KW_NEEDED, &code, "the run under way"},
                                              {"scrap_mm", KW_NEEDED, &length, "the length scrapped"},
                                              {"reason", KW_OPTIONAL, &prose, "why it was scrapped"},
                                              END}};
static const struct kw_shape doff = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a package taken off",
        .tag = "scrap_mm",
        .tagged = &doff_scrap,
        .members = (const struct kw_member[]){
                {"run", KW_NEEDED, &code, "the run under way"},
                {"lot", KW_NEEDED, &code, "the code on its new label"},
                {"kind", KW_NEEDED, &lot_kind, "the kind of lot"},
                {"length_mm", KW_NEEDED, &length, "its length"},
                {"mass_g", KW_OPTIONAL, &mass, "its mass"},
                {"diameter_um", KW_OPTIONAL, &diameter, "its diameter"},
                {"construction", KW_OPTIONAL, &name, "its construction, such as 6x36WS-IWRC"},
                {"tensile_grade_kpa", KW_OPTIONAL, &tensile, "its tensile grade"},
                {"doffed", KW_OPTIONAL, &when, "when it was taken off"},
                {"location", KW_OPTIONAL, &label, "where it was put"},
                {"accepted", KW_OPTIONAL, &accepted, "the warnings that were accepted"},
                END}};

static const struct kw_shape left_one = {
        .type = KW_SHAPE_OBJECT,
        .noun = "what is left on a line",
        .members = (const struct kw_member[]){{"line", KW_NEEDED, &line_label, "the line"},
                                              {"left_mm", KW_NEEDED, &place, "the length left on its bobbin"},
                                              END}};
static const struct kw_shape lefts = {.type = KW_SHAPE_ARRAY, .max = 400, .items = &left_one, .distinct = "line"};
static const struct kw_shape close_run = {
        .type = KW_SHAPE_OBJECT,
        .noun = "the end of a run",
        .members = (const struct kw_member[]){{"run", KW_NEEDED, &code, "the run under way"},
                                              {"ended", KW_OPTIONAL, &when, "when it ended"},
                                              {"left", KW_OPTIONAL, &lefts, "what is left on the lines"},
                                              {"accepted", KW_OPTIONAL, &accepted, "the warnings that were accepted"},
                                              END}};

/* --- scrap ---------------------------------------------------------------------------------------- */

static const struct kw_shape scrap = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a scrap entry",
        .members = (const struct kw_member[]){{"lot", KW_NEEDED, &code, "the code on the lot's label"},
                                              {"from_mm", KW_OPTIONAL, &place, "where the scrap begins"},
                                              {"to_mm", KW_OPTIONAL, &place, "where the scrap ends"},
                                              {"reason", KW_NEEDED, &prose, "the reason"},
                                              END},
        .rules = (const struct kw_rule[]){WHOLE_INTERVAL, NO_MORE}};

/* --- what leaves the mill ---------------------------------------------------------------------------- */

static const struct kw_shape dispatch = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a dispatch",
        .members = (const struct kw_member[]){{"consignment", KW_NEEDED, &code, "the consignment's number"},
                                              {"consignee", KW_NEEDED, &name, "whom it is sent to"},
                                              {"lots", KW_NEEDED, &lots, "the lots that are sent"},
                                              END}};

static const struct kw_shape move = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a move",
        .members = (const struct kw_member[]){{"lots", KW_NEEDED, &lots, "the lots that were moved"},
                                              {"location", KW_NEEDED, &label, "where to"},
                                              END}};

/* --- entries about entries ------------------------------------------------------------------------------ */

static const struct kw_shape correct = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a correction",
        .members =
                (const struct kw_member[]){{"entry", KW_NEEDED, &entry_key, "the key of the entry that it puts right"},
                                           {"reason", KW_NEEDED, &prose, "the reason"},
                                           {"body", KW_NEEDED, &other_body, "the right body, in full"},
                                           END}};

static const struct kw_shape void_entry = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a void entry",
        .members =
                (const struct kw_member[]){{"entry", KW_NEEDED, &entry_key, "the key of the entry that it takes back"},
                                           {"reason", KW_NEEDED, &prose, "the reason"},
                                           END}};

static const struct kw_shape note = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a note",
        .members = (const struct kw_member[]){{"about", KW_NEEDED, &origin, "what it is about, as in lot:BB-12"},
                                              {"text", KW_NEEDED, &prose, "its text"},
                                              END}};

static const struct {
        const char *kind;
        const struct kw_shape *shape;
} kinds[] = {
        {"heat", &heat},
        {"supply", &supply},
        {"receive", &receive},
        {"batch", &batch},
        {"run", &run},
        {"test", &kw_shape_test},
        {"hold", &kw_shape_hold},
        {"release", &kw_shape_release},
        {"scrap", &scrap},
        {"certify", &kw_shape_certify},
        {"withdraw", &kw_shape_withdraw},
        {"dispatch", &dispatch},
        {"move", &move},
        {"correct", &correct},
        {"void", &void_entry},
        {"note", &note},
        {"order", &order},
        {"open", &open_run},
        {"load", &load},
        {"doff", &doff},
        {"close", &close_run},
        {"instrument", &kw_shape_instrument},
        {"spec", &kw_shape_spec},
        {"person", &kw_shape_person},
        {"terminal", &kw_shape_terminal},
        {"token", &kw_shape_token},
        {"access", &kw_shape_access},
        {"agree", &kw_shape_agree},
        {"drill", &kw_shape_drill},
        {"sample", &kw_shape_sample},
        {"clear", &kw_shape_clear},
};

const char *kw_kind_name(size_t i)
{
        return i < sizeof(kinds) / sizeof(*kinds) ? kinds[i].kind : NULL;
}

const struct kw_shape *kw_kind_shape(const char *kind)
{
        for (size_t i = 0; i < sizeof(kinds) / sizeof(*kinds); i++)
                if (strcmp(kinds[i].kind, kind) == 0)
                        return kinds[i].shape;
        return NULL;
}

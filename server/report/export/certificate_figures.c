/*
 * The figures of a certificate, in tables: each beside the number of its entry.
 */
#include "certificate.h"

#include <inttypes.h>
#include <string.h>

#define NONE INT64_MIN

/* --- numbers as they are read ---------------------------------------------------------------------------- */

/* @n thousandths with as many decimals as are not nought, at least @least. */
static const char *thousandths(struct kw_sheet *s, int64_t n, int least)
{
        const char *sign = n < 0 ? "-" : "";
        uint64_t all = n < 0 ? 0 - (uint64_t)n : (uint64_t)n;
        int places = all % 10 ? 3 : all % 100 ? 2 : all % 1000 ? 1 : 0;
        uint64_t rest = all % 1000;

        if (n == NONE)
                return NULL;
        places = places < least ? least : places;
        for (int i = places; i < 3; i++)
                rest /= 10;
        if (!places)
                return kw_sheet_words(s, "%s%" PRIu64, sign, all / 1000);
        return kw_sheet_words(s, "%s%" PRIu64 ".%0*" PRIu64, sign, all / 1000, places, rest);
}

static int64_t number(const cJSON *object, const char *name)
{
        return kw_json_int(object, name, NONE);
}

/* How the values of a property are said: its name ends in its unit. */
static const struct property {
        const char *name, *says, *unit;
        bool thousandths; /* the unit stands for a thousand of what is stored */
} properties[] = {
        {"breaking_n", "breaking force", "kN", true},
        {"tensile_kpa", "tensile strength", "N/mm\xc2\xb2", true},
        {"yield_kpa", "yield strength", "N/mm\xc2\xb2", true},
        {"diameter_um", "diameter", "mm", true},
        {"diameter_range_um", "diameter, greatest less least", "mm", true},
        {"tensile_range_kpa", "tensile strength, greatest less least", "N/mm\xc2\xb2", true},
        {"out_of_round_um", "out of round", "mm", true},
        {"lay_um", "lay length", "mm", true},
        {"zinc_mg_m2", "mass of zinc", "g/m\xc2\xb2", true},
        {"torsions", "torsions", "", false},
        {"bends", "reverse bends", "", false},
};

static struct property property_of(struct kw_sheet *s, const char *name)
{
        static const struct {
                const char *end, *unit;
        } ends[] = {{"_n", "kN"}, {"_kpa", "N/mm\xc2\xb2"}, {"_um", "mm"}, {"_mm", "m"},
                    {"_g", "kg"}, {"_mg_m2", "g/m\xc2\xb2"}};
        size_t n = strlen(name);

        for (size_t i = 0; i < sizeof(properties) / sizeof(*properties); i++)
                if (strcmp(properties[i].name, name) == 0)
                        return properties[i];
        for (size_t i = 0; i < sizeof(ends) / sizeof(*ends); i++) {
                size_t end = strlen(ends[i].end);

                if (n > end && strcmp(name + n - end, ends[i].end) == 0)
                        return (struct property){name, kw_sheet_words(s, "%.*s", (int)(n - end), name), ends[i].unit,
                                                 true};
        }
        return (struct property){name, name, "", false};
}

static const char *figure_of(struct kw_sheet *s, const struct property *property, int64_t value)
{
        if (value == NONE)
                return NULL;
        return property->thousandths ? thousandths(s, value, 0) : kw_sheet_words(s, "%" PRId64, value);
}

static const char *value_of(struct kw_sheet *s, const struct property *property, int64_t value)
{
        const char *figure = figure_of(s, property, value);

        return figure && *property->unit ? kw_sheet_words(s, "%s %s", figure, property->unit) : figure;
}

static const char *limits_of(struct kw_sheet *s, const struct property *property, const cJSON *result)
{
        const char *min = value_of(s, property, number(result, "min")),
                   *max = value_of(s, property, number(result, "max"));

        if (min && max)
                return kw_sheet_words(s, "%s to %s", figure_of(s, property, number(result, "min")), max);
        return min ? kw_sheet_words(s, "at least %s", min) : max ? kw_sheet_words(s, "at most %s", max) : "no limit";
}

static bool is_empty(const cJSON *array)
{
        return !array || !array->child;
}

/* --- reels ------------------------------------------------------------------------------------------------- */

void kw_sheet_reels(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {{"Rope number", 0.17, false}, {"Construction", 0.18, false},
                                                         {"Diameter, mm", 0.1, true},  {"Length, m", 0.11, true},
                                                         {"Mass, kg", 0.1, true},      {"Joints", 0.08, true},
                                                         {"Order", 0.16, false},       {"Entry", 0.1, true}};
        const cJSON *reel;

        kw_paper_heading(s->p, "Products");
        kw_paper_table(s->p, columns, 8);
        cJSON_ArrayForEach(reel, kw_json_get(s->document, "reels"))
        {
                const cJSON *order = kw_json_get(reel, "order");
                const int64_t entry = kw_json_int(reel, "entry", 0);
                const struct kw_paper_cell cells[] = {
                        {kw_json_text(reel, "reel"), NULL},
                        {kw_json_text(reel, "construction"), NULL},
                        {thousandths(s, number(reel, "diameter_um"), 1), NULL},
                        {thousandths(s, number(reel, "length_mm"), 0), NULL},
                        {thousandths(s, number(reel, "mass_g"), 0), NULL},
                        {kw_sheet_words(s, "%" PRId64, kw_json_int(kw_json_get(reel, "joints"), "count", 0)), NULL},
                        {order ? kw_sheet_words(s, "%s %s", kw_json_text(order, "order"),
                                                kw_json_int(order, "entry", 0)
                                                        ? kw_sheet_entry(s, kw_json_int(order, "entry", 0))
                                                        : "")
                               : NULL,
                         NULL},
                        {kw_sheet_entry(s, entry), NULL}};
                const char *const links[8] = {[0] = kw_sheet_link(s, entry),
                                              [6] = kw_sheet_link(s, kw_json_int(order, "entry", 0)),
                                              [7] = kw_sheet_link(s, entry)};

                kw_paper_row_linked(s->p, cells, links);
        }
        kw_paper_table_end(s->p);
}

/* --- strength -------------------------------------------------------------------------------------------------- */

static void put_strength(struct kw_sheet *s, const cJSON *reel)
{
        const cJSON *wires = kw_json_get(reel, "wires"), *spec = kw_json_get(reel, "spec");
        const int64_t aggregate = number(wires, "aggregate_n"), minimum = number(spec, "minimum_n"),
                      area = number(wires, "area_um2"), entry = kw_json_int(reel, "entry", 0),
                      judged = kw_json_int(spec, "entry", 0);
        const struct kw_paper_cell cells[] = {
                {kw_json_text(reel, "reel"), NULL},
                {spec ? kw_sheet_words(s, "%s v%" PRId64, kw_json_text(spec, "spec"),
                                       kw_json_int(spec, "version", 0))
                      : NULL,
                 NULL},
                {thousandths(s, minimum, 0), NULL},
                {kw_sheet_entry(s, judged), NULL},
                {wires ? kw_sheet_words(s, "%s of %s", thousandths(s, number(wires, "tested_milli"), 0),
                                        thousandths(s, number(wires, "wires_milli"), 0))
                       : NULL,
                 NULL},
                {aggregate == NONE ? wires ? "not all tested" : NULL : thousandths(s, aggregate, 0), NULL},
                {area == NONE ? NULL : thousandths(s, (area + 500) / 1000, 0), NULL},
                {kw_sheet_entry(s, entry), NULL}};
        const char *const links[8] = {
                [2] = kw_sheet_link(s, judged), [3] = kw_sheet_link(s, judged), [7] = kw_sheet_link(s, entry)};

        kw_paper_row_linked(s->p, cells, links);
}

void kw_sheet_strength(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {
                {"Rope number", 0.17, false},          {"Specification", 0.18, false},
                {"Minimum force, kN", 0.13, true},     {"Entry", 0.08, true},
                {"Wires tested", 0.13, true},          {"Sum of wires, kN", 0.13, true},
                {"Metal area, mm\xc2\xb2", 0.1, true}, {"Entry", 0.08, true}};
        const cJSON *reel;
        bool any = false;

        cJSON_ArrayForEach(reel, kw_json_get(s->document, "reels")) any =
                any || kw_json_get(reel, "wires") || kw_json_get(reel, "spec");
        if (!any)
                return;
        kw_paper_heading(s->p, "Strength");
        kw_paper_text(s->p, "The sum of wires is that of the breaking forces of the very wires in the rope, by their "
                            "tests before rope making; it is not the breaking force of the rope.");
        kw_paper_space(s->p, 3);
        kw_paper_table(s->p, columns, 8);
        cJSON_ArrayForEach(reel, kw_json_get(s->document, "reels")) put_strength(s, reel);
        kw_paper_table_end(s->p);
}

/* --- tests ------------------------------------------------------------------------------------------------------- */

static const char *verdict_of(struct kw_sheet *s, const cJSON *test)
{
        const char *verdict = kw_json_text(test, "verdict");
        const int64_t concession = kw_json_int(test, "conceded", 0);

        if (concession)
                return kw_sheet_words(s, "%s, conceded #%" PRId64, verdict, concession);
        return verdict ? verdict : "none given";
}

static void put_result(struct kw_sheet *s, const cJSON *test, const cJSON *result)
{
        const struct property property = property_of(s, kw_json_text(result, "property"));
        const cJSON *spec = kw_json_get(test, "spec");
        const int64_t entry = kw_json_int(test, "entry", 0), judged = kw_json_int(spec, "entry", 0);
        const struct kw_paper_cell cells[] = {
                {kw_json_text(test, "test"), NULL},
                {kw_json_text(test, "lot"), NULL},
                {property.says, NULL},
                {value_of(s, &property, number(result, "value")), NULL},
                {kw_sheet_words(s, "%s%s", limits_of(s, &property, result),
                                spec ? kw_sheet_words(s, "; %s v%" PRId64 " #%" PRId64, kw_json_text(spec, "spec"),
                                                      kw_json_int(spec, "version", 0), judged)
                                     : ""),
                 NULL},
                {value_of(s, &property, number(result, "margin")), NULL},
                {kw_json_text(test, "instrument"), NULL},
                {verdict_of(s, test), NULL},
                {kw_sheet_entry(s, entry), NULL}};
        const char *const links[9] = {[0] = kw_sheet_link(s, entry),
                                      [3] = kw_sheet_link(s, entry),
                                      [4] = kw_sheet_link(s, judged),
                                      [8] = kw_sheet_link(s, entry)};

        kw_paper_row_linked(s->p, cells, links);
}

void kw_sheet_tests(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {
                {"Test", 0.09, false},  {"On", 0.11, false},      {"Property", 0.13, false},
                {"Result", 0.11, true}, {"Limit", 0.2, false},    {"Margin", 0.09, true},
                {"With", 0.1, false},   {"Verdict", 0.09, false}, {"Entry", 0.08, true}};
        const cJSON *tests = kw_json_get(s->document, "tests"), *test, *result;
        const int64_t more = kw_json_int(s->document, "tests_not_shown", 0);

        if (is_empty(tests))
                return;
        kw_paper_heading(s->p, "Tests");
        kw_paper_table(s->p, columns, 9);
        cJSON_ArrayForEach(test, tests)
        {
                cJSON_ArrayForEach(result, kw_json_get(test, "results")) put_result(s, test, result);
        }
        kw_paper_table_end(s->p);
        if (more)
                kw_paper_text(s->p, kw_sheet_words(s, "%" PRId64 " more tests are in the ledger.", more));
}

/* --- heats ---------------------------------------------------------------------------------------------------------
 */

/* Percentages, as mill certificates give them: 8233 ppm is 0.8233 %. */
static const char *analysis_of(struct kw_sheet *s, const cJSON *heat)
{
        struct kw_buf list = {0};
        const cJSON *element;
        const char *text;

        cJSON_ArrayForEach(element, kw_json_get(heat, "analysis_ppm"))
        {
                const int64_t ppm = (int64_t)element->valuedouble;

                kw_buf_printf(&list, "%s%s %" PRId64 ".%04" PRId64, list.n ? "  " : "", element->string, ppm / 10000,
                              ppm % 10000);
        }
        text = kw_sheet_words(s, "%s", kw_buf_text(&list));
        s->failed = s->failed || list.failed;
        kw_buf_free(&list);
        return text;
}

void kw_sheet_heats(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {{"Heat", 0.12, false},       {"Steelmaker", 0.18, false},
                                                         {"Grade", 0.08, false},      {"Mill certificate", 0.14, false},
                                                         {"Analysis, %", 0.4, false}, {"Entry", 0.08, true}};
        const cJSON *heats = kw_json_get(s->document, "heats"), *heat;

        if (is_empty(heats))
                return;
        kw_paper_heading(s->p, "Heats");
        kw_paper_table(s->p, columns, 6);
        cJSON_ArrayForEach(heat, heats)
        {
                const int64_t entry = kw_json_int(heat, "entry", 0);
                const struct kw_paper_cell cells[] = {
                        {kw_json_text(heat, "heat"), NULL},  {kw_json_text(heat, "supplier"), NULL},
                        {kw_json_text(heat, "grade"), NULL}, {kw_json_text(heat, "mill_certificate"), NULL},
                        {analysis_of(s, heat), NULL},        {kw_sheet_entry(s, entry), NULL}};
                const char *const links[6] = {
                        [0] = kw_sheet_link(s, entry), [4] = kw_sheet_link(s, entry), [5] = kw_sheet_link(s, entry)};

                kw_paper_row_linked(s->p, cells, links);
        }
        kw_paper_table_end(s->p);
}

static const char *places_of(struct kw_sheet *s, const cJSON *part)
{
        const cJSON *places = kw_json_get(part, "places"), *one;
        struct kw_buf list = {0};
        const char *text;

        if (!places)
                return "in many places";
        cJSON_ArrayForEach(one, places) kw_buf_printf(&list, "%s%s to %s", list.n ? ", " : "",
                                                      thousandths(s, (int64_t)one->child->valuedouble, 0),
                                                      thousandths(s, (int64_t)one->child->next->valuedouble, 0));
        text = kw_sheet_words(s, "%s", kw_buf_text(&list));
        s->failed = s->failed || list.failed;
        kw_buf_free(&list);
        return text;
}

void kw_sheet_makeup(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {{"Rope number", 0.17, false}, {"Heat", 0.15, false},
                                                         {"Surely, m", 0.11, true},    {"Possibly, m", 0.11, true},
                                                         {"Where, m", 0.38, false},    {"Entry", 0.08, true}};
        const cJSON *reel, *part;

        kw_paper_heading(s->p, "Which heats lie where");
        kw_paper_table(s->p, columns, 6);
        cJSON_ArrayForEach(reel, kw_json_get(s->document, "reels"))
        {
                cJSON_ArrayForEach(part, kw_json_get(reel, "heats"))
                {
                        const int64_t entry = kw_json_int(part, "entry", 0);
                        const struct kw_paper_cell cells[] = {
                                {part == kw_json_get(reel, "heats")->child ? kw_json_text(reel, "reel") : NULL, NULL},
                                {kw_json_text(part, "heat"), NULL},
                                {thousandths(s, number(part, "certain_mm"), 0), NULL},
                                {thousandths(s, number(part, "possible_mm"), 0), NULL},
                                {places_of(s, part), NULL},
                                {kw_sheet_entry(s, entry), NULL}};
                        const char *const links[6] = {[1] = kw_sheet_link(s, entry), [5] = kw_sheet_link(s, entry)};

                        kw_paper_row_linked(s->p, cells, links);
                }
        }
        kw_paper_table_end(s->p);
}

void kw_sheet_concessions(struct kw_sheet *s)
{
        static const struct kw_paper_column columns[] = {
                {"Hold", 0.2, false}, {"Conceded, and why", 0.7, false}, {"Entry", 0.1, true}};
        const cJSON *concessions = kw_json_get(s->document, "concessions"), *one;

        if (is_empty(concessions))
                return;
        kw_paper_heading(s->p, "Concessions");
        kw_paper_table(s->p, columns, 3);
        cJSON_ArrayForEach(one, concessions)
        {
                const int64_t entry = kw_json_int(one, "entry", 0);
                const struct kw_paper_cell cells[] = {{kw_json_text(one, "hold"), NULL},
                                                      {kw_json_text(one, "reason"), NULL},
                                                      {kw_sheet_entry(s, entry), NULL}};
                const char *const links[3] = {[0] = kw_sheet_link(s, entry), [2] = kw_sheet_link(s, entry)};

                kw_paper_row_linked(s->p, cells, links);
        }
        kw_paper_table_end(s->p);
}

/*
 * The one table of what can be asked, by whom, and with which parameters.
 */
#include "server.h"

#define GET  MHD_HTTP_METHOD_GET
#define POST MHD_HTTP_METHOD_POST

/* whoever is known may read; an auditor changes nothing */
#define READS   KW_EVERY_ROLE
#define RECORDS (KW_OPERATOR | KW_QUALITY | KW_ADMINISTRATOR)

#define TRACE                                                                                 \
        {                                                                                     \
                "origin", "direction", "from_mm", "to_mm", "since", "until", "limit", "after" \
        }

#define CHART                                                                                                         \
        {                                                                                                             \
                "property", "by", "kind", "grade", "construction", "tensile_grade_kpa", "diameter_from_um",           \
                        "diameter_below_um", "machine", "heat", "instrument", "spec", "run", "lot", "since", "until", \
                        "limit", "as"                                                                                 \
        }

const struct kw_route kw_routes[] = {
        {POST,
         "/api/entries",
         RECORDS,
         {NULL},
         .begin = kw_intake_begin,
         .take = kw_intake_take,
         .answer = kw_intake_answer},

        {POST,
         "/api/check",
         RECORDS,
         {NULL},
         .begin = kw_intake_begin,
         .take = kw_intake_take,
         .answer = kw_intake_check},

        {GET, "/api/trace", READS, TRACE, .answer = kw_answer_trace},
        {GET, "/api/lots/*", READS, {NULL}, .ask = kw_ask_lot},
        {GET, "/api/lots/*/makeup", READS, {"by", "kind"}, .ask = kw_ask_makeup},
        {GET, "/api/lots/*/joints", READS, {NULL}, .ask = kw_ask_joints},
        {GET, "/api/lots/*/balance", READS, {NULL}, .ask = kw_ask_balance},
        {GET, "/api/lots/*/strength", READS, {NULL}, .ask = kw_ask_strength},
        {GET, "/api/things/*/*", READS, {NULL}, .ask = kw_ask_thing},
        {GET, "/api/find", READS, {"q"}, .ask = kw_ask_find},
        {GET, "/api/attention", READS, {NULL}, .ask = kw_ask_attention},
        {GET, "/api/holds", READS, {"state", "before", "limit"}, .ask = kw_ask_holds},
        {GET, "/api/holds/*", READS, {NULL}, .ask = kw_ask_hold},
        {GET, "/api/floor", READS, {"machine"}, .ask = kw_ask_floor},
        {GET,
         "/api/labels",
         READS,
         {"lots", "welds", "batches", "size", "as", "units"},
         .answer = kw_answer_label_sheet},
        {GET, "/api/orders", READS, {NULL}, .ask = kw_ask_orders},
        {GET, "/api/specs", READS, {NULL}, .ask = kw_ask_specs},
        {GET, "/api/certifiable", READS, {"reels", "type", "replaces"}, .ask = kw_ask_certifiable},
        {GET, "/api/certificates", READS, {"before", "limit", "state"}, .ask = kw_ask_certificates},
        {GET, "/api/certificates/*", READS, {NULL}, .answer = kw_answer_certificate_of},
        {GET, "/api/instruments", READS, {NULL}, .ask = kw_ask_instruments},
        {GET, "/api/instruments/*", READS, {NULL}, .ask = kw_ask_instrument},
        {GET, "/api/tests/*/judged", READS, {"spec", "version"}, .ask = kw_ask_judged},
        {GET, "/api/chart", READS, CHART, .answer = kw_answer_chart_page},

        {GET, "/api/gaps", READS, {"kind", "after", "limit", "long_m", "late_h"}, .load = KW_HEAVY, .answer = kw_answer_gaps},

        {GET, "/api/export", READS, {"origin", "direction", "as"}, .load = KW_HEAVY, .answer = kw_answer_export},

        {GET, "/api/entries", READS, {"before", "limit", "kind", "by", "q"}, .ask = kw_ask_entries},
        {GET, "/api/entries/*", READS, {NULL}, .ask = kw_ask_entry},
        {GET, "/api/ledger/head", READS, {NULL}, .ask = kw_ask_head},
        {GET, "/api/ledger/entries", READS, {"after", "limit"}, .answer = kw_answer_stored},
        {GET, "/api/ledger/proof", READS, {"seq", "from", "size"}, .ask = kw_ask_proof},
        {GET, "/api/ledger/verify", READS, {NULL}, .answer = kw_answer_verify},

        {GET, "/api/me", READS, {NULL}, .answer = kw_answer_me},
        {GET, "/healthz", READS, {NULL}, .answer = kw_answer_health},
        {GET, "/metrics", READS, {NULL}, .answer = kw_answer_metrics},
        {GET, "/schema/*", READS, {NULL}, .load = KW_FREE, .answer = kw_answer_schema},
        /* what a page's query means is the page's affair */
        {GET, "/**", READS, {"*"}, .load = KW_FREE, .answer = kw_answer_page},
        {NULL},
};

/*
 * The one table of what can be asked, by whom, and with which parameters.
 */
#include "server.h"

#define GET  MHD_HTTP_METHOD_GET
#define POST MHD_HTTP_METHOD_POST

/* which roles that are says server/core/rights.c */
#define READS   KW_MAY_READ
#define RECORDS KW_MAY_RECORD

/* a POST of a few texts */
#define FORM .begin = kw_form_begin, .take = kw_form_take

#define TRACE                                                                                         \
        {                                                                                             \
                "origin", "direction", "from_mm", "to_mm", "since", "until", "limit", "after", "size" \
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

        {POST,
         "/api/import",
         RECORDS,
         {"instrument"},
         .begin = kw_import_begin,
         .take = kw_intake_take,
         .answer = kw_import_answer},

        {GET, "/api/trace", READS, TRACE, .answer = kw_answer_trace},
        {GET, "/api/lots/*", READS, {"size"}, .past = true, .ask = kw_ask_lot},
        {GET, "/api/lots/*/makeup", READS, {"by", "kind", "size"}, .past = true, .ask = kw_ask_makeup},
        {GET, "/api/lots/*/joints", READS, {"size"}, .past = true, .ask = kw_ask_joints},
        {GET, "/api/lots/*/balance", READS, {"size"}, .past = true, .ask = kw_ask_balance},
        {GET, "/api/lots/*/strength", READS, {"size"}, .past = true, .ask = kw_ask_strength},
        {GET, "/api/things/*/*", READS, {"size"}, .past = true, .ask = kw_ask_thing},
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
        {GET, "/api/certificates", READS, {"before", "limit", "state", "codes"}, .ask = kw_ask_certificates},
        {GET, "/api/certificates/*", READS, {NULL}, .answer = kw_answer_certificate_of},
        {GET, "/api/instruments", READS, {NULL}, .ask = kw_ask_instruments},
        {GET, "/api/instruments/*", READS, {NULL}, .ask = kw_ask_instrument},
        {GET, "/api/tests/*/judged", READS, {"spec", "version"}, .ask = kw_ask_judged},
        {GET, "/api/chart", READS, CHART, .answer = kw_answer_chart_page},

        {GET,
         "/api/balance",
         READS,
         {"origin", "month", "since", "until", "size"},
         .load = KW_HEAVY,
         .answer = kw_answer_balance_of},
        {GET, "/api/gaps", READS, {"kind", "after", "limit", "long_m", "late_h"}, .answer = kw_answer_gaps},

        {GET,
         "/api/export",
         READS,
         {"origin", "direction", "from_mm", "to_mm", "since", "until", "as", "size"},
         .load = KW_HEAVY,
         .answer = kw_answer_export},

        {GET, "/api/trials/*", READS, {NULL}, .answer = kw_answer_trial},
        {GET, "/api/entries", READS, {"before", "limit", "kind", "by", "q"}, .ask = kw_ask_entries},
        {GET, "/api/entries/*", READS, {NULL}, .ask = kw_ask_entry},
        {GET, "/api/ledger/head", KW_MAY_READ_LEDGER, {NULL}, .ask = kw_ask_head},
        {GET, "/api/ledger/at", READS, {"time"}, .ask = kw_ask_size_at},
        {GET, "/api/ledger/entries", KW_MAY_READ_LEDGER, {"after", "limit"}, .answer = kw_answer_stored},
        {GET, "/api/ledger/proof", KW_MAY_READ_LEDGER, {"seq", "from", "size"}, .ask = kw_ask_proof},
        {GET, "/api/ledger/verify", KW_MAY_READ_LEDGER, {NULL}, .answer = kw_answer_verify},

        {GET, "/api/me", KW_MAY_BE_KNOWN, {NULL}, .answer = kw_answer_me},
        {GET, "/api/session", KW_MAY_ENTER, {NULL}, .answer = kw_answer_session},
        {POST, "/api/session", KW_MAY_ENTER, {NULL}, .load = KW_SIGN_IN, FORM, .answer = kw_sign_in},
        {POST, "/api/session/badge", KW_MAY_ENTER, {NULL}, FORM, .answer = kw_sign_in_by_badge},
        {POST, "/api/session/again", KW_MAY_BE_KNOWN, {NULL}, .load = KW_SIGN_IN, FORM, .answer = kw_sign_in_again},
        {POST, "/api/session/end", KW_MAY_BE_KNOWN, {NULL}, FORM, .answer = kw_sign_out},
        {POST, "/api/password", KW_MAY_ENTER, {NULL}, .load = KW_SIGN_IN, FORM, .answer = kw_set_password},
        {POST, "/api/pin", KW_MAY_ENTER, {NULL}, .load = KW_SIGN_IN, FORM, .answer = kw_set_pin},
        {POST, "/api/people/*/code", KW_MAY_ADMIT, {NULL}, FORM, .answer = kw_give_password_code},
        {POST, "/api/people/*/pin", KW_MAY_ADMIT, {NULL}, FORM, .answer = kw_give_pin_code},
        {POST, "/api/terminals/*/code", KW_MAY_ADMIT, {NULL}, FORM, .answer = kw_give_terminal_code},
        {POST, "/api/terminals/enrol", KW_MAY_ENTER, {NULL}, .load = KW_SIGN_IN, FORM, .answer = kw_enrol},
        {POST, "/api/tokens/*/secret", KW_MAY_ADMIT, {NULL}, FORM, .answer = kw_give_token},
        {GET, "/api/people", READS, {NULL}, .answer = kw_answer_people},
        {GET, "/api/terminals", KW_MAY_READ_ACCESS, {NULL}, .answer = kw_answer_terminals},
        {GET, "/api/tokens", KW_MAY_READ_ACCESS, {NULL}, .answer = kw_answer_tokens},
        {GET, "/api/rights", KW_MAY_BE_KNOWN, {NULL}, .answer = kw_answer_rights},
        {GET, "/healthz", KW_MAY_SEE, {NULL}, .answer = kw_answer_health},
        {GET, "/metrics", KW_MAY_READ_FIGURES, {NULL}, .answer = kw_answer_metrics},
        {GET, "/schema/*", READS, {NULL}, .load = KW_FREE, .answer = kw_answer_schema},
        /* what a page's query means is the page's affair */
        {GET, "/**", KW_MAY_SEE, {"*"}, .load = KW_FREE, .answer = kw_answer_page},
        {NULL},
};

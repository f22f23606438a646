/*
 * Orders: what a run is made for.
 */
#include "work.h"

int kw_apply_order(struct kw_work *w)
{
        int64_t id = w->seq * KW_IDS, diameter, tolerance, tensile, joint;
        const char *code = kw_json_text(w->body, "order");
        const cJSON *pieces = kw_json_get(w->body, "pieces");
        struct kw_buf text = {0};
        int rc = kw_define(w, "order", code, "/body/order", id);

        if (pieces)
                kw_json_canonical(pieces, &text);
        if (rc == 0)
                rc = kw_do(w->l,
                           "INSERT INTO work_order (id, seq, code, customer, process, grade, diameter_um, "
                           "tolerance_um, construction,"
                           " one_heat, machine, pieces, tensile_kpa, joint_mm)"
                           " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
                           "iittttIItittII", id, w->seq, code, kw_json_text(w->body, "customer"),
                           kw_json_text(w->body, "process"), kw_json_text(w->body, "grade"),
                           kw_maybe(w->body, "diameter_um", &diameter),
                           kw_maybe(w->body, "diameter_tolerance_um", &tolerance),
                           kw_json_text(w->body, "construction"),
                           (int64_t)cJSON_IsTrue(kw_json_get(w->body, "one_heat")), kw_json_text(w->body, "machine"),
                           pieces ? kw_buf_text(&text) : NULL, kw_maybe(w->body, "tensile_grade_kpa", &tensile),
                           kw_maybe(w->body, "joint_distance_mm", &joint));
        kw_buf_free(&text);
        return rc;
}

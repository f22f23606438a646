/*
 * Specifications: what a product has to be, version by version.
 */
#include "work.h"

#include <errno.h>
#include <inttypes.h>

/* A list or a map as it is kept: canonical JSON, NULL where it is not there. */
static const char *as_text(const struct kw_work *w, const char *name, struct kw_buf *room)
{
        const cJSON *value = kw_json_get(w->body, name);

        if (value)
                kw_json_canonical(value, room);
        return value ? kw_buf_text(room) : NULL;
}

static int insert_spec(struct kw_work *w, const char *code, int64_t version)
{
        int64_t from, below, multiple, of, tensile, retests;
        struct kw_buf tests = {0}, tolerance = {0};
        int rc = kw_do(w->l,
                       "INSERT INTO spec (id, seq, code, version, what, grade, construction, from_um, below_um,"
                       " joint_multiple, joint_of_um, heats, tests, tolerance, at, source, tensile_kpa, retests)"
                       " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)",
                       "iititttIIIItttitII", w->seq * KW_IDS, w->seq, code, version, kw_json_text(w->body, "what"),
                       kw_json_text(w->body, "grade"), kw_json_text(w->body, "construction"),
                       kw_maybe(w->body, "diameter_from_um", &from), kw_maybe(w->body, "diameter_below_um", &below),
                       kw_maybe(w->body, "joint_multiple", &multiple), kw_maybe(w->body, "joint_of_um", &of),
                       kw_json_text(w->body, "heats"), as_text(w, "tests", &tests),
                       as_text(w, "tolerance_ppm", &tolerance), w->at, kw_json_text(w->body, "source"),
                       kw_maybe(w->body, "tensile_grade_kpa", &tensile), kw_maybe(w->body, "retests", &retests));

        if (tests.failed || tolerance.failed)
                rc = -ENOMEM;
        kw_buf_free(&tests);
        kw_buf_free(&tolerance);
        return rc;
}

int kw_apply_spec(struct kw_work *w)
{
        const char *code = kw_json_text(w->body, "spec");
        int64_t version = kw_json_int(w->body, "version", 0), seq, min, max;
        const cJSON *limit;
        int rc = kw_one(w->l, &seq, 0, "SELECT seq FROM spec WHERE code = ?1 AND version = ?2", "ti", code, version);

        if (rc == 0 && seq)
                rc = kw_refuse_with(
                        w->err, KW_CODE_TAKEN, "/body/version", "version",
                        KW_VALUES(KW_WORD("spec", code), KW_FIGURE("version", version), KW_FIGURE("seq", seq)),
                        "%s version %" PRId64 " is there already (entry %" PRId64 "); a change is a new version", code,
                        version, seq);
        if (rc == 0)
                rc = insert_spec(w, code, version);
        cJSON_ArrayForEach(limit, kw_json_get(w->body, "limits"))
        {
                if (rc == 0)
                        rc = kw_do(w->l,
                                   "INSERT INTO spec_limit (spec, property, min, max, seq) VALUES (?1, ?2, ?3, ?4, ?5)",
                                   "itIIi", w->seq * KW_IDS, limit->string, kw_maybe(limit, "min", &min),
                                   kw_maybe(limit, "max", &max), w->seq);
        }
        return rc;
}

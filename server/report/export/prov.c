/*
 * A W3C PROV document in PROV-JSON: what was made of what, by which run, on which machine, recorded by whom.
 *
 *      entity    a lot, a heat           used               a run, of the lots that it took, from where to where
 *      activity  a run                   wasGeneratedBy     a lot, by the run that made it, at its place
 *      agent     a machine, a person     wasDerivedFrom     a lot, of its heat; a package, of the lots that its run
 * took wasAssociatedWith  a run, with its machine and with who recorded it
 *
 * The format keeps each relation together, so the entries are gone through once for each.
 */
#include "inside.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

/* A machine or a person that was written already. */
struct agent {
        char name[96];
        UT_hash_handle hh;
};

/* A qualified name's local part may hold letters, digits, and . - _ in its middle; anything else is written in hex. */
static void name_of(const char *type, const char *code, char *out, size_t size)
{
        size_t n = (size_t)snprintf(out, size, "mill:%s.", type);

        for (const unsigned char *c = (const unsigned char *)code; *c && n + 8 < size; c++) {
                if ((*c >= '0' && *c <= '9') || ((*c | 32) >= 'a' && (*c | 32) <= 'z') || *c == '-')
                        out[n++] = (char)*c;
                else
                        n += (size_t)snprintf(out + n, size - n, "_%02X", *c);
        }
        out[n] = '\0';
}

static void put_name(struct kw_buf *out, const char *member, const char *type, const char *code)
{
        char name[256];

        name_of(type, code, name, sizeof(name));
        kw_put_string(out, member, name);
}

static void begin_thing(struct kw_buf *out, const char *type, const char *code)
{
        char name[256];

        name_of(type, code, name, sizeof(name));
        kw_put_object(out, name);
}

/* --- of a lot ------------------------------------------------------------------------------------ */

static void put_entity(const struct kw_lot_row *lot, struct kw_buf *out)
{
        begin_thing(out, "lot", lot->code);
        kw_put_string(out, "prov:label", lot->code);
        kw_put_string(out, "kw:kind", lot->kind);
        kw_put_int(out, "kw:lengthMM", lot->length_mm);
        if (lot->mass_g != KW_NONE)
                kw_put_int(out, "kw:massG", lot->mass_g);
        if (lot->diameter_um != KW_NONE)
                kw_put_int(out, "kw:diameterUM", lot->diameter_um);
        kw_put_object_end(out);
}

static int entities(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_lot_row *lot;
        const int64_t *lots;
        size_t n;
        int rc = kw_read_lots_of_entry(x->reader, entry->seq, &lots, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                rc = kw_read_lot(x->reader, lots[i], &lot);
                if (rc == 0 && lot)
                        put_entity(lot, out);
        }
        if (rc == 0 && strcmp(entry->kind, "heat") == 0 && entry->standing != KW_VOID) {
                const char *body;
                cJSON *json = NULL;

                rc = kw_read_standing_body(x->reader, entry, &body);
                if (rc == 0)
                        rc = kw_json_read(body, strlen(body), &kw_json_entry_limits, &json, NULL);
                if (rc == 0) {
                        begin_thing(out, "heat", kw_json_text(json, "heat"));
                        kw_put_string(out, "prov:label", kw_json_text(json, "heat"));
                        kw_put_string(out, "kw:supplier", kw_json_text(json, "supplier"));
                        kw_put_string(out, "kw:grade", kw_json_text(json, "grade"));
                        kw_put_object_end(out);
                }
                cJSON_Delete(json);
                rc = rc > 0 ? -EIO : rc;
        }
        return rc;
}

/* --- of a run ------------------------------------------------------------------------------------ */

static int run_of(struct kw_export *x, const struct kw_entry_row *entry, const struct kw_run_row **run)
{
        int64_t id;
        int rc = kw_read_run_of_entry(x->reader, entry->seq, &id);

        *run = NULL;
        return rc ? rc : kw_read_run(x->reader, id, run);
}

static int activities(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_run_row *run;
        char stamp[KW_STAMP_LEN + 1];
        int rc = run_of(x, entry, &run);

        if (rc || !run)
                return rc;
        begin_thing(out, "run", run->code);
        if (run->started != KW_NONE) {
                kw_stamp_write(run->started, stamp);
                kw_put_string(out, "prov:startTime", stamp);
        }
        if (run->ended != KW_NONE) {
                kw_stamp_write(run->ended, stamp);
                kw_put_string(out, "prov:endTime", stamp);
        }
        kw_put_string(out, "prov:label", run->code);
        kw_put_string(out, "kw:process", run->process);
        kw_put_int(out, "kw:lengthMM", run->map.length_mm);
        kw_put_int(out, "kw:tolerancePPM", run->map.tolerance_ppm);
        kw_put_int(out, "kw:entry", entry->seq);
        kw_put_object_end(out);
        return 0;
}

static int put_agent(struct kw_export *x, const char *type, const char *code, struct kw_buf *out)
{
        struct agent *known = x->own, *agent;
        char name[256];

        name_of(type, code, name, sizeof(name));
        HASH_FIND_STR(known, name, agent);
        if (agent || strlen(name) >= sizeof(agent->name))
                return 0;
        agent = calloc(1, sizeof(*agent));
        if (!agent)
                return -ENOMEM;
        snprintf(agent->name, sizeof(agent->name), "%.95s", name);
        HASH_ADD_STR(known, name, agent);
        x->own = known;
        if (!agent->hh.tbl) {
                free(agent);
                return -ENOMEM;
        }
        kw_put_object(out, name);
        kw_put_string(out, "prov:label", code);
        kw_put_string(out, "kw:is", type);
        kw_put_object_end(out);
        return 0;
}

static int agents(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_run_row *run;
        int rc = run_of(x, entry, &run);

        if (rc || !run)
                return rc;
        rc = put_agent(x, "machine", run->machine, out);
        return rc ? rc : put_agent(x, "person", entry->by, out);
}

/* The n-th relation of a run gets a name of its own. */
static void begin_relation(struct kw_buf *out, const char *what, int64_t seq, size_t n)
{
        char name[64];

        snprintf(name, sizeof(name), "_:%s%" PRId64 "_%zu", what, seq, n);
        kw_put_object(out, name);
}

static int used(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_run_row *run;
        const struct kw_lot_row *lot;
        size_t n = 0;
        int rc = run_of(x, entry, &run);

        for (size_t i = 0; rc == 0 && run && i < run->map.n_lines; i++) {
                const struct kw_line *line = &run->map.lines[i];

                for (size_t k = 0; rc == 0 && k < line->n_feeds; k++) {
                        const struct kw_feed *feed = &line->feeds[k];

                        rc = kw_read_lot(x->reader, feed->lot, &lot);
                        if (rc || !lot)
                                continue;
                        begin_relation(out, "u", entry->seq, n++);
                        put_name(out, "prov:activity", "run", run->code);
                        put_name(out, "prov:entity", "lot", lot->code);
                        kw_put_string(out, "kw:line", line->label);
                        kw_put_int(out, "kw:fromMM", feed->from);
                        kw_put_int(out, "kw:toMM", feed->to);
                        kw_put_string(out, "kw:off", feed->off == KW_OFF_INNER ? "inner" : "outer");
                        kw_put_int(out, "kw:v0MM", feed->v0);
                        kw_put_object_end(out);
                }
        }
        return rc;
}

static int generated(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_run_row *run;
        const struct kw_lot_row *lot;
        int rc = run_of(x, entry, &run);

        for (size_t i = 0; rc == 0 && run && i < run->map.n_packages; i++) {
                rc = kw_read_lot(x->reader, run->map.packages[i].lot, &lot);
                if (rc || !lot)
                        continue;
                begin_relation(out, "g", entry->seq, i);
                put_name(out, "prov:entity", "lot", lot->code);
                put_name(out, "prov:activity", "run", run->code);
                kw_put_int(out, "kw:s0MM", run->map.packages[i].s0);
                kw_put_int(out, "kw:s1MM", run->map.packages[i].s1);
                kw_put_object_end(out);
        }
        return rc;
}

/* What a lot received is of; and of each package, the lots that lie in it: those that its run took on the same stretch.
 */
static int derived(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const int64_t *lots;
        size_t n;
        int rc = kw_read_lots_of_entry(x->reader, entry->seq, &lots, &n);

        for (size_t i = 0; rc == 0 && i < n; i++) {
                const struct kw_lot_row *lot;
                struct kw_source_row source = {0};

                rc = kw_read_lot(x->reader, lots[i], &lot);
                if (rc == 0 && lot && !lot->run)
                        rc = kw_read_source(x->reader, lot, &source);
                if (rc || !source.heat)
                        continue;
                begin_relation(out, "d", entry->seq, i);
                put_name(out, "prov:generatedEntity", "lot", lot->code);
                put_name(out, "prov:usedEntity", "heat", source.heat);
                kw_put_object_end(out);
        }
        return rc;
}

static bool lies_on(const struct kw_line *line, const struct kw_feed *feed, const struct kw_package *package)
{
        const int64_t v1 = feed->v0 + feed->to - feed->from;

        if (!line->n_points)
                return false;
        return kw_map_nominal(line, feed->v0) < package->s1 && kw_map_nominal(line, v1) > package->s0;
}

static int derived_by_run(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_run_row *run;
        size_t number = 0;
        int rc = derived(x, entry, out);

        if (rc == 0)
                rc = run_of(x, entry, &run);
        if (rc || !run)
                return rc;
        for (size_t p = 0; p < run->map.n_packages; p++) {
                const struct kw_package *package = &run->map.packages[p];
                const struct kw_lot_row *made, *of;

                rc = kw_read_lot(x->reader, package->lot, &made);
                for (size_t i = 0; rc == 0 && made && i < run->map.n_lines; i++) {
                        const struct kw_line *line = &run->map.lines[i];

                        for (size_t k = 0; rc == 0 && k < line->n_feeds; k++) {
                                if (!lies_on(line, &line->feeds[k], package))
                                        continue;
                                rc = kw_read_lot(x->reader, line->feeds[k].lot, &of);
                                if (rc || !of)
                                        continue;
                                begin_relation(out, "r", entry->seq, number++);
                                put_name(out, "prov:generatedEntity", "lot", made->code);
                                put_name(out, "prov:usedEntity", "lot", of->code);
                                put_name(out, "prov:activity", "run", run->code);
                                kw_put_object_end(out);
                        }
                }
        }
        return rc;
}

static int associated(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        const struct kw_run_row *run;
        int rc = run_of(x, entry, &run);

        if (rc || !run)
                return rc;
        begin_relation(out, "a", entry->seq, 0);
        put_name(out, "prov:activity", "run", run->code);
        put_name(out, "prov:agent", "machine", run->machine);
        kw_put_object_end(out);
        begin_relation(out, "a", entry->seq, 1);
        put_name(out, "prov:activity", "run", run->code);
        put_name(out, "prov:agent", "person", entry->by);
        kw_put_object_end(out);
        return 0;
}

/* --- the document ---------------------------------------------------------------------------------- */

static const struct {
        const char *name;
        int (*put)(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out);
} sections[] = {
        {"entity", entities},
        {"activity", activities},
        {"agent", agents},
        {"used", used},
        {"wasGeneratedBy", generated},
        {"wasDerivedFrom", derived_by_run},
        {"wasAssociatedWith", associated},
};

#define SECTIONS ((int)(sizeof(sections) / sizeof(*sections)))

static void put_prefixes(const struct kw_export *x, struct kw_buf *out)
{
        kw_put_object(out, "prefix");
        kw_put_string(out, "mill", x->scope.names);
        kw_put_string(out, "kw", KW_NS_URL);
        kw_put_object_end(out);
}

static bool makes_something(const struct kw_entry_row *entry)
{
        static const char *const kinds[] = {"heat", "receive", "run", "open"};

        for (size_t i = 0; i < sizeof(kinds) / sizeof(*kinds); i++) {
                if (strcmp(kinds[i], entry->kind) == 0)
                        return true;
        }
        return false;
}

/* Entries of the section under way, until it ends or the piece is full. Return: 1 when full. */
static int put_section(struct kw_export *x, struct kw_buf *out, size_t before, struct kw_error *err)
{
        int64_t seq;

        while ((seq = kw_selected_next(&x->entries, x->at))) {
                struct kw_entry_row entry;
                int rc;

                if (out->n - before >= KW_PIECE)
                        return 1;
                rc = kw_read_entry(x->reader, seq, &entry, err);
                if (rc == 0 && makes_something(&entry))
                        rc = sections[x->stage - 1].put(x, &entry, out);
                if (rc)
                        return rc;
                x->at = seq;
        }
        return 0;
}

int kw_prov_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        const size_t before = out->n;
        int rc = 0;

        out->comma = x->comma;
        if (!x->stage) {
                kw_put_object(out, NULL);
                put_prefixes(x, out);
                kw_put_object(out, sections[x->stage++].name);
        }
        for (;;) {
                rc = put_section(x, out, before, err);
                x->comma = out->comma;
                if (rc)
                        return rc;
                kw_put_object_end(out);
                if (x->stage == SECTIONS)
                        break;
                kw_put_object(out, sections[x->stage++].name);
                x->at = 0;
        }
        kw_put_object_end(out);
        kw_buf_add(out, "\n", 1);
        return 0;
}

void kw_prov_end(struct kw_export *x)
{
        struct agent *known = x->own, *agent, *next;

        HASH_ITER(hh, known, agent, next)
        {
                HASH_DELETE(hh, known, agent);
                free(agent);
        }
        x->own = NULL;
}

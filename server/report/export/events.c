/*
 * One entry as an EPCIS event.
 *
 * An entry that was put right gives two: itself as it was sent, with the declaration of its error, and the event that
 * took its place, whose number is the correction's. What stands of a run is told from the ledger's tables, which know
 * its positions; what was sent before a correction is told from the body as sent.
 */
#include "event.h"

#include "kinwire/quality.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct kind {
        const char *name;
        const char *action, *step, *disposition; /* step with an upper-case letter first: one of ours */
        const char *lots;                        /* the member of the body that names them */
        int (*more)(struct kw_event *e);
};

static void put_party(struct kw_event *e, const char *list, const char *member, const char *type, const char *name)
{
        kw_put_array(e->out, list);
        kw_put_object(e->out, NULL);
        kw_put_string(e->out, "type", type);
        kw_event_url(e, member, "party", name);
        kw_put_object_end(e->out);
        kw_put_array_end(e->out);
}

static int put_lots(struct kw_event *e, const cJSON *lots)
{
        struct kw_list codes = {0};
        const cJSON *item;
        int rc = cJSON_IsString(lots) ? kw_event_add(e, &codes, lots->valuestring) : 0;

        if (!cJSON_IsString(lots))
                cJSON_ArrayForEach(item, lots)
                {
                        if (rc == 0)
                                rc = kw_event_add(e, &codes, kw_event_lot(item));
                }
        kw_event_list(e, "epcList", &codes);
        return rc;
}

static void put_body_int(struct kw_event *e, const char *name, const cJSON *of, const char *member)
{
        if (kw_json_get(of, member))
                kw_put_int(e->out, name, kw_json_int(of, member, 0));
}

static void put_body_text(struct kw_event *e, const char *name, const cJSON *of, const char *member)
{
        if (kw_json_text(of, member))
                kw_put_string(e->out, name, kw_json_text(of, member));
}

static void put_span_of(struct kw_event *e, const cJSON *item)
{
        kw_put_object(e->out, NULL);
        kw_event_place(e, "kw:lot", "lot", kw_event_lot(item));
        put_body_int(e, "kw:fromMM", item, "from_mm");
        put_body_int(e, "kw:toMM", item, "to_mm");
        kw_put_object_end(e->out);
}

static int put_spans(struct kw_event *e)
{
        const cJSON *lots = kw_json_get(e->body, "lots"), *item;

        put_body_text(e, "kw:reason", e->body, "reason");
        if (!lots && !kw_json_get(e->body, "lot"))
                return 0;
        kw_put_array(e->out, "kw:spans");
        if (!lots)
                put_span_of(e, e->body);
        cJSON_ArrayForEach(item, lots) put_span_of(e, item);
        kw_put_array_end(e->out);
        return 0;
}

/* --- kinds --------------------------------------------------------------------------------------- */

static int put_source(struct kw_event *e)
{
        const char *heat = kw_json_text(e->body, "heat"), *supply = kw_json_text(e->body, "supply");
        const struct kw_lot_row *lot = NULL;
        struct kw_source_row source = {0};
        int rc = kw_read_lot_named(e->x->reader, kw_json_text(e->body, "lot"), &lot, NULL);

        if (rc == 0)
                rc = kw_read_source(e->x->reader, lot, &source);
        if (source.supplier)
                put_party(e, "sourceList", "source", "owning_party", source.supplier);
        kw_put_object(e->out, "ilmd");
        if (heat)
                kw_put_string(e->out, "kw:heat", heat);
        if (supply)
                kw_put_string(e->out, "kw:supply", supply);
        if (source.supplier)
                kw_put_string(e->out, "kw:supplier", source.supplier);
        if (source.grade)
                kw_put_string(e->out, "kw:grade", source.grade);
        put_body_int(e, "kw:diameterUM", e->body, "diameter_um");
        kw_put_object_end(e->out);
        return rc < 0 ? rc : 0; /* a lot whose reception was voided is not in the tables */
}

static int put_receive(struct kw_event *e)
{
        const char *location = kw_json_text(e->body, "location"), *order = kw_json_text(e->body, "order");

        if (location)
                kw_event_place(e, "bizLocation", "location", location);
        if (order)
                kw_event_transaction(e, "po", "order", order);
        put_body_int(e, "kw:lengthMM", e->body, "length_mm");
        put_body_int(e, "kw:massG", e->body, "mass_g");
        return put_source(e);
}

static int put_batch(struct kw_event *e)
{
        kw_event_place(e, "readPoint", "machine", kw_json_text(e->body, "machine"));
        kw_put_string(e->out, "kw:batch", kw_json_text(e->body, "batch"));
        return put_spans(e);
}

static void put_value(struct kw_event *e, const char *property, const cJSON *value)
{
        kw_put_object(e->out, NULL);
        kw_event_url(e, "type", "property", property);
        kw_put_int(e->out, "value", (int64_t)value->valuedouble);
        kw_put_string(e->out, "uom", kw_property_unit(property));
        kw_put_object_end(e->out);
}

static int put_results(struct kw_event *e)
{
        const char *instrument = kw_json_text(e->body, "instrument");
        const cJSON *result, *reading;

        kw_put_array(e->out, "sensorElementList");
        kw_put_object(e->out, NULL);
        kw_put_object(e->out, "sensorMetadata");
        kw_put_string(e->out, "time", e->entry->at);
        if (instrument)
                kw_event_url(e, "deviceID", "instrument", instrument);
        kw_put_object_end(e->out);
        kw_put_array(e->out, "sensorReport");
        cJSON_ArrayForEach(result, kw_json_get(e->body, "results"))
        {
                put_value(e, result->string, result);
        }
        cJSON_ArrayForEach(result, kw_json_get(e->body, "readings"))
        {
                cJSON_ArrayForEach(reading, result)
                {
                        put_value(e, result->string, reading);
                }
        }
        kw_put_array_end(e->out);
        kw_put_object_end(e->out);
        kw_put_array_end(e->out);
        return 0;
}

static int put_test(struct kw_event *e)
{
        const char *verdict = kw_json_text(e->body, "verdict");

        kw_event_transaction(e, "testres", "test", kw_json_text(e->body, "test"));
        if (verdict) {
                kw_put_string(e->out, "disposition", strcmp(verdict, "pass") == 0 ? "conformant" : "non_conformant");
                kw_put_string(e->out, "kw:verdict", verdict);
        }
        put_body_int(e, "kw:atMM", e->body, "at_mm");
        put_body_int(e, "kw:sampleMM", e->body, "sample_mm");
        return put_results(e);
}

static int put_hold(struct kw_event *e)
{
        char type[KW_NAMES_MAX + 32];

        snprintf(type, sizeof(type), "%stransaction/hold", e->x->scope.names);
        kw_event_transaction(e, type, "hold", kw_json_text(e->body, "hold"));
        return put_spans(e);
}

static int put_release(struct kw_event *e)
{
        const char *disposition = kw_json_text(e->body, "disposition");

        kw_event_url(e, "disposition", "disposition", disposition);
        return put_hold(e);
}

static int put_certificate(struct kw_event *e)
{
        const char *code = kw_json_text(e->body, "certificate");

        kw_event_url(e, "certificationInfo", "certificate", code);
        kw_event_transaction(e, "cert", "certificate", code);
        put_body_text(e, "kw:type", e->body, "type");
        put_body_text(e, "kw:reason", e->body, "reason");
        return 0;
}

static int put_dispatch(struct kw_event *e)
{
        kw_event_transaction(e, "desadv", "consignment", kw_json_text(e->body, "consignment"));
        put_party(e, "sourceList", "source", "possessing_party", "mill");
        put_party(e, "destinationList", "destination", "possessing_party", kw_json_text(e->body, "consignee"));
        return 0;
}

static int put_move(struct kw_event *e)
{
        kw_event_place(e, "bizLocation", "location", kw_json_text(e->body, "location"));
        return 0;
}

/* A kind that is not here is no event: a heat's analysis, a note, a step of a run, which is told with the run. */
static const struct kind kinds[] = {
        {"receive", "ADD", "receiving", "in_progress", "lot", put_receive},
        {"batch", "OBSERVE", "Batch", "in_progress", "lots", put_batch},
        {"test", "OBSERVE", "inspecting", NULL, "lot", put_test},
        {"hold", "OBSERVE", "holding", "non_sellable_other", "lots", put_hold},
        {"release", "OBSERVE", "Release", NULL, "lots", put_release},
        {"scrap", "OBSERVE", "destroying", "disposed", "lot", put_spans},
        {"certify", "OBSERVE", "Certify", "sellable_accessible", "reels", put_certificate},
        {"withdraw", "OBSERVE", "Withdraw", "recalled", "reels", put_certificate},
        {"dispatch", "OBSERVE", "shipping", "in_transit", "lots", put_dispatch},
        {"move", "OBSERVE", "storing", NULL, "lots", put_move},
};

/* --- the event ----------------------------------------------------------------------------------- */

static const struct kind *kind_of(const char *name)
{
        for (size_t i = 0; i < sizeof(kinds) / sizeof(*kinds); i++) {
                if (strcmp(kinds[i].name, name) == 0)
                        return &kinds[i];
        }
        return NULL;
}

static bool is_run(const struct kw_event *e)
{
        return strcmp(e->entry->kind, "run") == 0 || strcmp(e->entry->kind, "open") == 0;
}

static void put_error(struct kw_event *e, const struct kw_entry_row *correction)
{
        char id[16 + KW_KEY_LEN];

        kw_put_object(e->out, "errorDeclaration");
        kw_put_string(e->out, "declarationTime", correction->at);
        kw_put_string(e->out, "reason", strcmp(correction->kind, "void") == 0 ? "did_not_occur" : "incorrect_data");
        if (strcmp(correction->kind, "correct") == 0) {
                snprintf(id, sizeof(id), "urn:uuid:%s", correction->key);
                kw_put_array(e->out, "correctiveEventIDs");
                kw_put_string(e->out, NULL, id);
                kw_put_array_end(e->out);
        }
        kw_put_object_end(e->out);
}

static int put_object_event(struct kw_event *e, const struct kind *kind)
{
        const cJSON *lots = kw_json_get(e->body, kind->lots);
        int rc = 0;

        kw_put_string(e->out, "action", kind->action);
        if (kind->step[0] >= 'A' && kind->step[0] <= 'Z')
                kw_event_url(e, "bizStep", "step", kind->step);
        else
                kw_put_string(e->out, "bizStep", kind->step);
        if (kind->disposition)
                kw_put_string(e->out, "disposition", kind->disposition);
        if (lots) {
                rc = put_lots(e, lots);
        } else { /* a release of the whole hold, the withdrawal of a certificate */
                kw_put_array(e->out, "epcList");
                kw_put_array_end(e->out);
        }
        return rc ? rc : kind->more(e);
}

/* @key: the event's own; @correction: what declares it an error, or NULL. */
static int put_one(struct kw_event *e, const char *key, const struct kw_entry_row *correction)
{
        const struct kind *kind = kind_of(e->entry->kind);
        char id[16 + KW_KEY_LEN];
        int rc;

        snprintf(id, sizeof(id), "urn:uuid:%s", key);
        kw_put_object(e->out, NULL);
        kw_put_string(e->out, "type", kind ? "ObjectEvent" : "TransformationEvent");
        kw_put_string(e->out, "eventID", id);
        kw_put_string(e->out, "eventTime", e->entry->at);
        kw_put_string(e->out, "recordTime", e->entry->logged);
        kw_put_string(e->out, "eventTimeZoneOffset", "+00:00");
        kw_put_int(e->out, "kw:entry", e->entry->seq);
        kw_put_string(e->out, "kw:by", e->entry->by);
        rc = kind ? put_object_event(e, kind) : kw_event_run(e);
        if (correction)
                put_error(e, correction);
        kw_put_object_end(e->out);
        return rc;
}

static const struct kw_json_limits body_limits = {.bytes = (size_t)8 << 20, .nodes = 400000};

static int put_with_body(struct kw_event *e, const char *text, bool standing, const char *key,
                         const struct kw_entry_row *correction)
{
        cJSON *body;
        int64_t run = 0;
        int rc = kw_json_read(text, strlen(text), &body_limits, &body, NULL);

        if (rc)
                return rc < 0 ? rc : -EIO;
        if (standing && is_run(e))
                rc = kw_read_run_of_entry(e->x->reader, e->entry->seq, &run);
        if (rc == 0)
                rc = kw_read_run(e->x->reader, run, &e->run);
        e->body = body;
        /* a run that has been opened and no more has nothing to tell yet */
        if (rc == 0 && !(strcmp(e->entry->kind, "open") == 0 && (!e->run || !e->run->map.n_packages)))
                rc = put_one(e, key, correction);
        cJSON_Delete(body);
        return rc;
}

int kw_put_event(struct kw_export *x, const struct kw_entry_row *entry, struct kw_buf *out)
{
        struct kw_event e = {.x = x, .entry = entry, .out = out};
        struct kw_entry_row correction;
        const char *standing;
        int rc;

        if (!kind_of(entry->kind) && !is_run(&e))
                return 0;
        if (entry->standing == KW_STANDS)
                return put_with_body(&e, entry->body, true, entry->key, NULL);
        rc = kw_read_entry(x->reader, entry->body_seq, &correction, NULL);
        if (rc == 0)
                rc = put_with_body(&e, entry->body, false, entry->key, &correction);
        if (rc == 0)
                rc = kw_read_standing_body(x->reader, entry, &standing);
        return rc || !standing ? rc : put_with_body(&e, standing, true, correction.key, NULL);
}

/*
 * An EPCIS 2.0 document: its head, an event for each entry that is one, its end.
 *
 * Every member that the standard does not have is in kinwire's own namespace (kw:), so that any reader can pass it
 * over:
 *
 *      kw:entry, kw:by      the number of the entry in the ledger, and who recorded it
 *      kw:head              of the document: {kw:size, kw:root}, under which entry n is provable
 *      kw:started, kw:ended of a run, where they are recorded; the event's time is that of its entry
 *      kw:tolerancePPM      of a run
 *      kw:lengthMM          of a run: the length S of its output; of what was received: its length
 *      kw:feeds             of a run: {kw:line, kw:lot, kw:fromMM, kw:toMM, kw:off, kw:v0MM}
 *                           off: paid off from the outer or the inner end; v0: the feed's place on the line
 *      kw:packages          of a run: {kw:lot or kw:scrap, kw:s0MM, kw:s1MM}, its places on the run's output
 *      kw:knownPoints       of a run: {kw:line, kw:vMM, kw:sMM}: what went in at v came out at s
 *      kw:spans             of a hold, release, scrap or batch: {kw:lot, kw:fromMM, kw:toMM}
 *                           without from and to: all of the lot that was there
 *
 *      kw:diameterUM, kw:massG, kw:heat, kw:supply, kw:supplier, kw:grade, kw:reason, kw:verdict, kw:atMM, kw:sampleMM
 *
 * All are integers in the unit that their name ends in, or texts.
 */
#include "inside.h"

static void put_head(struct kw_export *x, struct kw_buf *out)
{
        char root[KW_HASH_HEX];

        kw_hash_hex(&x->head.root, root);
        kw_put_object(out, NULL);
        kw_put_array(out, "@context");
        kw_put_string(out, NULL, "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld");
        kw_put_object(out, NULL);
        kw_put_string(out, "kw", KW_NS_URL);
        kw_put_object_end(out);
        kw_put_array_end(out);
        kw_put_string(out, "type", "EPCISDocument");
        kw_put_string(out, "schemaVersion", "2.0");
        kw_put_string(out, "creationDate", x->created);
        kw_put_object(out, "kw:head");
        kw_put_int(out, "kw:size", x->head.size);
        kw_put_string(out, "kw:root", root);
        kw_put_object_end(out);
        kw_put_object(out, "epcisBody");
        kw_put_array(out, "eventList");
}

int kw_epcis_next(struct kw_export *x, struct kw_buf *out, struct kw_error *err)
{
        const size_t before = out->n;
        int64_t seq;

        if (!x->stage++)
                put_head(x, out);
        else
                out->comma = x->comma;
        while ((seq = kw_selected_next(&x->entries, x->at))) {
                struct kw_entry_row entry;
                int rc;

                if (out->n - before >= KW_PIECE) {
                        x->comma = out->comma;
                        return 1;
                }
                rc = kw_read_entry(x->reader, seq, &entry, err);
                if (rc == 0)
                        rc = kw_put_event(x, &entry, out);
                if (rc)
                        return rc;
                x->at = seq;
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
        kw_put_object_end(out);
        kw_buf_add(out, "\n", 1);
        return 0;
}

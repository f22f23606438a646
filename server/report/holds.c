/*
 * The holds: what is barred, since when and by whom, how much metal, what was asked, who decides, who agreed, and what
 * became of it.
 */
#include "put.h"

#include "ledger/read/holds.h"

#include <stdio.h>
#include <string.h>

/* A mass is known when that of every lot in it is. */
static void add_mass(int64_t *sum, const struct kw_lot_row *lot, int64_t part_mm)
{
        int64_t g = part_mm ? kw_part_mass(lot, part_mm) : 0;

        *sum = g == KW_NONE || *sum == KW_NONE ? KW_NONE : *sum + g;
}

static void put_metal(const struct kw_hold_whole_row *hold, struct kw_buf *out)
{
        int64_t lots = 0, open_mm = 0, open_g = 0, left_mm = 0, left_g = 0;

        for (size_t i = 0; i < hold->n_lots; i++) {
                const struct kw_held_row *held = &hold->lots[i];

                if (!held->lot)
                        continue;
                lots += held->open_mm > 0;
                open_mm += held->open_mm;
                left_mm += held->left_mm;
                add_mass(&open_g, held->lot, held->open_mm);
                add_mass(&left_g, held->lot, held->left_mm);
        }
        kw_put_int(out, "open_lots", lots);
        kw_put_int(out, "open_mm", open_mm);
        kw_put_number(out, "open_g", open_g);
        kw_put_int(out, "left_mm", left_mm);
        kw_put_number(out, "left_g", left_g);
}

static void put_lots(const struct kw_hold_whole_row *hold, struct kw_buf *out)
{
        kw_put_array(out, "lots");
        for (size_t i = 0; i < hold->n_lots; i++) {
                const struct kw_held_row *held = &hold->lots[i];

                if (!held->lot)
                        continue;
                kw_put_object(out, NULL);
                kw_put_string(out, "lot", held->lot->code);
                kw_put_string(out, "kind", held->lot->kind);
                kw_put_spans(out, "open_spans", &held->open);
                kw_put_int(out, "left_mm", held->left_mm);
                kw_put_number(out, "left_g", held->left_mm ? kw_part_mass(held->lot, held->left_mm) : 0);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

void kw_put_works(struct kw_buf *out, const char *name, const char *works)
{
        if (!works) {
                kw_put_null(out, name);
                return;
        }
        kw_put_array(out, name);
        while (*works) {
                size_t n = strcspn(works, ",");
                char one[24];

                snprintf(one, sizeof(one), "%.*s", (int)n, works);
                kw_put_string(out, NULL, one);
                works += n + (works[n] == ',');
        }
        kw_put_array_end(out);
}

static void put_disposed(const struct kw_disposed_row *row, struct kw_buf *out)
{
        kw_put_int(out, "seq", row->seq);
        kw_put_string(out, "by", row->by);
        kw_put_time(out, "at", row->at);
        kw_put_string(out, "disposition", row->disposition);
        kw_put_string(out, "reason", row->reason);
        kw_put_works(out, "into", row->works);
        kw_put_string(out, "grade", row->grade);
}

static void put_other(struct kw_buf *out, const char *name, int64_t seq)
{
        kw_put_number(out, name, seq ? seq : KW_NONE);
}

static void put_releases(const struct kw_hold_whole_row *hold, struct kw_buf *out)
{
        kw_put_array(out, "releases");
        for (size_t i = 0; i < hold->n_releases; i++) {
                kw_put_object(out, NULL);
                put_disposed(&hold->releases[i], out);
                put_other(out, "agreed", hold->releases[i].other);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

static void put_parts(const struct kw_disposed_row *agreement, struct kw_buf *out)
{
        if (!agreement->n_parts) {
                kw_put_null(out, "lots");
                return;
        }
        kw_put_array(out, "lots");
        for (size_t i = 0; i < agreement->n_parts; i++) {
                const struct kw_part_row *part = &agreement->parts[i];

                kw_put_object(out, NULL);
                kw_put_string(out, "lot", part->lot);
                kw_put_int(out, "from_mm", part->span.from);
                kw_put_int(out, "to_mm", part->span.to);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
}

static void put_second(const struct kw_hold_whole_row *hold, struct kw_buf *out)
{
        kw_put_object(out, "second");
        kw_put_bool(out, "needed", hold->failed || hold->trace || hold->question);
        kw_put_string(out, "failed", hold->failed);
        kw_put_array(out, "agreements");
        for (size_t i = 0; i < hold->n_agreements; i++) {
                kw_put_object(out, NULL);
                put_disposed(&hold->agreements[i], out);
                put_parts(&hold->agreements[i], out);
                put_other(out, "used", hold->agreements[i].other);
                kw_put_object_end(out);
        }
        kw_put_array_end(out);
        kw_put_object_end(out);
}

static void put_hold(const struct kw_hold_whole_row *hold, const char *name, struct kw_buf *out)
{
        kw_put_object(out, name);
        kw_put_string(out, "hold", hold->code);
        kw_put_int(out, "seq", hold->seq);
        kw_put_string(out, "by", hold->by);
        kw_put_time(out, "at", hold->at);
        kw_put_string(out, "reason", hold->reason);
        kw_put_string(out, "decides", hold->decides);
        kw_put_string(out, "question", hold->question);
        if (hold->trace)
                kw_put_raw(out, "trace", hold->trace);
        else
                kw_put_null(out, "trace");
        kw_put_bool(out, "open", hold->open);
        put_metal(hold, out);
        put_lots(hold, out);
        put_second(hold, out);
        put_releases(hold, out);
        kw_put_object_end(out);
}

int kw_answer_holds(struct kw_ledger *ledger, const char *state, int64_t before, int64_t limit, struct kw_buf *out,
                    struct kw_error *err)
{
        static const char *const states[] = {
                [KW_HOLD_ANY] = "any", [KW_HOLD_OPEN] = "open", [KW_HOLD_CLOSED] = "closed"};
        enum kw_hold_state wanted = KW_HOLD_ANY;
        const struct kw_hold_whole_row *holds;
        struct kw_reader *r = NULL;
        int64_t next = 0;
        size_t n = 0;
        int rc;

        while (wanted <= KW_HOLD_CLOSED && strcmp(states[wanted], state) != 0)
                wanted++;
        if (wanted > KW_HOLD_CLOSED)
                return kw_refuse_with(err, KW_BAD_REQUEST, NULL, "choice", KW_VALUES(KW_WORD("text", state)),
                                      "holds are open, closed or any, not \"%.20s\"", state);
        rc = kw_reader_new(ledger, &r);
        if (rc)
                return rc;
        rc = kw_read_holds(r, wanted, before, (size_t)limit, &holds, &n, &next);
        kw_put_object(out, NULL);
        kw_put_array(out, "holds");
        for (size_t i = 0; rc == 0 && i < n; i++)
                put_hold(&holds[i], NULL, out);
        kw_put_array_end(out);
        put_other(out, "next", next);
        kw_put_object_end(out);
        rc = kw_finish(r, out, rc, err);
        kw_reader_free(r);
        return rc;
}

static int put_one(struct kw_reader *r, const char *code, struct kw_buf *out, struct kw_error *err)
{
        const struct kw_hold_whole_row *hold;
        int rc = kw_read_hold(r, code, &hold);

        if (rc == 0 && !hold)
                return kw_refuse_with(err, KW_NOT_FOUND, NULL, "says",
                                      KW_VALUES(KW_WORD("type", "hold"), KW_WORD("code", code)), "no hold %s is known",
                                      code);
        if (rc == 0)
                put_hold(hold, NULL, out);
        return rc;
}

int kw_answer_hold(struct kw_ledger *ledger, const char *code, struct kw_buf *out, struct kw_error *err)
{
        return kw_answer_of(ledger, code, put_one, out, err);
}

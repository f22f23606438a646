/*
 * Undoing an entry, and which entries lean on it.
 *
 * Every derived row carries the number of the entry that made it, and no row is ever changed, so an entry is undone by
 * removing its rows. An entry leans on another when it names something that the other put into the ledger, or when it
 * takes from a lot after the other took from it ("all that is left" is then another length).
 */
#include "correct.h"

#include <errno.h>
#include <stdlib.h>

const struct kw_derived kw_derived[] = {
        {"standing", "body_seq, void"},
        {"correction", "target, void, reason"},
        {"thing", "type, code, id"},
        {"heat", "id"},
        {"supply", "id"},
        {"lot", "id"},
        {"batch", "id"},
        {"batch_lot", "batch, lot, from_mm, to_mm"},
        {"work_order", "id"},
        {"step", "run_seq, kind"},
        {"run", "id"},
        {"run_supply", "run, supply"},
        {"overridden", "run, hold"},
        {"line", "run, ord"},
        {"feed", "run, line, ord"},
        {"package", "run, ord"},
        {"weld", "id"},
        {"taken", "lot, from_mm, to_mm, what"},
        {"test", "id"},
        {"result", "test, property"},
        {"instrument", "code"},
        {"spec", "id"},
        {"spec_limit", "spec, property"},
        {"person", "seq"},
        {"terminal", "seq"},
        {"token", "seq"},
        {"hold", "id"},
        {"hold_span", "hold, lot, from_mm, to_mm, run"},
        {"release", "hold"},
        {"release_span", "hold, lot, from_mm, to_mm"},
        {"agreement", "hold"},
        {"agreement_span", "hold, lot, from_mm, to_mm"},
        {"certificate", "id"},
        {"certificate_reel", "certificate, lot"},
        {"certificate_test", "certificate, test"},
        {"withdrawal", "certificate"},
        {"clearing", "certificate"},
        {"consignment", "id"},
        {"consignment_lot", "consignment, lot"},
        {"place", "lot"},
        {"note", "type, code"},
        {"finding", "ord"},
        {NULL, NULL},
};

/* Whoever follows the ledger reads again what was undone. */
static int note(struct kw_ledger *l, int64_t seq)
{
        int rc = kw_numbers_add(&l->undone, seq);

        if (rc == 0)
                rc = kw_lots_named(l, seq, &l->undone_lots);
        return rc ? rc : kw_lots_moved(l, seq, &l->undone_lots);
}

int kw_undo_entry(struct kw_ledger *l, int64_t seq)
{
        /* by id where a table is kept by it, which are those that grow most: an entry's are seq * 4096 and what follows
         */
        static const char *const removals[] = {
                "DELETE FROM thing WHERE type = 'lot' AND code IN"
                " (SELECT code FROM lot WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095)",
                "DELETE FROM thing WHERE type = 'run' AND code IN (SELECT code FROM run WHERE id = ?1 * 4096)",
                "DELETE FROM thing WHERE type = 'weld' AND code IN"
                " (SELECT code FROM weld WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095)",
                "DELETE FROM thing WHERE seq = ?1 AND type <> 'lot' AND type <> 'run' AND type <> 'weld'",
                "DELETE FROM heat WHERE seq = ?1",
                "DELETE FROM supply WHERE seq = ?1",
                "DELETE FROM lot WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
                "DELETE FROM batch WHERE seq = ?1",
                "DELETE FROM batch_lot WHERE seq = ?1",
                "DELETE FROM work_order WHERE seq = ?1",
                "DELETE FROM step WHERE seq = ?1",
                "DELETE FROM run WHERE id = ?1 * 4096",
                "DELETE FROM run_supply WHERE seq = ?1",
                "DELETE FROM overridden WHERE run = ?1 * 4096",
                "DELETE FROM line WHERE run = ?1 * 4096",
                "DELETE FROM feed WHERE run = ?1 * 4096",
                "DELETE FROM package WHERE run = ?1 * 4096",
                "DELETE FROM weld WHERE id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
                "DELETE FROM taken WHERE seq = ?1",
                "DELETE FROM test WHERE seq = ?1",
                "DELETE FROM result WHERE test = ?1 * 4096",
                "DELETE FROM instrument WHERE seq = ?1",
                "DELETE FROM spec WHERE seq = ?1",
                "DELETE FROM spec_limit WHERE spec = ?1 * 4096",
                "DELETE FROM person WHERE seq = ?1",
                "DELETE FROM terminal WHERE seq = ?1",
                "DELETE FROM token WHERE seq = ?1",
                "DELETE FROM hold WHERE seq = ?1",
                "DELETE FROM hold_span WHERE seq = ?1",
                "DELETE FROM release WHERE seq = ?1",
                "DELETE FROM release_span WHERE seq = ?1",
                "DELETE FROM agreement WHERE seq = ?1",
                "DELETE FROM agreement_span WHERE seq = ?1",
                "DELETE FROM certificate WHERE seq = ?1",
                "DELETE FROM certificate_reel WHERE seq = ?1",
                "DELETE FROM certificate_test WHERE seq = ?1",
                "DELETE FROM withdrawal WHERE seq = ?1",
                "DELETE FROM clearing WHERE seq = ?1",
                "DELETE FROM consignment WHERE seq = ?1",
                "DELETE FROM consignment_lot WHERE seq = ?1",
                "DELETE FROM place WHERE seq = ?1",
                "DELETE FROM note WHERE seq = ?1",
                "DELETE FROM finding WHERE seq = ?1",
        };
        int rc = note(l, seq);

        for (size_t i = 0; rc == 0 && i < sizeof(removals) / sizeof(removals[0]); i++)
                rc = kw_do(l, removals[i], "i", seq);
        return rc;
}

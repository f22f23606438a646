/*
 * Which entries lean on an entry.
 *
 * The set is closed by a work list: each entry that comes into it is asked once for what names its things. Each
 * question is one statement with one parameter, the number of the entry.
 */
#include "leaning.h"

#include <errno.h>
#include <stdlib.h>

/* What names a thing that entry ?1 put into the ledger, or takes after it from a lot that it took from. */
static const char *const names[] = {
        "SELECT lot.seq FROM heat JOIN lot ON lot.heat = heat.id WHERE heat.seq = ?1",
        "SELECT lot.seq FROM supply JOIN lot ON lot.supply = supply.id WHERE supply.seq = ?1",
        "SELECT u.seq FROM supply JOIN run_supply u ON u.supply = supply.id WHERE supply.seq = ?1",
        "SELECT run.seq FROM batch JOIN run ON run.batch = batch.id WHERE batch.seq = ?1",
        "SELECT f.seq FROM lot JOIN feed f ON f.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT t.seq FROM lot JOIN taken t ON t.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT t.seq FROM lot JOIN test t ON t.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT b.seq FROM lot JOIN batch_lot b ON b.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT h.seq FROM lot JOIN hold_span h ON h.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT h.seq FROM lot JOIN release_span h ON h.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + "
        "4095",
        "SELECT c.seq FROM lot JOIN certificate_reel c ON c.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 "
        "+ 4095",
        "SELECT c.seq FROM lot JOIN consignment_lot c ON c.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + "
        "4095",
        "SELECT p.seq FROM lot JOIN place p ON p.lot = lot.id WHERE lot.id BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT c.seq FROM test JOIN certificate_test c ON c.test = test.id WHERE test.seq = ?1",
        "SELECT r.seq FROM test JOIN test r ON r.retest_of = test.id WHERE test.seq = ?1",
        "SELECT r.seq FROM hold JOIN release r ON r.hold = hold.id WHERE hold.seq = ?1",
        "SELECT s.seq FROM hold JOIN hold_span s ON s.hold = hold.id WHERE hold.seq = ?1",
        /* an agreement names the hold and lots of it, and a release the agreement */
        "SELECT a.seq FROM hold JOIN agreement a ON a.hold = hold.id WHERE hold.seq = ?1",
        "SELECT seq FROM agreement_span WHERE lot BETWEEN ?1 * 4096 AND ?1 * 4096 + 4095",
        "SELECT seq FROM release WHERE agreed = ?1",
        /* whether metal failed is asked when it is released, of which grade it is when it is used */
        "SELECT s.seq FROM test t JOIN release_span s ON s.lot = t.lot WHERE t.seq = ?1 AND s.seq > ?1",
        "SELECT f.seq FROM release r JOIN release_span s ON s.seq = r.seq JOIN feed f ON f.lot = s.lot"
        " WHERE r.seq = ?1 AND r.grade IS NOT NULL AND f.seq > ?1",
        "SELECT t.seq FROM release r JOIN release_span s ON s.seq = r.seq JOIN test t ON t.lot = s.lot"
        " WHERE r.seq = ?1 AND r.grade IS NOT NULL AND t.seq > ?1",
        "SELECT w.seq FROM certificate c JOIN withdrawal w ON w.certificate = c.id WHERE c.seq = ?1",
        "SELECT k.seq FROM certificate c JOIN clearing k ON k.certificate = c.id WHERE c.seq = ?1",
        "SELECT n.seq FROM certificate c JOIN certificate n ON n.replaces = c.id WHERE c.seq = ?1",
        "SELECT n.seq FROM lot JOIN note n ON n.type = 'lot' AND n.code = lot.code WHERE lot.id BETWEEN ?1 * 4096 AND "
        "?1 * 4096 + 4095",
        "SELECT n.seq FROM run JOIN note n ON n.type = 'run' AND n.code = run.code WHERE run.id = ?1 * 4096",
        "SELECT n.seq FROM weld JOIN note n ON n.type = 'weld' AND n.code = weld.code WHERE weld.id BETWEEN ?1 * 4096 "
        "AND ?1 * 4096 + 4095",
        "SELECT n.seq FROM thing JOIN note n ON n.type = thing.type AND n.code = thing.code WHERE thing.seq = ?1"
        " AND thing.type <> 'lot' AND thing.type <> 'run' AND thing.type <> 'weld'",
        "SELECT run.seq FROM work_order o JOIN run ON run.ord = o.code WHERE o.seq = ?1",
        /* a step is done in the run that it belongs to */
        "SELECT run_seq FROM step WHERE seq = ?1",
        /* after a release, a later one frees what it left */
        "SELECT n.seq FROM release r JOIN release n ON n.hold = r.hold WHERE r.seq = ?1 AND n.seq > ?1",
        /* what was taken before makes 'all that is left' another length */
        "SELECT o.seq FROM feed f JOIN feed o ON o.lot = f.lot WHERE f.run = ?1 * 4096 AND o.seq > ?1",
        "SELECT o.seq FROM feed f JOIN taken o ON o.lot = f.lot WHERE f.run = ?1 * 4096 AND o.seq > ?1",
        "SELECT o.seq FROM taken f JOIN feed o ON o.lot = f.lot WHERE f.seq = ?1 AND o.seq > ?1",
        "SELECT o.seq FROM taken f JOIN taken o ON o.lot = f.lot WHERE f.seq = ?1 AND o.seq > ?1",
        /* a release that condemns takes what is left of it, be it nothing */
        "SELECT o.seq FROM feed f JOIN release_span o ON o.lot = f.lot WHERE f.run = ?1 * 4096 AND o.seq > ?1",
        "SELECT o.seq FROM taken f JOIN release_span o ON o.lot = f.lot WHERE f.seq = ?1 AND o.seq > ?1",
        /* a hold reaches through a run that was recorded in spite of it */
        "SELECT h.seq FROM hold_span h WHERE h.run = ?1 * 4096 AND h.seq <> ?1",
};

int kw_again_add(struct kw_again **set, int64_t seq)
{
        struct kw_again *a;

        HASH_FIND(hh, *set, &seq, sizeof(seq), a);
        if (a)
                return 0;
        a = calloc(1, sizeof(*a));
        if (!a)
                return -ENOMEM;
        a->seq = seq;
        HASH_ADD(hh, *set, seq, sizeof(a->seq), a);
        if (!a->hh.tbl) {
                free(a);
                return -ENOMEM;
        }
        return 1;
}

void kw_again_free(struct kw_again **set)
{
        struct kw_again *a, *tmp;

        HASH_ITER(hh, *set, a, tmp)
        {
                HASH_DEL(*set, a);
                free(a);
        }
}

static int add_rows(struct kw_ledger *l, struct kw_query *q, struct kw_again **set)
{
        int rc;

        while ((rc = kw_next(l, q)) == 1) {
                rc = kw_again_add(set, kw_int(q, 0));
                if (rc < 0)
                        break;
        }
        kw_end(q);
        return rc;
}

/* uthash keeps the order of insertion, so walking from @from on is the work list. */
static int close_set(struct kw_ledger *l, struct kw_again **set, struct kw_again *from)
{
        struct kw_query q;
        int rc = 0;

        for (struct kw_again *a = from; rc == 0 && a; a = a->hh.next)
                for (size_t i = 0; rc == 0 && i < sizeof(names) / sizeof(names[0]); i++) {
                        rc = kw_ask(l, &q, names[i], "i", a->seq);
                        if (rc == 0)
                                rc = add_rows(l, &q, set);
                }
        return rc;
}

static struct kw_again *last(struct kw_again *set)
{
        return set ? ELMT_FROM_HH(set->hh.tbl, set->hh.tbl->tail) : NULL;
}

int kw_leaning(struct kw_ledger *l, int64_t seq, struct kw_again **set)
{
        int rc = kw_again_add(set, seq);

        return rc == 1 ? close_set(l, set, last(*set)) : rc;
}

int kw_leaning_rows(struct kw_ledger *l, struct kw_query *q, struct kw_again **set)
{
        struct kw_again *before = last(*set);
        int rc = add_rows(l, q, set);

        return rc ? rc : close_set(l, set, before ? before->hh.next : *set);
}

int kw_leaning_on_lot(struct kw_ledger *l, int64_t lot, int64_t seq, struct kw_again **set)
{
        struct kw_query q;
        int rc = kw_ask(l, &q,
                        "SELECT seq FROM feed WHERE lot = ?1 AND seq > ?2 UNION ALL"
                        " SELECT seq FROM taken WHERE lot = ?1 AND seq > ?2 UNION ALL"
                        " SELECT seq FROM release_span WHERE lot = ?1 AND seq > ?2",
                        "ii", lot, seq);

        return rc ? rc : kw_leaning_rows(l, &q, set);
}

/*
 * Ledgers of earlier levels: each opens, keeps its root, verifies, and gives the traces that it gave.
 *
 * tests/ledgers/level-N.kw was written by kinwire when its tables were at level N, from tests/examples/4-three-wires.
 */
#include "store.h"
#include "suite.h"

#include "kinwire/answer.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct older {
        const char *name;
        int64_t size;
        const char *root;
        int64_t runs_lost;
} ledgers[] = {
        {"level-1.kw", 6, "5fdd5fe967d50b7f7bf909fadeb5b9314b20e271caddb279feebbd6ef8a808f9", 0},
        {"level-2.kw", 6, "64e7719d8be072c1fdc01f4b9aab3a39e71812fda3fe62d464fed4ee0d78765c", 0},
        {"level-3.kw", 6, "7ee8a07fea5f88edcd29f3779cf4e9695adc470a731adeb303f6064249de7b5c", 0},
        {"level-4.kw", 6, "667bf096ce10c820ad88c7b751c0e6f0c54989f166c2ea97d25391d4667e8172", 0},
        {"level-5.kw", 6, "ad9b05200401021f23062e88bdca2005bb15c0c667e8c06f80becdd93f64928b", 0},
        {"level-6.kw", 6, "6cc1c06b79bc3472249704b9afb26c67ec635ac79a3c8e4a84443b5da27a4300", 0},
        {"level-7.kw", 6, "b1cfd47f455933c924243a7a048f88ab75745efce0d5259a7e2885c362d0dfb1", 0},
        {"level-8.kw", 6, "34e7766db8ee0ef3704c00e737cda82cca7dc4c2e32ba1030f30e06c50a786a8", 0},
        /* with a certificate that has no document yet */
        {"level-9.kw", 7, "5878a4168ea4e8013fa34461a9aa29e1a65ec979ef0ebcdad8f63a32033b05ea", 0},
        {"level-10.kw", 6, "5a333cb60c9d4a845d1bf7fb0b3ec7d7b27bbf006b6bd1e5db82edc7f6e1c6da", 0},
        {"level-11.kw", 6, "6ec051253f0b3d2eba83f5ec7a12dc29948159f142b523a135116dc381d7b910", 0},
        {"level-12.kw", 6, "a80568552aad917e6f70f3c652107b972cf10b955c54f23988d0db999dd3829f", 0},
        {"level-13.kw", 6, "f9674b69fe1b698d3ea927330e9a5cccbec99b023b6a8ea15aa14b4c88da125e", 0},
        /* then a run wound as it happened, which was lost when the place of its bobbin was put right */
        {"level-13-lost-run.kw", 16, "2069635a84fd530beda8dcbf5d89bfb27074d826b373019a0cc2d795d829c084", 1},
};

/* The file is copied: opening brings it up. */
static void copy(const char *name, char to[64])
{
        char from[512], bytes[65536];
        FILE *in, *out;
        size_t n;
        int fd;

        snprintf(from, sizeof(from), "%s/%s", LEDGERS, name);
        snprintf(to, 64, "older-XXXXXX");
        fd = mkstemp(to);
        in = fopen(from, "rb");
        out = fdopen(fd, "wb");
        ck_assert_msg(in && out, "%s", from);
        while ((n = fread(bytes, 1, sizeof(bytes), in)) > 0)
                ck_assert_uint_eq(fwrite(bytes, 1, n, out), n);
        fclose(in);
        fclose(out);
}

static void check_trace(struct kw_ledger *l)
{
        struct kw_trace_answer *answer;
        struct kw_trace_writer w = {.as = KW_AS_JSON};
        struct kw_question q;
        struct kw_error err = {0};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_question_read("weld:W-1", "forward", &q, &err), 0);
        ck_assert_int_eq(kw_ledger_look(l, &err), 0);
        ck_assert_int_eq(kw_trace_ask(l, &q, &answer, &err), 0);
        w.answer = answer;
        while (kw_trace_write(&w, &out) == 1)
                ;
        /* the figures of tests/examples/4-three-wires/traces.json */
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "[[9699851,10300149]]"));
        ck_assert_ptr_nonnull(strstr(kw_buf_text(&out), "[[5502913,5700000]]"));
        kw_buf_free(&out);
        kw_trace_answer_free(answer);
        kw_ledger_done(l);
}

/* As they say themselves. */
static int64_t runs_lost(struct kw_ledger *l)
{
        int64_t n;

        ck_assert_int_eq(kw_one(l, &n, -1, "SELECT count(*) FROM finding WHERE code = 'run-lost'", ""), 0);
        return n;
}

START_TEST(opens_verifies_and_answers_as_before)
{
        const struct older *o = &ledgers[_i];
        struct kw_error err = {0};
        struct kw_ledger *l = NULL;
        struct kw_head head;
        char path[64], side[80], hex[KW_HASH_HEX];
        int64_t wrong;
        int rc;

        copy(o->name, path);
        rc = kw_ledger_open(path, KW_OPEN_EXISTING, &l, &err);
        ck_assert_msg(rc == 0, "%s: %s", o->name, err.text);
        ck_assert_int_eq(kw_ledger_head(l, &head, &err), 0);
        kw_hash_hex(&head.root, hex);
        ck_assert_int_eq(head.size, o->size);
        ck_assert_str_eq(hex, o->root);
        rc = kw_ledger_verify(l, NULL, NULL, &wrong, &err);
        ck_assert_msg(rc == 0, "%s: %s", o->name, err.text);
        ck_assert_int_eq(runs_lost(l), o->runs_lost);
        check_trace(l);
        kw_ledger_close(l);
        unlink(path);
        snprintf(side, sizeof(side), "%s-wal", path);
        unlink(side);
        snprintf(side, sizeof(side), "%s-shm", path);
        unlink(side);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, opens_verifies_and_answers_as_before, 0,
                            (int)(sizeof(ledgers) / sizeof(ledgers[0])));
}

int main(void)
{
        return run_suite("older ledgers", add);
}

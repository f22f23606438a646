/*
 * Labels before they are drawn: Code 128's check characters, every mark in its place, and what is refused.
 *
 * That a printed label is read by other people's decoders is tested in tests/standards/label.
 */
#include "kinwire/certify.h"
#include "kinwire/label.h"
#include "scene.h"
#include "suite.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

/* --- Code 128 --------------------------------------------------------------------------------- */

/* ISO/IEC 15417: widths of bar, space, bar... of the values 0 to 105. */
static const char *const patterns[] = {
        "212222", "222122", "222221", "121223", "121322", "131222", "122213", "122312", "132212", "221213", "221312",
        "231212", "112232", "122132", "122231", "113222", "123122", "123221", "223211", "221132", "221231", "213212",
        "223112", "312131", "311222", "321122", "321221", "312212", "322112", "322211", "212123", "212321", "232121",
        "111323", "131123", "131321", "112313", "132113", "132311", "211313", "231113", "231311", "112133", "112331",
        "132131", "113123", "113321", "133121", "313121", "211331", "231131", "213113", "213311", "213131", "311123",
        "311321", "331121", "312113", "312311", "332111", "314111", "221411", "431111", "111224", "111422", "121124",
        "121421", "141122", "141221", "112214", "112412", "122114", "122411", "142112", "142211", "241211", "221114",
        "413111", "241112", "134111", "111242", "121142", "121241", "114212", "124112", "124211", "411212", "421112",
        "421211", "212141", "214121", "412121", "111143", "111341", "131141", "114113", "114311", "411113", "411311",
        "113141", "114131", "311141", "411131", "211412", "211214", "211232"};
#define PATTERNS ((int)(sizeof patterns / sizeof *patterns))
#define STOP     "2331112"

/* The values of a symbol, read off its bars: start, data, check. Returns how many, or -1. */
static int read_bars(const struct kw_symbol *symbol, int values[64])
{
        char widths[512], *end = widths;
        int n = 0;

        for (size_t i = 0; i < symbol->n; i++) {
                const struct kw_symbol_rect *bar = &symbol->rects[i];
                int next = i + 1 < symbol->n ? bar[1].x : bar->x + bar->w;

                *end++ = (char)('0' + bar->w);
                if (next > bar->x + bar->w)
                        *end++ = (char)('0' + next - bar->x - bar->w);
        }
        *end = '\0';
        for (const char *at = widths; strcmp(at, STOP) != 0; at += 6) {
                int value = 0;

                while (value < PATTERNS && strncmp(at, patterns[value], 6) != 0)
                        value++;
                if (value == PATTERNS || n == 64)
                        return -1;
                values[n++] = value;
        }
        return n;
}

static int check_value(int start, const int *values, int n)
{
        int sum = start;

        for (int i = 0; i < n; i++)
                sum += (i + 1) * values[i];
        return sum % 103;
}

/*
 * Published worked examples. Sources: the Code 128 article at zalansite.site/mediawiki (PJJ123C),
 * barcodeisland.com/code128.phtml (HI345678), barcoderesource.com "Code 128 check character" (ABCDEF, abcdef, 345678),
 * barcode-net.com "modulus 103" (FNC1 123456 X789).
 */
static const struct {
        const char *data; /* NULL: FNC1 is no part of a code */
        int start, n, values[9], check;
} published[] = {
        {"PJJ123C", 103, 7, {48, 42, 42, 17, 18, 19, 35}, 54},
        {"HI345678", 103, 6, {40, 41, 99, 34, 56, 78}, 67},
        {"ABCDEF", 103, 6, {33, 34, 35, 36, 37, 38}, 42},
        {"abcdef", 104, 6, {65, 66, 67, 68, 69, 70}, 97},
        {"345678", 105, 3, {34, 56, 78}, 73},
        {NULL, 105, 9, {102, 12, 34, 56, 100, 56, 23, 24, 25}, 14},
};

/* Capitals and digits have the same values in sets A and B; a start in the other set moves the check by one. */
START_TEST(check_characters_are_the_published_ones)
{
        for (size_t i = 0; i < sizeof published / sizeof *published; i++) {
                int values[64], n, moved;
                struct kw_symbol bars;

                ck_assert_int_eq(check_value(published[i].start, published[i].values, published[i].n),
                                 published[i].check);
                if (!published[i].data)
                        continue;
                ck_assert_int_eq(kw_symbol_bars(published[i].data, &bars), 0);
                n = read_bars(&bars, values);
                ck_assert_msg(n == published[i].n + 2, "%s: %d values", published[i].data, n);
                for (int k = 0; k < published[i].n; k++)
                        ck_assert_msg(values[k + 1] == published[i].values[k], "%s: value %d is %d", published[i].data,
                                      k, values[k + 1]);
                moved = values[0] - published[i].start;
                ck_assert_msg(moved == 0 || moved == 1, "%s: start %d", published[i].data, values[0]);
                ck_assert_int_eq(values[n - 1], (published[i].check + moved) % 103);
                kw_symbol_free(&bars);
        }
}
END_TEST

/* --- a mill's codes, invented ------------------------------------------------------------------ */

static unsigned seed;

static unsigned draw(unsigned below)
{
        seed = seed * 1103515245u + 12345u;
        return (seed >> 16) % below;
}

static const char alphabet[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789./-";

static void draw_code(char code[41])
{
        size_t n = 1 + draw(40), letters = draw(3) ? sizeof alphabet - 1 : 26;

        for (size_t i = 0; i < n; i++)
                code[i] = alphabet[draw((unsigned)letters)];
        code[n] = '\0';
}

/* However a code is made up, its symbol is no wider than 40 letters: start, 40, check and stop. */
START_TEST(no_code_is_wider_than_letters)
{
        seed = 1;
        for (int i = 0; i < 3000; i++) {
                struct kw_symbol bars;
                int values[64], n;
                char code[41];

                draw_code(code);
                ck_assert_int_eq(kw_symbol_bars(code, &bars), 0);
                ck_assert_msg(bars.wide <= 11 * (2 + (int)strlen(code)) + 13, "%s: %d modules", code, bars.wide);
                n = read_bars(&bars, values);
                ck_assert_msg(n > 2, "%s", code);
                ck_assert_int_eq(values[n - 1], check_value(values[0], values + 1, n - 2));
                kw_symbol_free(&bars);
        }
}
END_TEST

/* --- the layout ------------------------------------------------------------------------------- */

static const char *const texts[] = {
        NULL,
        "",
        "x",
        "3.175 mm",
        "1960 N/mm\xc2\xb2",
        "H48211, H48212, H48213, H48214, H48215, H48216, H48217, H48218, H48219, H48220, H48221, H48222, H48223, "
        "H48224",
        "Maximiliana van der Straaten-Oyelaran",
        "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
        "\xd0\xb1\xd1\x83\xd1\x85\xd1\x82\xd0\xb0 \xe4\xb8\xad\xe6\x96\x87 \xe2\x80\x94 \xf0\x9f\x94\xa9",
        "   ",
};

static const char *draw_text(void)
{
        return texts[draw(sizeof texts / sizeof *texts)];
}

static struct kw_label draw_label(const char *code)
{
        struct kw_label label = {
                .what = (enum kw_label_what)draw(KW_LABEL_WHATS),
                .code = code,
                .kind = draw_text(),
                .rope = draw_text(),
                .heat = draw_text(),
                .size = draw_text(),
                .grade = draw_text(),
                .length = draw_text(),
                .date = draw_text(),
                .who = draw_text(),
                .warning = draw_text(),
        };

        if (label.what == KW_LABEL_REEL && (!label.rope || !*label.rope))
                label.rope = "R-26-000417";
        return label;
}

struct box {
        int x0, y0, x1, y1;
};

/* What a mark needs for itself: a symbol's quiet zone is part of it. */
static struct box box_of(const struct kw_mark *mark)
{
        struct box box = {mark->x, mark->y, mark->x + mark->w, mark->y + mark->h};

        if (mark->what != KW_MARK_SYMBOL)
                return box;
        if (mark->symbol->high > 1) {
                int quiet = KW_MATRIX_QUIET * mark->module;

                return (struct box){box.x0 - quiet, box.y0 - quiet, box.x1 + quiet, box.y1 + quiet};
        }
        if (mark->turned) {
                box.y0 -= KW_BARS_QUIET * mark->module;
                box.y1 += KW_BARS_QUIET * mark->module;
        } else {
                box.x0 -= KW_BARS_QUIET * mark->module;
                box.x1 += KW_BARS_QUIET * mark->module;
        }
        return box;
}

static bool overlap(struct box a, struct box b)
{
        return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;
}

static void check_places(const struct kw_scene *scene, const char *name)
{
        for (size_t i = 0; i < scene->n; i++) {
                struct box a = box_of(&scene->marks[i]);
                const char *text = scene->marks[i].text ? scene->marks[i].text : "";

                ck_assert_msg(a.x0 >= 0 && a.y0 >= 0 && a.x1 <= scene->width && a.y1 <= scene->height,
                              "%s: mark %zu '%s' at %d %d to %d %d is not on a label of %d by %d", name, i, text, a.x0,
                              a.y0, a.x1, a.y1, scene->width, scene->height);
                for (size_t k = 0; k < i; k++) {
                        struct box b = box_of(&scene->marks[k]);

                        ck_assert_msg(!overlap(a, b), "%s: mark %zu '%s' (%d %d %d %d) is on mark %zu (%d %d %d %d)",
                                      name, i, text, a.x0, a.y0, a.x1, a.y1, k, b.x0, b.y0, b.x1, b.y1);
                }
        }
}

static void check_symbols(const struct kw_scene *scene, enum kw_label_size size, const char *name)
{
        int bars = 0, matrix = 0;

        for (size_t i = 0; i < scene->n; i++) {
                const struct kw_mark *mark = &scene->marks[i];
                int least = size == KW_LABEL_100X60 ? KW_LABEL_BARS_UM : 250;

                if (mark->what != KW_MARK_SYMBOL)
                        continue;
                if (mark->symbol->high > 1) {
                        matrix++;
                        ck_assert_msg(mark->module >= KW_LABEL_MATRIX_UM, "%s: module of %d um", name, mark->module);
                } else {
                        bars++;
                        ck_assert_msg(mark->module >= least, "%s: module of %d um", name, mark->module);
                }
        }
        ck_assert_int_eq(bars, 1);
        ck_assert_int_eq(matrix, 1);
}

/* All texts of a face, one after the other, with @between between them. */
static void join(const struct kw_scene *scene, enum kw_face face, const char *between, struct kw_buf *out)
{
        kw_buf_clear(out);
        for (size_t i = 0; i < scene->n; i++) {
                if (scene->marks[i].what == KW_MARK_TEXT && scene->marks[i].face == face) {
                        kw_buf_text_add(out, scene->marks[i].text);
                        kw_buf_text_add(out, between);
                }
        }
}

START_TEST(every_mark_has_its_place)
{
        struct kw_letters *letters = kw_letters_new();
        struct kw_buf joined = {0};

        seed = 7;
        for (int i = 0; i < 400; i++) {
                for (int size = 0; size < KW_LABEL_SIZES; size++) {
                        struct kw_scene scene;
                        char code[41], name[96];

                        draw_code(code);
                        struct kw_label label = draw_label(code);

                        snprintf(name, sizeof name, "case %d, %s, %s", i,
                                 kw_label_size_row((enum kw_label_size)size)->name, code);
                        ck_assert_int_eq(kw_label_check(&label, 0, NULL), 0);
                        ck_assert_int_eq(kw_scene_make(&label, (enum kw_label_size)size, 0, letters, &scene, NULL), 0);
                        check_places(&scene, name);
                        check_symbols(&scene, (enum kw_label_size)size, name);
                        join(&scene, KW_FACE_CODE, "", &joined);
                        ck_assert_str_eq(kw_buf_text(&joined), code);
                        join(&scene, KW_FACE_PLAIN, " ", &joined);
                        for (int k = 0; label.what == KW_LABEL_REEL && kw_rope_caution[k]; k++)
                                ck_assert_msg(strstr(kw_buf_text(&joined), kw_rope_caution[k]), "%s: %s in %s", name,
                                              kw_rope_caution[k], kw_buf_text(&joined));
                        kw_scene_free(&scene);
                }
        }
        kw_buf_free(&joined);
        kw_letters_free(letters);
}
END_TEST

/* Why a reel may not be sent is read before anything else about it, on every size, and is framed. */
START_TEST(a_warning_stands_below_the_code)
{
        struct kw_label label = {.what = KW_LABEL_REEL,
                                 .code = "RL-0813",
                                 .kind = "Reel",
                                 .rope = "RP-0813",
                                 .warning = "ON HOLD HD-0012. CERTIFICATE IC-0138 OVERTAKEN"};
        struct kw_letters *letters = kw_letters_new();
        struct kw_buf joined = {0};

        for (int size = 0; size < KW_LABEL_SIZES; size++) {
                struct kw_scene scene, plain;
                const char *without = label.warning;

                ck_assert_int_eq(kw_scene_make(&label, (enum kw_label_size)size, 0, letters, &scene, NULL), 0);
                join(&scene, KW_FACE_BOLD, " ", &joined);
                ck_assert_msg(strstr(kw_buf_text(&joined), "Reel ON HOLD HD-0012. CERTIFICATE IC-0138 OVERTAKEN ") ==
                                      kw_buf_text(&joined),
                              "%s", kw_buf_text(&joined));
                label.warning = NULL;
                ck_assert_int_eq(kw_scene_make(&label, (enum kw_label_size)size, 0, letters, &plain, NULL), 0);
                ck_assert_uint_ge(scene.n, plain.n + 5); /* four sides of a frame, and the text */
                label.warning = without;
                kw_scene_free(&scene);
                kw_scene_free(&plain);
        }
        kw_buf_free(&joined);
        kw_letters_free(letters);
}
END_TEST

/* Half a heat number could be taken for a whole one. */
START_TEST(a_list_is_cut_between_its_members)
{
        struct kw_letters *letters = kw_letters_new();
        struct kw_block block;

        ck_assert_int_eq(kw_letters_block(letters, KW_FACE_BOLD, texts[5], 2000, 2000, 30000, 2400, KW_CUT, &block), 1);
        ck_assert_int_eq(block.n, 1);
        ck_assert_str_eq(block.lines[0].text, "H48211, H48212, H48213, \xe2\x80\xa6");
        kw_block_free(&block);
        kw_letters_free(letters);
}
END_TEST

/* A heat number is whole on the smallest label, beside the rope's number and above the caution, however long it is. */
START_TEST(a_code_is_never_cut)
{
        static const char *const heats[] = {"WWMMWWMMWWMMWWMMWWMM/WWMMWWMMWWMMWWMMWWM",
                                            "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
                                            "ABCDEFGHIJ-KLMNOPQRSTUVWXYZ.0123456789AB"};
        struct kw_letters *letters = kw_letters_new();
        struct kw_buf joined = {0};

        for (size_t i = 0; i < sizeof heats / sizeof *heats; i++)
                for (int size = 0; size < KW_LABEL_SIZES; size++) {
                        struct kw_label label = {.what = KW_LABEL_REEL,
                                                 .code = "RL-0813",
                                                 .kind = "Reel",
                                                 .rope = heats[i],
                                                 .heat = heats[i],
                                                 .size = "13.000 mm",
                                                 .grade = "C82D",
                                                 .length = "500.0 m",
                                                 .date = "2026-11-25",
                                                 .who = "Somebody"};
                        struct kw_scene scene;
                        const char *first;

                        ck_assert_int_eq(kw_scene_make(&label, (enum kw_label_size)size, 0, letters, &scene, NULL), 0);
                        check_places(&scene, heats[i]);
                        join(&scene, KW_FACE_BOLD, "", &joined);
                        first = strstr(kw_buf_text(&joined), heats[i]);
                        ck_assert_msg(first && strstr(first + 1, heats[i]), "size %d: %s", size, kw_buf_text(&joined));
                        kw_scene_free(&scene);
                }
        kw_buf_free(&joined);
        kw_letters_free(letters);
}
END_TEST

/* --- what is refused, and what is written ------------------------------------------------------ */

#define LONG_CODE "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-/.AB"

static const char *const endless[] = {"Much too long. Much too long. Much too long. Much too long. Much too long. Much "
                                      "too long. Much too long. Much.",
                                      "Much too long. Much too long. Much too long. Much too long. Much too long. Much "
                                      "too long. Much too long. Much.",
                                      "Much too long. Much too long. Much too long. Much too long. Much too long. Much "
                                      "too long. Much too long. Much.",
                                      "Much too long. Much too long. Much too long. Much too long. Much too long. Much "
                                      "too long. Much too long. Much.",
                                      NULL};

static const struct kw_label_words bad_words = {.heat = "He\tat"};

static const struct {
        const char *name;
        struct kw_label label;
        int r;
        const char *pointer;
} refused[] = {
        {"no code", {.code = NULL}, KW_BAD_CODE, "/1/code"},
        {"empty code", {.code = ""}, KW_BAD_CODE, "/1/code"},
        {"41 characters", {.code = LONG_CODE}, KW_BAD_CODE, "/1/code"},
        {"small letters", {.code = "bb-1"}, KW_BAD_CODE, "/1/code"},
        {"line feed", {.code = "BB-1", .heat = "H1\nH2"}, KW_BAD_VALUE, "/1/heat"},
        {"escape", {.code = "BB-1", .who = "\x1b[2J"}, KW_BAD_VALUE, "/1/who"},
        {"delete", {.code = "BB-1", .kind = "Reel\x7f"}, KW_BAD_VALUE, "/1/kind"},
        {"next line, U+0085", {.code = "BB-1", .grade = "a\xc2\x85z"}, KW_BAD_VALUE, "/1/grade"},
        {"turned writing, U+202E",
         {.code = "BB-1",
          .length = "\xe2\x80\xae"
                    "0001 m"},
         KW_BAD_VALUE,
         "/1/length"},
        {"no character, U+FFFE", {.code = "BB-1", .size = "\xef\xbf\xbe"}, KW_BAD_VALUE, "/1/size"},
        {"not UTF-8", {.code = "BB-1", .date = "caf\xe9"}, KW_BAD_VALUE, "/1/date"},
        {"captions", {.code = "BB-1", .words = &bad_words}, KW_BAD_VALUE, "/1/words"},
        {"a reel without rope", {.what = KW_LABEL_REEL, .code = "RL-1"}, KW_MISSING, "/1/rope"},
        {"an empty rope", {.what = KW_LABEL_REEL, .code = "RL-1", .rope = ""}, KW_MISSING, "/1/rope"},
        {"an endless caution", {.code = "BB-1", .caution = endless}, KW_OUT_OF_RANGE, "/1/caution"},
};

START_TEST(what_cannot_be_printed_is_refused)
{
        for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
                struct kw_label two[] = {{.code = "BB-2"}, refused[i].label};
                struct kw_error err = {0};
                struct kw_buf out = {0};

                ck_assert_msg(kw_labels_svg(two, 2, KW_LABEL_100X60, &out, &err) == refused[i].r, "%s: %d %s",
                              refused[i].name, err.what, err.text);
                ck_assert_str_eq(err.pointer, refused[i].pointer);
                ck_assert_int_eq(kw_labels_pdf(two, 2, KW_LABEL_100X60, NULL, 0, &out, &err), refused[i].r);
                ck_assert_uint_eq(out.n, 0);
                kw_buf_free(&out);
        }
}
END_TEST

START_TEST(no_label_and_too_many_are_refused)
{
        static struct kw_label many[KW_LABELS_MAX + 1];
        char text[KW_LABEL_TEXT_MAX + 2];
        struct kw_label wordy = {.code = "BB-1", .heat = text};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_labels_svg(many, 0, KW_LABEL_100X60, &out, NULL), KW_BAD_REQUEST);
        ck_assert_int_eq(kw_labels_pdf(many, KW_LABELS_MAX + 1, KW_LABEL_100X60, NULL, 0, &out, NULL), KW_TOO_LARGE);
        memset(text, 'x', sizeof text);
        text[KW_LABEL_TEXT_MAX + 1] = '\0';
        ck_assert_int_eq(kw_labels_svg(&wordy, 1, KW_LABEL_100X60, &out, NULL), KW_BAD_VALUE);
        text[KW_LABEL_TEXT_MAX] = '\0';
        ck_assert_int_eq(kw_labels_svg(&wordy, 1, KW_LABEL_100X60, &out, NULL), 0);
        kw_buf_free(&out);
}
END_TEST

START_TEST(sizes_are_read_by_name)
{
        enum kw_label_size size;

        for (int i = 0; i < KW_LABEL_SIZES; i++) {
                ck_assert_int_eq(kw_label_size_read(kw_label_size_row((enum kw_label_size)i)->name, &size, NULL), 0);
                ck_assert_int_eq((int)size, i);
        }
        ck_assert_int_eq(kw_label_size_read("A4", &size, NULL), KW_BAD_VALUE);
        ck_assert_int_eq(kw_label_size_read("", &size, NULL), KW_BAD_VALUE);
}
END_TEST

static const char *const cuidado[] = {"La fuerza de rotura m\xc3\xadnima no es una carga de trabajo.", NULL};

static const struct kw_label_words spanish = {
        .what = {"Lote", "Soldadura", "Lote de tratamiento", "Carrete"}, .rope = "Cable", .heat = "Colada"};

/* A word that is left out comes in English; the caution in the words that were given. */
START_TEST(words_can_be_in_another_language)
{
        const struct kw_label reel = {.what = KW_LABEL_REEL,
                                      .code = "RL-1",
                                      .rope = "R-1",
                                      .heat = "H<1>&\"2\"",
                                      .grade = "1960",
                                      .words = &spanish,
                                      .caution = cuidado};
        static const char *const there[] = {
                ">Carrete<", ">Cable<", ">Colada<", ">Grade<", ">H&lt;1&gt;&amp;&quot;2&quot;<", "La fuerza de rotura"};
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_labels_svg(&reel, 1, KW_LABEL_ROLL62, &out, NULL), 0);
        for (size_t i = 0; i < sizeof there / sizeof *there; i++)
                ck_assert_msg(strstr(kw_buf_text(&out), there[i]), "%s", there[i]);
        ck_assert_ptr_null(strstr(kw_buf_text(&out), "working load"));
        kw_buf_free(&out);
}
END_TEST

START_TEST(the_same_labels_give_the_same_bytes)
{
        const struct kw_label labels[] = {{.code = "BB-1", .heat = "H1"}, {.code = "BB-2", .who = "R. Okafor"}};
        struct kw_buf first = {0}, again = {0}, later = {0};

        for (int size = 0; size < KW_LABEL_SIZES; size++) {
                enum kw_label_size s = (enum kw_label_size)size;

                kw_buf_clear(&first);
                kw_buf_clear(&again);
                kw_buf_clear(&later);
                ck_assert_int_eq(kw_labels_pdf(labels, 2, s, "Labels", 1772615520, &first, NULL), 0);
                ck_assert_int_eq(kw_labels_pdf(labels, 2, s, "Labels", 1772615520, &again, NULL), 0);
                ck_assert_int_eq(kw_labels_pdf(labels, 2, s, "Labels", 1772615521, &later, NULL), 0);
                ck_assert_uint_eq(first.n, again.n);
                ck_assert_int_eq(memcmp(first.at, again.at, first.n), 0);
                ck_assert_msg(first.n != later.n || memcmp(first.at, later.at, first.n) != 0, "the date is not in it");
        }
        kw_buf_free(&first);
        kw_buf_free(&again);
        kw_buf_free(&later);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, check_characters_are_the_published_ones);
        tcase_add_test(tests, no_code_is_wider_than_letters);
        tcase_add_test(tests, every_mark_has_its_place);
        tcase_add_test(tests, a_warning_stands_below_the_code);
        tcase_add_test(tests, a_list_is_cut_between_its_members);
        tcase_add_test(tests, a_code_is_never_cut);
        tcase_add_test(tests, what_cannot_be_printed_is_refused);
        tcase_add_test(tests, no_label_and_too_many_are_refused);
        tcase_add_test(tests, sizes_are_read_by_name);
        tcase_add_test(tests, words_can_be_in_another_language);
        tcase_add_test(tests, the_same_labels_give_the_same_bytes);
}

/* The font libraries keep what they have loaded until the process ends; a leak checker is told so. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
        return "leak:libfontconfig\nleak:libpango\n";
}

int main(void)
{
        return run_suite("label", add);
}

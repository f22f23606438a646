/*
 * Draws labels for the decoding test: label_draw SIZE svg|pdf CREATED < labels.json > document
 *
 * The input is an array of objects with the members of struct kw_label, "what" as a number and "words" left out.
 */
#include "kinwire/label.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *text_of(const cJSON *label, const char *name)
{
        return cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(label, name));
}

static struct kw_label label_of(const cJSON *from)
{
        const cJSON *what = cJSON_GetObjectItemCaseSensitive(from, "what");

        return (struct kw_label){
                .what = what ? (enum kw_label_what)what->valueint : KW_LABEL_LOT,
                .code = text_of(from, "code"),
                .kind = text_of(from, "kind"),
                .rope = text_of(from, "rope"),
                .heat = text_of(from, "heat"),
                .size = text_of(from, "size"),
                .grade = text_of(from, "grade"),
                .length = text_of(from, "length"),
                .date = text_of(from, "date"),
                .who = text_of(from, "who"),
        };
}

static char *read_all(FILE *in)
{
        struct kw_buf text = {0};
        char piece[4096];
        size_t n;

        while ((n = fread(piece, 1, sizeof piece, in)) > 0)
                kw_buf_add(&text, piece, n);
        kw_buf_text(&text);
        return text.at;
}

static int draw(const cJSON *list, enum kw_label_size size, const char *as, int64_t created)
{
        size_t n = (size_t)cJSON_GetArraySize(list), i = 0;
        struct kw_label *labels = calloc(n + 1, sizeof *labels);
        struct kw_buf out = {0};
        struct kw_error err = {0};
        const cJSON *one;
        int r;

        if (!labels)
                return 1;
        cJSON_ArrayForEach(one, list) labels[i++] = label_of(one);
        r = strcmp(as, "pdf") == 0 ? kw_labels_pdf(labels, n, size, NULL, created, &out, &err)
                                   : kw_labels_svg(labels, n, size, &out, &err);
        if (r)
                fprintf(stderr, "%d %s %s\n", r, err.pointer, err.text);
        else
                fwrite(out.at, 1, out.n, stdout);
        kw_buf_free(&out);
        free(labels);
        return r != 0;
}

/* The font libraries keep what they have loaded until the process ends; a leak checker is told so. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
        return "leak:libfontconfig\nleak:libpango\n";
}

int main(int argc, char **argv)
{
        enum kw_label_size size;
        char *text;
        cJSON *list;
        int r;

        if (argc != 4 || kw_label_size_read(argv[1], &size, NULL))
                return 2;
        text = read_all(stdin);
        list = cJSON_Parse(text);
        r = draw(list, size, argv[2], strtoll(argv[3], NULL, 10));
        cJSON_Delete(list);
        free(text);
        return r;
}

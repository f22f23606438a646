/*
 * The list of marks that a label is laid out into.
 */
#include "scene.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

int kw_scene_add(struct kw_scene *scene, const struct kw_mark *mark)
{
        char *text = NULL;

        if (scene->n == scene->cap) {
                size_t cap = scene->cap ? scene->cap * 2 : 32;
                struct kw_mark *marks = reallocarray(scene->marks, cap, sizeof *marks);

                if (!marks)
                        return -ENOMEM;
                scene->marks = marks;
                scene->cap = cap;
        }
        if (mark->text) {
                text = strdup(mark->text);
                if (!text)
                        return -ENOMEM;
        }
        scene->marks[scene->n] = *mark;
        scene->marks[scene->n++].text = text;
        return 0;
}

void kw_scene_free(struct kw_scene *scene)
{
        for (size_t i = 0; i < scene->n; i++)
                free(scene->marks[i].text);
        free(scene->marks);
        kw_symbol_free(&scene->bars);
        kw_symbol_free(&scene->matrix);
        *scene = (struct kw_scene){0};
}

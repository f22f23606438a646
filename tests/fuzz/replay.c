/*
 * A fuzz target run over the files of its corpus, one after another: what the fuzzer once found interesting stays
 * tested in every run, with any compiler.
 *
 * usage: replay-TARGET FOLDER
 */
#include "fuzz.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static unsigned char *read_file(const char *path, size_t *n)
{
        FILE *f = fopen(path, "rb");
        unsigned char *bytes = NULL;
        long size = -1;

        if (f && fseek(f, 0, SEEK_END) == 0)
                size = ftell(f);
        if (size >= 0)
                bytes = malloc((size_t)size + 1);
        if (bytes) {
                rewind(f);
                *n = fread(bytes, 1, (size_t)size, f);
        }
        if (f)
                fclose(f);
        return bytes;
}

int main(int argc, char **argv)
{
        char path[4096];
        const struct dirent *entry;
        size_t files = 0, n = 0;
        DIR *folder = argc == 2 ? opendir(argv[1]) : NULL;

        if (!folder) {
                fprintf(stderr, "usage: %s FOLDER\n", argv[0]);
                return 2;
        }
        while ((entry = readdir(folder))) {
                unsigned char *bytes;

                if (entry->d_name[0] == '.')
                        continue;
                snprintf(path, sizeof(path), "%s/%s", argv[1], entry->d_name);
                bytes = read_file(path, &n);
                if (!bytes) {
                        fprintf(stderr, "can't read %s\n", path);
                        return 1;
                }
                fprintf(stderr, "%s\n", path);
                LLVMFuzzerTestOneInput(bytes, n);
                free(bytes);
                files++;
        }
        closedir(folder);
        printf("%zu inputs\n", files);
        return files ? 0 : 1;
}

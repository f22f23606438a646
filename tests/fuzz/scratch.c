#include "scratch.h"

#include <dirent.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

static void drop_folder(void)
{
        DIR *all = opendir(folder);
        const struct dirent *entry;

        while (all && (entry = readdir(all))) {
                if (entry->d_name[0] != '.')
                        scratch_drop(entry->d_name);
        }
        if (all)
                closedir(all);
        rmdir(folder);
}

static const char *the_folder(void)
{
        if (folder[0])
                return folder;
        snprintf(folder, sizeof(folder), "%s/kinwire-fuzz-XXXXXX", access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
        MUST(mkdtemp(folder));
        MUST(atexit(drop_folder) == 0);
        return folder;
}

char *scratch_path(const char *name)
{
        char *path = NULL;

        MUST(asprintf(&path, "%s/%s", the_folder(), name) > 0);
        return path;
}

void scratch_write(const char *name, const void *bytes, size_t n)
{
        char *path = scratch_path(name);
        FILE *file = fopen(path, "w");

        MUST(file && fchmod(fileno(file), 0600) == 0);
        MUST(n == 0 || fwrite(bytes, 1, n, file) == n);
        MUST(fclose(file) == 0);
        free(path);
}

void scratch_drop(const char *name)
{
        char *path = scratch_path(name);

        unlink(path);
        free(path);
}

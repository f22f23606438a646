#ifndef KW_TESTS_DISK_FILE_H
#define KW_TESTS_DISK_FILE_H
/* A file of the test's disk, between the file system (disk_vfs.c) and the power (disk.c). All under disk_lock(). */
#include "disk.h"

#include <stddef.h>

struct disk_file {
        char path[256];
        unsigned char *kept; /* as of the last sync */
        size_t n_kept;
        size_t from, to;     /* written since */
        unsigned char *left; /* what was in it when it was removed */
        size_t n_left;
        bool syncs_folder; /* its first sync syncs the folder too */
};

void disk_lock(void);
void disk_unlock(void);
bool disk_changes(void);
struct disk_file *disk_opened(const char *path, bool is_log);
void disk_written(struct disk_file *f, size_t from, size_t n);
void disk_synced(struct disk_file *f, sqlite3_file *real);
void disk_deleting(const char *path);

#endif

#ifndef KW_TESTS_DISK_H
#define KW_TESTS_DISK_H
/*
 * A disk for tests: its power can be cut, and any of its operations can be made to fail.
 *
 * It lies over SQLite's own file system. What was written is on the real disk at once, and beside it the disk remembers
 * what would be left if the power went now: what was synced, and nothing else for sure.
 */
#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

/** disk_install - make it SQLite's file system. Once a process, before any ledger is opened. */
void disk_install(void);
/** disk_forget - all files as they are on the real disk are taken for safe; the power is on, nothing fails. */
void disk_forget(void);

/* --- power ---------------------------------------------------------------------------------------- */

/** disk_cut_after - the power goes at the @n-th write, sync, truncation, creation or removal from now. */
void disk_cut_after(long n);
/** disk_cut - it goes now. */
void disk_cut(void);
bool disk_is_off(void);
/**
 * disk_power_on - after everything was closed: put what the disk kept in the files' places
 * @seed: of the choices
 *
 * Of each file each 512 bytes written since the last sync are kept or not, and so are a new size, a new name and a
 * removal; a sync of a new log or journal takes the folder with it, as SQLite's own file system does it.
 */
void disk_power_on(uint64_t seed);

struct disk_figures {
        long writes, syncs, kept, dropped; /* the last two: sectors, over all cuts */
};
struct disk_figures disk_figures(void);

/* --- faults ---------------------------------------------------------------------------------------- */

enum disk_op {
        DISK_OPEN = 1,
        DISK_READ = 2,
        DISK_WRITE = 4,
        DISK_SYNC = 8,
        DISK_TRUNCATE = 16,
        DISK_DELETE = 32,
        DISK_ANY = 63,
};

struct disk_fault {
        long at;      /* the number of the operation that fails; 0: none */
        bool lasting; /* and all after it */
        unsigned ops; /* which are counted */
        bool full;    /* a write finds no room, rather than failing otherwise */
        long again;   /* a second one so many operations after it; 0: none */
};

/** disk_fail - counting starts anew. */
void disk_fail(const struct disk_fault *fault);
/** disk_ops - how many were counted since disk_fail(). */
long disk_ops(void);

/** disk_last_opened - the connection that was opened last, for a test that changes its settings. */
sqlite3 *disk_last_opened(void);

#endif

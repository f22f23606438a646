#ifndef KW_LEDGER_GATHER_H
#define KW_LEDGER_GATHER_H
/*
 * The way to the disk: SQLite's own, except that what goes into the write-ahead log is gathered into long writes.
 *
 * SQLite writes the log in two pieces a page, 24 bytes and the page, and a commit of a busy shift is a hundred pages:
 * the calls into the kernel took longer than what they carried. The pieces follow one another in the file, so they are
 * kept until one does not, until the room is full, or until somebody could ask for them: a commit's last page, a sync,
 * a read, the file's size. What is in the file when SQLite says that it is committed is the same as without this.
 */
#include <sqlite3.h>

/**
 * kw_gather_vfs - the name of the VFS to open a ledger with; it lies over what was the default at the first call
 * Return: the name; NULL, which is SQLite's word for the default: it could not be registered.
 */
const char *kw_gather_vfs(void);

/**
 * kw_gather_watch - whatever is still held of a transaction of @db that is taken back is forgotten
 *
 * To be called once for each connection that was opened with kw_gather_vfs() and may write. It takes SQLite's rollback
 * hook.
 */
void kw_gather_watch(sqlite3 *db);

#endif

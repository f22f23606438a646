#ifndef KINWIRE_LEDGER_H
#define KINWIRE_LEDGER_H
/*
 * The ledger: one SQLite file, entries appended to it and never changed, and what follows from them.
 *
 * A struct kw_ledger is one connection, used by one thread at a time. One of them writes: between kw_ledger_begin() and
 * kw_ledger_commit() any number of entries is appended, and none of them is acknowledged before the commit has returned
 * 0. Any number of others read; a reader sees the ledger as it stood at kw_ledger_look().
 */
#include "kinwire/buf.h"
#include "kinwire/entry.h"
#include "kinwire/merkle.h"
#include "kinwire/rights.h"

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#define KW_APPLICATION_ID 0x6b77 /* 'kw' */
#define KW_LEDGER_LEVEL   14     /* PRAGMA user_version: the number of the last migration */

struct kw_ledger;

enum kw_open {
        KW_OPEN_WRITE,    /* made when absent, migrated when older */
        KW_OPEN_EXISTING, /* for writing, but it must be there */
        KW_OPEN_READ
};

/**
 * kw_ledger_open - open a ledger file
 * @path: the file; ":memory:" for a ledger of one connection
 * @out:  for the caller to kw_ledger_close()
 *
 * Return: 0; a refusal with a sentence: KW_NOT_FOUND (missing), KW_BUSY (locked), KW_INTERNAL (damaged, not a ledger,
 * made by a newer kinwire, or one of the settings that durability needs did not take).
 */
int kw_ledger_open(const char *path, enum kw_open how, struct kw_ledger **out, struct kw_error *err);
void kw_ledger_close(struct kw_ledger *ledger);

/* --- writing ---------------------------------------------------------------------------------- */

/** Who sends an entry, as the server knows it. */
struct kw_sender {
        const char *by;
        const char *terminal;
        bool may_override;  /* may record a run on what is on hold */
        bool second_person; /* metal that failed or was recalled is not released by one person alone */
        /* whose rights to the kind of entry are looked at; NULL: nobody's, the program was started by hand */
        const struct kw_who *who;
};

/** What an entry is answered with. */
struct kw_receipt {
        int64_t seq;
        bool repeated; /* the key was here before with the same content: nothing was added */
        char *json;    /* {"seq","head","body","findings"}; free() */
};

/**
 * kw_ledger_begin, _commit, _rollback - one transaction of any number of appends
 * kw_ledger_mark, _keep, _undo - inside it, a group of appends that is taken whole or not at all
 *
 * Return: 0; KW_BUSY, KW_DISK_FULL or KW_INTERNAL with a sentence. After a failed commit the transaction is gone.
 */
int kw_ledger_begin(struct kw_ledger *ledger, struct kw_error *err);
/**
 * kw_ledger_begin_boldly - the same, for entries that are expected to be taken
 *
 * Nothing is kept that a single entry could be taken back by, for which SQLite copies each page that the entry writes
 * to. An entry that is refused before anything of it was written, as most are, leaves the ledger as it was; where
 * kw_ledger_half() is true after a refusal, a part of the entry is there, and all that can be done is
 * kw_ledger_rollback(), or kw_ledger_undo() to a mark that was set before it.
 */
int kw_ledger_begin_boldly(struct kw_ledger *ledger, struct kw_error *err);
bool kw_ledger_half(const struct kw_ledger *ledger);
int kw_ledger_commit(struct kw_ledger *ledger, struct kw_error *err);
void kw_ledger_rollback(struct kw_ledger *ledger);

/**
 * kw_ledger_tidy_later - from now on, commits leave the write-ahead log to kw_ledger_tidy()
 * kw_ledger_tidy - bring the log into the ledger when it has become long; not inside a transaction
 *
 * Else the commit that finds the log long does so before it returns, and whoever waits for it waits for that too, with
 * all that is already visible. What is in the log is as safe as what is in the ledger: a failure is no one's, and is
 * tried again later.
 */
void kw_ledger_tidy_later(struct kw_ledger *ledger);
/** kw_ledger_untidy - whether the log has become long, or @times as long as that, and has grown since it was tidied. */
bool kw_ledger_untidy(const struct kw_ledger *ledger, int times);
/**
 * kw_ledger_tidy_beside - with another connection: bring into the ledger what is in the log so far, while the writer
 * goes on; what it writes meanwhile is left, and with it the log
 */
void kw_ledger_tidy_beside(struct kw_ledger *reader);
void kw_ledger_tidy(struct kw_ledger *ledger);
int kw_ledger_mark(struct kw_ledger *ledger, struct kw_error *err);
int kw_ledger_keep(struct kw_ledger *ledger, struct kw_error *err);
void kw_ledger_undo(struct kw_ledger *ledger);

/**
 * kw_ledger_append - check an entry against what stands, add it, and derive what follows
 * @draft:  from kw_draft_read(); its body may be changed (welds are named)
 * @now:    seconds since 1970, for `logged`, and for `at` where the draft has none
 * @out:    the receipt
 *
 * A refused entry leaves the ledger as it was, unless kw_ledger_half() says otherwise. Return: 0; a refusal; a negative
 * errno.
 */
int kw_ledger_append(struct kw_ledger *ledger, struct kw_draft *draft, const struct kw_sender *sender, int64_t now,
                     struct kw_receipt *out, struct kw_error *err);

/**
 * kw_ledger_take - put an entry at the end as another ledger stored it, and derive what follows
 * @leaf: the text that was hashed there, @n bytes: {"at","body","by","key","kind","logged","seq","terminal"}
 *
 * Inside a transaction. What was decided there (a run on what is on hold) is not judged again. Return: 0; KW_BAD_VALUE
 * when it is not the next entry, not in its normal form, or can't follow what stands; another refusal; a negative
 * errno.
 */
int kw_ledger_take(struct kw_ledger *ledger, const char *leaf, size_t n, struct kw_error *err);

/* --- reading ---------------------------------------------------------------------------------- */

/**
 * kw_ledger_while - go on with what is read only as long as @wanted says so; NULL: always
 * @wanted: asked now and then by the thread that reads
 *
 * What takes long goes through many statements, or one long one: either gives -ECANCELED once nobody wants it.
 */
void kw_ledger_while(struct kw_ledger *ledger, bool (*wanted)(void *ctx), void *ctx);

/** kw_ledger_look - begin a consistent view for reading; kw_ledger_done ends it. */
int kw_ledger_look(struct kw_ledger *ledger, struct kw_error *err);
/**
 * kw_ledger_look_after - look with @reader at what the last commit of @writer left, before that begins anything else
 *
 * To whoever follows the ledger, @reader then says of that commit what @writer would, from any thread and while @writer
 * goes on. Return: 0; a refusal; -ENOMEM.
 */
int kw_ledger_look_after(struct kw_ledger *reader, const struct kw_ledger *writer, struct kw_error *err);
void kw_ledger_done(struct kw_ledger *ledger);

struct kw_head {
        int64_t size;
        struct kw_hash root;
};

int kw_ledger_head(struct kw_ledger *ledger, struct kw_head *out, struct kw_error *err);
/** kw_ledger_root - the root at an earlier size. Return: 0; KW_OUT_OF_RANGE. */
int kw_ledger_root(struct kw_ledger *ledger, int64_t size, struct kw_hash *out, struct kw_error *err);
/** kw_ledger_inclusion - the proof that entry @seq is under the head of @size. */
int kw_ledger_inclusion(struct kw_ledger *ledger, int64_t seq, int64_t size, struct kw_proof *out,
                        struct kw_error *err);
/** kw_ledger_consistency - the proof that the head of @size grew from that of @from. */
int kw_ledger_consistency(struct kw_ledger *ledger, int64_t from, int64_t size, struct kw_proof *out,
                          struct kw_error *err);

/** An entry as stored. Strings stay valid during the callback. */
struct kw_stored {
        int64_t seq;
        const char *key, *kind, *at, *logged, *by, *terminal;
        const char *leaf; /* canonical JSON, as hashed */
        const unsigned char *hash;
};

/**
 * kw_ledger_entries - entries after @after in order, @limit at most, to @fn until it returns other than 0
 * Return: 0; what @fn returned; a refusal.
 */
int kw_ledger_entries(struct kw_ledger *ledger, int64_t after, int64_t limit,
                      int (*fn)(void *ctx, const struct kw_stored *e), void *ctx, struct kw_error *err);

/** Called now and then with how far a long job is; may be NULL. */
typedef void (*kw_progress)(void *ctx, const char *what, int64_t done, int64_t of);

/**
 * kw_ledger_tell_of_bringing_up - who is told how far it is when opening a ledger of an older level derives it again
 *
 * To be said once, before there are threads: it holds for every ledger that the program opens. NULL: nobody.
 */
void kw_ledger_tell_of_bringing_up(kw_progress progress, void *ctx);

/**
 * kw_ledger_as_was - a ledger of the first @size entries, which answers as this one did when it had no more
 * @stop: ends it when it becomes true; may be NULL
 * @out: for the caller to kw_ledger_close(); nobody else sees it, and it is gone then
 *
 * It takes as long as recording those entries took, but for the waiting. Called inside a view.
 * Return: 0; KW_OUT_OF_RANGE when the ledger is not so long; KW_INTERNAL when it is damaged; -ECANCELED; a negative
 * errno.
 */
int kw_ledger_as_was(struct kw_ledger *ledger, int64_t size, kw_progress progress, void *ctx, const atomic_bool *stop,
                     struct kw_ledger **out, struct kw_error *err);

/* --- keeping ---------------------------------------------------------------------------------- */

/**
 * kw_ledger_verify - recompute every hash, every node and every derived table
 * @wrong: receives the number of the first entry that is wrong, 0 when a derived table or the file itself is
 *
 * Return: 0, all is as it should be; KW_BAD_VALUE with the sentence that says what is wrong; another refusal when it
 * could not be read at all.
 */
int kw_ledger_verify(struct kw_ledger *ledger, kw_progress progress, void *ctx, int64_t *wrong, struct kw_error *err);

#define KW_REPLAY_SUFFIX ".replay"

/** How to verify. */
struct kw_verifying {
        kw_progress progress; /* may be NULL */
        void *ctx;
        /*
         * NULL, or a file in which the replayed ledger is kept: interrupted, verifying goes on from there, and another
         * time only what came since is replayed. Of what was replayed before, each entry is hashed and parsed again and
         * must be the one that was replayed; that its rows were derived rightly is then what the file says. So it
         * belongs where only those who verify can write. It grows as large as the ledger. Its name ends in
         * KW_REPLAY_SUFFIX; what has that name and does not fit is removed.
         */
        const char *keep;
        bool from_start; /* replay everything, whatever was kept */
        int64_t before;  /* receives how many entries were taken from what was kept */
};

/**
 * kw_ledger_verify_so - the same, on all processors: entries are hashed and parsed beside their replay, and the file is
 * looked through meanwhile
 * Return: as kw_ledger_verify(); KW_BAD_REQUEST, the name of @keep.
 */
int kw_ledger_verify_so(struct kw_ledger *ledger, struct kw_verifying *how, int64_t *wrong, struct kw_error *err);

/**
 * kw_ledger_backup - a consistent copy in file @to (which must not exist), while others write
 * The copy is synced to disk and checked before it takes its name. Beside it stands its manifest, TO.manifest.json:
 * size and root of its head, level, bytes and SHA-256 of the file, and when it was made.
 */
int kw_ledger_backup(struct kw_ledger *ledger, const char *to, kw_progress progress, void *ctx, struct kw_error *err);

/**
 * kw_ledger_restore - a ledger @to (which must not exist) made of the copy @from
 * @bare: the copy has no manifest, and is only verified
 *
 * The copy is held against its manifest and verified throughout before it takes its name; it is itself only read.
 *
 * Return: 0; KW_CODE_TAKEN, @to is there; KW_NOT_FOUND, the copy or its manifest isn't; KW_BAD_VALUE, it is not what it
 * should be; another refusal; a negative errno.
 */
int kw_ledger_restore(const char *from, const char *to, bool bare, kw_progress progress, void *ctx,
                      struct kw_error *err);

#endif

#ifndef KW_TESTS_LOAD_H
#define KW_TESTS_LOAD_H
/*
 * Entries for a ledger that is put under stress, and the book that is kept of them: what was asked to be recorded, and
 * what was acknowledged.
 */
#include "kinwire/writer.h"

#include <pthread.h>
#include <stdatomic.h>

#define LOAD_MAX 60000

/** One entry that was asked for. */
struct asked {
        char key[KW_KEY_LEN + 1];
        unsigned number;        /* which entry of the story it is */
        int64_t seq;            /* as acknowledged; 0: it was not */
        char head[KW_HASH_HEX]; /* as acknowledged */
        int rc;                 /* what was answered */
};

struct book {
        struct asked asked[LOAD_MAX];
        size_t n, acked;
        unsigned next;        /* number of the next entry */
        atomic_llong highest; /* number in the ledger that was acknowledged */
        pthread_t writer;     /* whose thread that is, where the test says so */
        size_t beside;        /* how many were acknowledged by another */
};

/**
 * load_draft - entry @number of the story: a heat, a coil of it, the run that draws it, a test, a hold, its release, a
 * correction of the run, and so on; each eight of them stand on themselves
 * @key: receives its key, which is the number's
 */
void load_draft(unsigned number, struct kw_draft *out, char key[KW_KEY_LEN + 1]);

/** load_append - one entry in a transaction of its own. Return: what the ledger said. */
int load_append(struct kw_ledger *ledger, unsigned number, struct kw_receipt *out, struct kw_error *err);

/** load_write - entry @number through the writer, and wait for its answer, which is put into the book when it is given.
 */
int load_write(struct kw_writer *writer, struct book *book, unsigned number, struct kw_error *err);

/**
 * load_run - @threads threads of it, each with @eights times eight entries, until all are recorded or one was not
 */
void load_run(struct kw_writer *writer, struct book *book, unsigned threads, unsigned eights);

/** What the ledger has, held against the book. */
struct found {
        int64_t stored, lost, strange, wrong_head;
};
/**
 * load_compare - every acknowledged entry is there under its number and head, nothing is there that nobody asked for
 * @lost: acknowledged and not there, or not under its number; @strange: there and never asked for
 */
void load_compare(struct kw_ledger *ledger, struct book *book, struct found *out);
/** load_forget - of the book what the ledger does not have, after a loss that was meant to be seen. */
void load_forget(struct book *book);

/** load_verify - as `kinwire verify` does it; fails the test with the sentence when something is wrong. */
void load_verify(struct kw_ledger *ledger, const char *when);

/** load_long - @few, or @many when KW_FAULT_LONG is 1. */
long load_long(long few, long many);
/** load_folder - make a folder and go there; load_folder_end removes it. */
void load_folder(void);
void load_folder_end(void);
/** load_remove - a ledger's files. */
void load_remove(const char *path);

#endif

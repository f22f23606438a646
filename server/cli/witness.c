/*
 * kinwire witness: notes of the ledger's head for safe keeping elsewhere, and whether one grew from another.
 */
#include "cli.h"

#include "kinwire/answer.h"
#include "kinwire/entry.h"
#include "kinwire/witness.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <sodium.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define NOTE_MOST 4096

struct witness {
        const struct kw_command *self;
        const char *ledger, *key, *to, *file;
};

/* A small file, whole. Return: its bytes; -1 after complaining. */
static ssize_t read_small(const struct kw_command *self, const char *name, char *out, size_t size)
{
        FILE *file = fopen(name, "re");
        size_t n = file ? fread(out, 1, size, file) : 0;
        bool failed = !file || ferror(file);

        if (failed)
                kw_complain(self, "%s: %s", name, strerror(errno));
        if (file)
                fclose(file);
        return failed ? -1 : (ssize_t)n;
}

/* --- keys ---------------------------------------------------------------------------------------- */

static int make_key(const struct kw_command *self, const char *name)
{
        unsigned char secret[KW_KEY_BYTES], public_key[KW_KEY_BYTES];
        char hex[2 * KW_KEY_BYTES + 1];
        int fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        bool fine;

        if (fd < 0) {
                kw_complain(self, "%s: %s", name, strerror(errno));
                return KW_EXIT_LEDGER;
        }
        fine = kw_key_make(secret, public_key) == 0;
        sodium_bin2hex(hex, sizeof hex, secret, sizeof secret);
        hex[2 * KW_KEY_BYTES] = '\n';
        fine = fine && write(fd, hex, sizeof hex) == (ssize_t)sizeof hex && fsync(fd) == 0;
        sodium_memzero(secret, sizeof secret);
        sodium_memzero(hex, sizeof hex);
        if (close(fd) != 0 || !fine) {
                kw_complain(self, "%s: the key could not be written", name);
                return KW_EXIT_LEDGER;
        }
        sodium_bin2hex(hex, sizeof hex, public_key, sizeof public_key);
        printf("%s is a new key; its public half, for whoever is to check notes, is\n%s\n", name, hex);
        return kw_flush(self);
}

static int read_key(const struct kw_command *self, const char *name, unsigned char secret[KW_KEY_BYTES])
{
        char hex[2 * KW_KEY_BYTES + 2];
        ssize_t n = read_small(self, name, hex, sizeof hex);
        size_t got = 0;
        bool fine = n >= 2 * KW_KEY_BYTES && (n == 2 * KW_KEY_BYTES || hex[2 * KW_KEY_BYTES] == '\n') &&
                    sodium_hex2bin(secret, KW_KEY_BYTES, hex, 2 * KW_KEY_BYTES, NULL, &got, NULL) == 0 &&
                    got == KW_KEY_BYTES;

        sodium_memzero(hex, sizeof hex);
        if (n >= 0 && !fine)
                kw_complain(self, "%s is no key from kinwire witness --make-key", name);
        return fine ? KW_EXIT_DONE : KW_EXIT_INPUT;
}

/* --- a note --------------------------------------------------------------------------------------- */

static int write_out(const struct witness *w, const struct kw_buf *note)
{
        FILE *file = w->to ? fopen(w->to, "wxe") : stdout;
        bool fine = file && fwrite(note->at, 1, note->n, file) == note->n && fflush(file) == 0;

        if (file && file != stdout)
                fine = fclose(file) == 0 && fine;
        if (fine)
                return KW_EXIT_DONE;
        kw_complain(w->self, "%s: %s", w->to ? w->to : "standard output", strerror(errno));
        return KW_EXIT_LEDGER;
}

static int note(const struct witness *w, struct kw_ledger *ledger)
{
        unsigned char secret[KW_KEY_BYTES];
        struct kw_buf text = {0};
        struct kw_error err = {0};
        struct kw_head head;
        int rc = w->key ? read_key(w->self, w->key, secret) : KW_EXIT_DONE;

        if (rc)
                return rc;
        rc = kw_ledger_head(ledger, &head, &err);
        if (!rc)
                rc = kw_note_write(&head, (int64_t)time(NULL), w->key ? secret : NULL, &text);
        sodium_memzero(secret, sizeof secret);
        rc = rc ? kw_failed(w->self, w->ledger, rc, &err) : write_out(w, &text);
        kw_buf_free(&text);
        return rc;
}

/* --- a file -------------------------------------------------------------------------------------- */

static int sum_of(const struct witness *w, struct kw_hash *out)
{
        unsigned char piece[65536];
        crypto_hash_sha256_state sum;
        FILE *file = fopen(w->file, "re");
        size_t n = 0;
        bool failed = !file;

        crypto_hash_sha256_init(&sum);
        while (!failed && (n = fread(piece, 1, sizeof piece, file)) > 0)
                crypto_hash_sha256_update(&sum, piece, n);
        failed = failed || ferror(file);
        crypto_hash_sha256_final(&sum, out->bytes);
        if (failed)
                kw_complain(w->self, "%s: %s", w->file, strerror(errno));
        if (file)
                fclose(file);
        return failed ? KW_EXIT_INPUT : KW_EXIT_DONE;
}

static int sign_file(const struct witness *w)
{
        unsigned char secret[KW_KEY_BYTES];
        const char *stroke = strrchr(w->file, '/');
        struct kw_buf text = {0};
        struct kw_error err = {0};
        struct kw_hash sum;
        int rc = read_key(w->self, w->key, secret);

        if (!rc)
                rc = sum_of(w, &sum);
        if (rc)
                return rc;
        rc = kw_note_of_file(stroke ? stroke + 1 : w->file, &sum, (int64_t)time(NULL), secret, &text, &err);
        sodium_memzero(secret, sizeof secret);
        if (rc > 0)
                rc = kw_misused(w->self, "%s", err.text);
        else if (rc)
                rc = kw_failed(w->self, w->file, rc, &err);
        else
                rc = write_out(w, &text);
        kw_buf_free(&text);
        return rc;
}

/* --- two notes ------------------------------------------------------------------------------------ */

static int read_note(const struct kw_command *self, const char *name, struct kw_note *out)
{
        char text[NOTE_MOST];
        struct kw_error err = {0};
        ssize_t n = read_small(self, name, text, sizeof text);

        if (n < 0)
                return KW_EXIT_INPUT;
        if (kw_note_read(text, (size_t)n, out, &err) == 0)
                return KW_EXIT_DONE;
        kw_complain(self, "%s: %s", name, err.text);
        return KW_EXIT_NO;
}

/* The proof as the server answers it, for whoever checks it elsewhere. */
static int write_proof(const struct witness *w, struct kw_ledger *ledger, const struct kw_note *a,
                       const struct kw_note *b)
{
        struct kw_buf text = {0};
        struct kw_error err = {0};
        int rc = kw_answer_consistency(ledger, a->head.size, b->head.size, &text, &err);

        kw_buf_add(&text, "\n", 1);
        rc = rc ? kw_failed(w->self, w->ledger, rc, &err) : write_out(w, &text);
        kw_buf_free(&text);
        return rc;
}

/* A ledger that is shorter than the later note has lost entries, whatever their hashes. */
static int compare(const struct witness *w, struct kw_ledger *ledger, const struct kw_note *a, const struct kw_note *b)
{
        struct kw_error err = {0};
        struct kw_proof proof;
        struct kw_head head;
        int rc = kw_ledger_head(ledger, &head, &err);

        if (!rc && head.size < b->head.size) {
                kw_complain(w->self, "%s has %" PRId64 " entries, and the later note was of %" PRId64, w->ledger,
                            head.size, b->head.size);
                return KW_EXIT_NO;
        }
        if (!rc && a->head.size <= b->head.size)
                rc = kw_ledger_consistency(ledger, a->head.size, b->head.size, &proof, &err);
        if (rc)
                return kw_failed(w->self, w->ledger, rc, &err);
        if (kw_notes_grew(a, b, &proof, &err)) {
                kw_complain(w->self, "%s", err.text);
                return KW_EXIT_NO;
        }
        printf("the ledger of %s (%" PRId64 " entries) only grew from that of %s (%" PRId64 " entries)\n", b->time,
               b->head.size, a->time, a->head.size);
        printf(a->is_signed ? "both notes are signed with the same key\n" : "the notes are not signed\n");
        rc = kw_flush(w->self);
        return rc || !w->to ? rc : write_proof(w, ledger, a, b);
}

/* --- the command ---------------------------------------------------------------------------------- */

static int with_ledger(const struct witness *w, const struct kw_note *a, const struct kw_note *b)
{
        struct kw_error err = {0};
        struct kw_ledger *ledger;
        int rc = kw_ledger_open(w->ledger, KW_OPEN_READ, &ledger, &err);

        if (rc)
                return kw_failed(w->self, w->ledger, rc, &err);
        rc = kw_ledger_look(ledger, &err);
        if (rc) {
                rc = kw_failed(w->self, w->ledger, rc, &err);
        } else {
                rc = a ? compare(w, ledger, a, b) : note(w, ledger);
                kw_ledger_done(ledger);
        }
        kw_ledger_close(ledger);
        return rc;
}

static int check(struct witness *w, int argc, char **argv)
{
        const char *first = NULL, *second = NULL;
        const struct kw_option options[] = {
                {"ledger", &w->ledger, NULL}, {"check", &first, NULL}, {"output", &w->to, NULL}, {0}};
        struct kw_note a, b;
        int rc = kw_options(w->self, argc, argv, options, "the second note", &second);

        if (rc != KW_GO_ON)
                return rc;
        rc = read_note(w->self, first, &a);
        if (!rc)
                rc = read_note(w->self, second, &b);
        return rc ? rc : with_ledger(w, &a, &b);
}

static int run(const struct kw_command *self, int argc, char **argv)
{
        struct witness w = {.self = self};
        const char *new_key = NULL;
        const struct kw_option of_key[] = {{"make-key", &new_key, NULL}, {0}};
        const struct kw_option of_file[] = {
                {"sign", &w.file, NULL}, {"key", &w.key, NULL}, {"output", &w.to, NULL}, {0}};
        const struct kw_option of_note[] = {
                {"ledger", &w.ledger, NULL}, {"key", &w.key, NULL}, {"output", &w.to, NULL}, {0}};
        int rc;

        for (int i = 1; i < argc; i++) {
                if (strcmp(argv[i], "-o") == 0)
                        argv[i] = "--output";
        }
        if (argc > 1 && strcmp(argv[1], "--make-key") == 0) {
                rc = kw_options(self, argc, argv, of_key, NULL, NULL);
                return rc == KW_GO_ON ? make_key(self, new_key) : rc;
        }
        for (int i = 1; i < argc; i++) {
                if (strcmp(argv[i], "--check") == 0)
                        return check(&w, argc, argv);
                if (strcmp(argv[i], "--sign") != 0)
                        continue;
                rc = kw_options(self, argc, argv, of_file, NULL, NULL);
                if (rc == KW_GO_ON && !w.key)
                        rc = kw_misused(self, "--key KEYFILE is missing");
                return rc == KW_GO_ON ? sign_file(&w) : rc;
        }
        rc = kw_options(self, argc, argv, of_note, NULL, NULL);
        return rc == KW_GO_ON ? with_ledger(&w, NULL, NULL) : rc;
}

const struct kw_command kw_witness = {
        .name = "witness",
        .does = "notes of the ledger's head to be kept elsewhere, and whether one grew from another",
        .usage = "--ledger FILE [--key KEYFILE] [-o NOTE]\n"
                 "       kinwire witness --make-key KEYFILE\n"
                 "       kinwire witness --check NOTE1 NOTE2 --ledger FILE [-o PROOF]\n"
                 "       kinwire witness --sign FILE --key KEYFILE [-o NOTE]",
        .help = "  --ledger FILE   the ledger; a daemon may be running on it\n"
                "  --key KEYFILE   sign the note with this key (Ed25519)\n"
                "  -o NOTE         where to, which must not be there yet; standard output when it isn't said\n"
                "  --make-key      make a key that only its owner can read, and print its public half\n"
                "  --check         that both notes are as they were signed, and that the ledger of the second\n"
                "                  only grew from that of the first; with -o PROOF, the proof of that is written\n"
                "                  for whoever has the notes and not the ledger: grew.py in a pack checks it\n"
                "  --sign          sign a file that leaves the mill, a pack for example: a note with its SHA-256\n"
                "\n"
                "Print a note, mail it, or keep it where nobody at the mill can change it.\n"
                "\n"
                "Exit status: 0 done, 1 a note is not as it was signed or the ledger did not only grow, 2 wrong\n"
                "usage, 3 a note or key can't be read, 4 the ledger can't be used.\n",
        .run = run,
};

/*
 * The certificate that is shown to who connects by TLS, and its renewal while the server runs.
 *
 * The handshake itself is the library's. It asks for the certificate at each one, so that one that was renewed is shown
 * from the next connection on; older ones stay until the end, since a connection may still use them: a certificate is
 * renewed a few times a year.
 */
#include "server.h"

#include <errno.h>
#include <fcntl.h>
#include <gnutls/abstract.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define CHAIN_MAX 8
#define PEM_MAX   ((off_t)256 << 10)

struct pair {
        gnutls_pcert_st chain[CHAIN_MAX];
        unsigned n;
        gnutls_privkey_t key;
        time_t until;
        struct pair *older;
};

struct kw_tls {
        char *cert, *key;
        pthread_mutex_t lock;
        struct pair *newest;
};

/* The library's callback is not told whose connection it is; a process serves one ledger. */
static struct kw_tls *_Atomic shown;

/* --- reading ---------------------------------------------------------------------------------- */

static int unreadable(const char *path, struct kw_error *err)
{
        return kw_refuse(err, KW_BAD_REQUEST, NULL, "%s can't be read: %s", path, strerror(errno));
}

/* A small file, whole. @secret: nobody but its owner and group may read it. */
static int slurp(const char *path, bool secret, gnutls_datum_t *out, struct kw_error *err)
{
        int fd = open(path, O_RDONLY | O_CLOEXEC), rc = 0;
        struct stat st;
        ssize_t n = 0;

        if (fd < 0)
                return unreadable(path, err);
        if (fstat(fd, &st) < 0 || !S_ISREG(st.st_mode) || st.st_size == 0 || st.st_size > PEM_MAX)
                rc = kw_refuse(err, KW_BAD_REQUEST, NULL, "%s is not a file in PEM", path);
        else if (secret && st.st_mode & (S_IROTH | S_IWOTH))
                rc = kw_refuse(
                        err, KW_BAD_REQUEST, NULL,
                        "%s can be read by everyone on this machine: chmod 600 it, and have it renewed if others "
                        "may have read it",
                        path);
        if (!rc && !(out->data = malloc((size_t)st.st_size)))
                rc = -ENOMEM;
        if (!rc && ((n = read(fd, out->data, (size_t)st.st_size)) != st.st_size))
                rc = unreadable(path, err);
        out->size = (unsigned)(rc ? 0 : n);
        close(fd);
        return rc;
}

static void forget(gnutls_datum_t *text)
{
        if (text->data)
                explicit_bzero(text->data, text->size);
        free(text->data);
}

static void free_pair(struct pair *p)
{
        for (unsigned i = 0; i < p->n; i++)
                gnutls_pcert_deinit(&p->chain[i]);
        if (p->key)
                gnutls_privkey_deinit(p->key);
        free(p);
}

/* --- what is wrong with a pair ---------------------------------------------------------------- */

static bool id_of(gnutls_pubkey_t key, unsigned char id[64], size_t *n)
{
        *n = 64;
        return gnutls_pubkey_get_key_id(key, GNUTLS_KEYID_USE_SHA256, id, n) == 0;
}

static bool belong_together(const struct pair *p)
{
        unsigned char of_cert[64], of_key[64];
        size_t cert_n, key_n;
        gnutls_pubkey_t public;
        bool same;

        if (gnutls_pubkey_init(&public) != 0)
                return false;
        same = gnutls_pubkey_import_privkey(public, p->key, 0, 0) == 0 && id_of(public, of_key, &key_n) &&
               id_of(p->chain[0].pubkey, of_cert, &cert_n) && cert_n == key_n && memcmp(of_cert, of_key, key_n) == 0;
        gnutls_pubkey_deinit(public);
        return same;
}

static time_t end_of(const gnutls_pcert_st *cert)
{
        gnutls_x509_crt_t x;
        time_t until = (time_t)-1;

        if (gnutls_x509_crt_init(&x) != 0)
                return until;
        if (gnutls_x509_crt_import(x, &cert->cert, GNUTLS_X509_FMT_DER) == 0)
                until = gnutls_x509_crt_get_expiration_time(x);
        gnutls_x509_crt_deinit(x);
        return until;
}

static int check(const struct kw_tls *tls, struct pair *p, struct kw_error *err)
{
        if (!belong_together(p))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "%s is not the key of the first certificate in %s",
                                 tls->key, tls->cert);
        p->until = end_of(&p->chain[0]);
        if (p->until == (time_t)-1 || p->until <= time(NULL))
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "the certificate in %s is over: have it renewed",
                                 tls->cert);
        return 0;
}

static int parse(const struct kw_tls *tls, struct pair *p, const gnutls_datum_t *cert, const gnutls_datum_t *key,
                 struct kw_error *err)
{
        unsigned n = CHAIN_MAX;
        int rc = gnutls_pcert_list_import_x509_raw(p->chain, &n, cert, GNUTLS_X509_FMT_PEM, 0);

        if (rc != 0)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "%s is not a certificate and its chain in PEM: %s",
                                 tls->cert, gnutls_strerror(rc));
        p->n = n;
        rc = gnutls_privkey_init(&p->key);
        if (rc == 0)
                rc = gnutls_privkey_import_x509_raw(p->key, key, GNUTLS_X509_FMT_PEM, NULL, 0);
        if (rc != 0)
                return kw_refuse(err, KW_BAD_REQUEST, NULL, "%s is not a key in PEM without a passphrase: %s", tls->key,
                                 gnutls_strerror(rc));
        return check(tls, p, err);
}

int kw_tls_renew(struct kw_tls *tls, struct kw_error *err)
{
        gnutls_datum_t cert = {0}, key = {0};
        struct pair *p = calloc(1, sizeof *p);
        int rc = p ? slurp(tls->cert, false, &cert, err) : -ENOMEM;

        if (!rc)
                rc = slurp(tls->key, true, &key, err);
        if (!rc)
                rc = parse(tls, p, &cert, &key, err);
        forget(&cert);
        forget(&key);
        if (rc) {
                if (p)
                        free_pair(p);
                return rc;
        }
        pthread_mutex_lock(&tls->lock);
        p->older = tls->newest;
        tls->newest = p;
        pthread_mutex_unlock(&tls->lock);
        return 0;
}

int kw_tls_new(const char *cert, const char *key, struct kw_tls **out, struct kw_error *err)
{
        struct kw_tls *tls = calloc(1, sizeof *tls);
        int rc = -ENOMEM;

        if (!tls)
                return rc;
        pthread_mutex_init(&tls->lock, NULL);
        tls->cert = strdup(cert);
        tls->key = strdup(key);
        if (tls->cert && tls->key)
                rc = kw_tls_renew(tls, err);
        if (rc) {
                kw_tls_free(tls);
                return rc;
        }
        atomic_store(&shown, tls);
        *out = tls;
        return 0;
}

int64_t kw_tls_until(struct kw_tls *tls)
{
        int64_t until;

        pthread_mutex_lock(&tls->lock);
        until = (int64_t)tls->newest->until;
        pthread_mutex_unlock(&tls->lock);
        return until;
}

void kw_tls_free(struct kw_tls *tls)
{
        struct kw_tls *mine = tls;

        if (!tls)
                return;
        atomic_compare_exchange_strong(&shown, &mine, NULL);
        for (struct pair *p = tls->newest, *older; p; p = older) {
                older = p->older;
                free_pair(p);
        }
        pthread_mutex_destroy(&tls->lock);
        free(tls->cert);
        free(tls->key);
        free(tls);
}

/* --- the library's question ------------------------------------------------------------------- */

static int show(gnutls_session_t session, const struct gnutls_cert_retr_st *info, gnutls_pcert_st **certs,
                unsigned *n_certs, gnutls_ocsp_data_st **ocsp, unsigned *n_ocsp, gnutls_privkey_t *key, unsigned *flags)
{
        struct kw_tls *tls = atomic_load(&shown);

        (void)session, (void)info;
        if (!tls)
                return -1;
        pthread_mutex_lock(&tls->lock);
        *certs = tls->newest->chain;
        *n_certs = tls->newest->n;
        *key = tls->newest->key;
        pthread_mutex_unlock(&tls->lock);
        *ocsp = NULL;
        *n_ocsp = 0;
        *flags = 0;
        return 0;
}

void *kw_tls_callback(void)
{
        gnutls_certificate_retrieve_function3 *function = show;
        void *at;

        memcpy(&at, &function, sizeof at);
        return at;
}

/*
 * Which files can be reached: Landlock (Linux 5.13 and later), by its three system calls, for which the C library has
 * no functions.
 *
 * A right that the kernel does not know yet is left out of what is asked for, so that the same program does what can be
 * done on each; the versions are those of the kernel's Documentation/userspace-api/landlock.rst.
 */
#include "kinwire/sandbox.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/landlock.h>
#include <stdint.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

/* Rights that came after the headers of Debian 12, with the version that brought them. */
#define MOVE     (UINT64_C(1) << 13) /* 2 */
#define TRUNCATE (UINT64_C(1) << 14) /* 3 */
#define DEVICES  (UINT64_C(1) << 15) /* 5 */
#define CONNECT  (UINT64_C(1) << 1)  /* 4, of the network's */
#define OUTSIDE  (UINT64_C(3))       /* 6: abstract sockets of, and signals to, processes outside */

#define FIRST_13 ((UINT64_C(1) << 13) - 1) /* 1 */
#define READ     (LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_READ_DIR)
#define OF_FILES (LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_WRITE_FILE | TRUNCATE)
#define CHANGE                                                                                                 \
        (READ | LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_REMOVE_FILE | LANDLOCK_ACCESS_FS_MAKE_REG | \
         LANDLOCK_ACCESS_FS_REMOVE_DIR | LANDLOCK_ACCESS_FS_MAKE_DIR | MOVE | TRUNCATE)

struct rules {
        uint64_t files, network, outside;
};

/* What is given up unless a rule gives it back. Return: bytes of it that the kernel knows. */
static size_t all_of(int version, struct rules *out)
{
        *out = (struct rules){.files = FIRST_13};
        if (version >= 2)
                out->files |= MOVE;
        if (version >= 3)
                out->files |= TRUNCATE;
        if (version >= 5)
                out->files |= DEVICES;
        if (version >= 4)
                out->network = CONNECT;
        if (version >= 6)
                out->outside = OUTSIDE;
        return version >= 6 ? sizeof *out : version >= 4 ? 16 : 8;
}

static int allow(int rules, const struct rules *all, const struct kw_reachable *what, struct kw_error *err)
{
        struct landlock_path_beneath_attr beneath = {.parent_fd = open(what->path, O_PATH | O_CLOEXEC)};
        struct stat st;
        int failed = 0;

        if (beneath.parent_fd < 0 && !what->needed)
                return 0;
        beneath.allowed_access = (what->write ? CHANGE : READ) & all->files;
        if (beneath.parent_fd < 0 || fstat(beneath.parent_fd, &st) < 0)
                failed = errno;
        else if (!S_ISDIR(st.st_mode))
                beneath.allowed_access &= OF_FILES;
        if (!failed && syscall(SYS_landlock_add_rule, rules, LANDLOCK_RULE_PATH_BENEATH, &beneath, 0) < 0)
                failed = errno;
        if (beneath.parent_fd >= 0)
                close(beneath.parent_fd);
        return failed ? kw_refuse(err, KW_INTERNAL, NULL, "%s can't be kept within reach: %s", what->path,
                                  strerror(failed))
                      : 0;
}

/* Why there is no Landlock here, by what the kernel, or what stands between it and this process, answered. */
static int without(int why, struct kw_error *err)
{
        switch (why) {
        case ENOSYS:
                return kw_refuse(err, KW_NOT_FOUND, NULL,
                                 "this kernel has no Landlock (Linux 5.13 and later have), or a container hides it");
        case EOPNOTSUPP:
                return kw_refuse(err, KW_NOT_FOUND, NULL,
                                 "Landlock is switched off on this machine (it has to be named in lsm= when the kernel "
                                 "is started)");
        case EPERM:
        case EACCES:
                return kw_refuse(err, KW_NOT_FOUND, NULL,
                                 "Landlock is not allowed here: the container, or what else this process was started "
                                 "in, refuses the system call (%s)",
                                 strerror(why));
        default:
                return kw_refuse(err, KW_INTERNAL, NULL, "the kernel's Landlock can't be used: %s", strerror(why));
        }
}

int kw_sandbox_files(const struct kw_reachable *reachable, struct kw_error *err)
{
        long version = syscall(SYS_landlock_create_ruleset, NULL, 0, LANDLOCK_CREATE_RULESET_VERSION);
        struct rules all;
        int rules, rc = 0;

        if (version < 1)
                return without(errno, err);
        rules = (int)syscall(SYS_landlock_create_ruleset, &all, all_of((int)version, &all), 0);
        if (rules < 0)
                return without(errno, err);
        for (; reachable->path && rc == 0; reachable++)
                rc = allow(rules, &all, reachable, err);
        if (rc == 0 &&
            (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) < 0 || syscall(SYS_landlock_restrict_self, rules, 0) < 0))
                rc = without(errno, err);
        close(rules);
        return rc;
}

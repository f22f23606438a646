/*
 * Which system calls there are: one list, made into a filter (seccomp) that the kernel asks at each.
 *
 *      of another processor's kind      the process ends
 *      on the list of what is harmful   EPERM
 *      on the list of what serving needs   allowed, a few of them by their arguments
 *      anything else                    ENOSYS, as on an older kernel: the C library then does without
 *
 * The lists were made from what the tests do; the whole test suite runs under the filter.
 */
#include "kinwire/sandbox.h"

#include <errno.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sched.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <unistd.h>

#if defined __x86_64__
#define PROCESSOR AUDIT_ARCH_X86_64
#elif defined __aarch64__
#define PROCESSOR AUDIT_ARCH_AARCH64
#endif

static const short needed[] = {
        /* files; what may be opened is Landlock's affair */
        SYS_read,
        SYS_write,
        SYS_readv,
        SYS_writev,
        SYS_pread64,
        SYS_pwrite64,
        SYS_preadv,
        SYS_pwritev,
        SYS_lseek,
        SYS_openat,
        SYS_close,
        SYS_fstat,
        SYS_newfstatat,
        SYS_statx,
        SYS_statfs,
        SYS_fstatfs,
        SYS_faccessat,
        SYS_faccessat2,
        SYS_getdents64,
        SYS_unlinkat,
        SYS_renameat,
        SYS_renameat2,
        SYS_mkdirat,
        SYS_readlinkat,
        SYS_fsync,
        SYS_fdatasync,
        SYS_ftruncate,
        SYS_fallocate,
        SYS_fadvise64,
        SYS_flock,
        SYS_fcntl,
        SYS_fchmod,
        SYS_fchown,
        SYS_utimensat,
        SYS_getcwd,
        SYS_umask,
        SYS_dup,
        SYS_dup3,
        SYS_sendfile,
#ifdef __x86_64__
        SYS_open,
        SYS_stat,
        SYS_lstat,
        SYS_access,
        SYS_unlink,
        SYS_rename,
        SYS_mkdir,
        SYS_readlink,
        SYS_getdents,
        SYS_poll,
        SYS_select,
        SYS_epoll_wait,
        SYS_time,
        SYS_dup2,
        SYS_arch_prctl,
#endif
        /* what is connected already, and what waits for it */
        SYS_accept,
        SYS_accept4,
        SYS_recvfrom,
        SYS_recvmsg,
        SYS_sendto,
        SYS_sendmsg,
        SYS_shutdown,
        SYS_getsockname,
        SYS_getpeername,
        SYS_getsockopt,
        SYS_setsockopt,
        SYS_ppoll,
        SYS_pselect6,
        SYS_epoll_create1,
        SYS_epoll_ctl,
        SYS_epoll_pwait,
        SYS_eventfd2,
        SYS_pipe2,
        /* memory */
        SYS_brk,
        SYS_munmap,
        SYS_mremap,
        SYS_madvise,
        SYS_msync,
        SYS_mlock,
        SYS_munlock,
        SYS_mincore,
        SYS_membarrier,
        /* threads */
        SYS_futex,
        SYS_set_robust_list,
        SYS_get_robust_list,
        SYS_rseq,
        SYS_set_tid_address,
        SYS_gettid,
        SYS_getpid,
        SYS_sched_yield,
        SYS_sched_getaffinity,
        SYS_exit,
        SYS_exit_group,
        /* signals and time */
        SYS_rt_sigaction,
        SYS_rt_sigprocmask,
        SYS_rt_sigreturn,
        SYS_rt_sigtimedwait,
        SYS_sigaltstack,
        SYS_restart_syscall,
        SYS_nanosleep,
        SYS_clock_nanosleep,
        SYS_clock_gettime,
        SYS_clock_getres,
        SYS_gettimeofday,
        /* what the process is told of itself and the machine */
        SYS_getrandom,
        SYS_getrusage,
        SYS_getuid,
        SYS_geteuid,
        SYS_getgid,
        SYS_getegid,
        SYS_getppid,
        SYS_sysinfo,
        SYS_uname,
        SYS_times,
};

static const short harmful[] = {
        SYS_execve,
        SYS_execveat,
        SYS_ptrace,
        SYS_process_vm_readv,
        SYS_process_vm_writev,
        SYS_socket,
        SYS_socketpair,
        SYS_connect,
        SYS_bind,
        SYS_listen,
        SYS_setuid,
        SYS_setgid,
        SYS_setreuid,
        SYS_setregid,
        SYS_setresuid,
        SYS_setresgid,
        SYS_setgroups,
        SYS_capset,
        SYS_chroot,
        SYS_pivot_root,
        SYS_mount,
        SYS_umount2,
        SYS_unshare,
        SYS_setns,
        SYS_bpf,
        SYS_perf_event_open,
        SYS_init_module,
        SYS_finit_module,
        SYS_delete_module,
        SYS_kexec_load,
        SYS_keyctl,
        SYS_add_key,
        SYS_request_key,
        SYS_reboot,
        SYS_swapon,
        SYS_personality,
        SYS_userfaultfd,
        SYS_linkat,
        SYS_symlinkat,
        SYS_mknodat,
        SYS_fchownat,
        SYS_fchmodat,
        SYS_setrlimit,
        SYS_io_uring_setup,
#ifdef __x86_64__
        SYS_fork,
        SYS_vfork,
        SYS_link,
        SYS_symlink,
        SYS_mknod,
        SYS_chmod,
        SYS_chown,
#endif
};

#ifdef PROCESSOR

#define AT(member) ((uint32_t)offsetof(struct seccomp_data, member))
#define ARG(n)     (AT(args) + 8 * (n)) /* the lower half, on a processor that has it first */

#define LOAD(offset)              BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (offset))
#define GIVE(what)                BPF_STMT(BPF_RET | BPF_K, (what))
#define IF_IS(value, then, other) BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (uint32_t)(value), (then), (other))
#define IF_HAS(bits, then, other) BPF_JUMP(BPF_JMP | BPF_JSET | BPF_K, (uint32_t)(bits), (then), (other))
#define MASK(bits)                BPF_STMT(BPF_ALU | BPF_AND | BPF_K, (uint32_t)(bits))
#define FAIL(with)                GIVE(SECCOMP_RET_ERRNO | (with))
#define ALLOW                     GIVE(SECCOMP_RET_ALLOW)

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])
#define FILTER_MAX    (2 * (LENGTH(needed) + LENGTH(harmful)) + 64)

struct filter {
        struct sock_filter at[FILTER_MAX];
        unsigned short n;
};

static void add(struct filter *f, const struct sock_filter *steps, size_t n)
{
        memcpy(f->at + f->n, steps, n * sizeof *steps);
        f->n = (unsigned short)(f->n + n);
}

#define ADD(f, ...) \
        add(f, (const struct sock_filter[]){__VA_ARGS__}, LENGTH(((const struct sock_filter[]){__VA_ARGS__})))

/* Calls that are needed in one form and harmful in another. Each part is passed over as a whole by its first step, and
   otherwise ends. */
static void add_by_argument(struct filter *f)
{
        /* a thread, no process; clone3 hides its flags in memory, and without it clone is used */
        ADD(f, IF_IS(SYS_clone, 0, 4), LOAD(ARG(0)), IF_HAS(CLONE_THREAD, 0, 1), ALLOW, FAIL(EPERM));
        /* memory that is written is not run */
        ADD(f, IF_IS(SYS_mmap, 0, 5), LOAD(ARG(2)), MASK(PROT_WRITE | PROT_EXEC), IF_IS(PROT_WRITE | PROT_EXEC, 1, 0),
            ALLOW, FAIL(EPERM));
        ADD(f, IF_IS(SYS_mprotect, 0, 5), LOAD(ARG(2)), MASK(PROT_WRITE | PROT_EXEC),
            IF_IS(PROT_WRITE | PROT_EXEC, 1, 0), ALLOW, FAIL(EPERM));
        /* a thread's name */
        ADD(f, IF_IS(SYS_prctl, 0, 4), LOAD(ARG(0)), IF_IS(PR_SET_NAME, 0, 1), ALLOW, FAIL(EPERM));
        /* how much waits to be read, whether to wait, and what kind of terminal it is */
        ADD(f, IF_IS(SYS_ioctl, 0, 6), LOAD(ARG(1)), IF_IS(0x541b, 3, 0), IF_IS(0x5421, 2, 0), IF_IS(0x5401, 1, 0),
            FAIL(ENOTTY), ALLOW);
        /* limits are read */
        ADD(f, IF_IS(SYS_prlimit64, 0, 6), LOAD(ARG(2)), IF_IS(0, 0, 3), LOAD(ARG(2) + 4), IF_IS(0, 0, 1), ALLOW,
            FAIL(EPERM));
        /* signals to itself: abort() */
        ADD(f, IF_IS(SYS_tgkill, 0, 4), LOAD(ARG(0)), IF_IS(getpid(), 0, 1), ALLOW, FAIL(EPERM));
        ADD(f, IF_IS(SYS_kill, 0, 4), LOAD(ARG(0)), IF_IS(getpid(), 0, 1), ALLOW, FAIL(EPERM));
}

static void make(struct filter *f)
{
        f->n = 0;
        ADD(f, LOAD(AT(arch)), IF_IS(PROCESSOR, 1, 0), GIVE(SECCOMP_RET_KILL_PROCESS), LOAD(AT(nr)));
        for (size_t i = 0; i < LENGTH(needed); i++)
                ADD(f, IF_IS(needed[i], 0, 1), ALLOW);
        add_by_argument(f);
        for (size_t i = 0; i < LENGTH(harmful); i++)
                ADD(f, IF_IS(harmful[i], 0, 1), FAIL(EPERM));
        ADD(f, FAIL(ENOSYS));
}

/* Why calls are not filtered, by what the kernel, or what stands between it and this process, answered. */
static int unfiltered(int why, struct kw_error *err)
{
        if (why == EPERM || why == EACCES)
                return kw_refuse(err, KW_NOT_FOUND, NULL,
                                 "system calls can't be filtered here: the container, or what else this process was "
                                 "started in, does not allow it (%s)",
                                 strerror(why));
        return kw_refuse(err, why == ENOSYS || why == EINVAL ? KW_NOT_FOUND : KW_INTERNAL, NULL,
                         "this kernel does not filter system calls: %s", strerror(why));
}

int kw_sandbox_calls(struct kw_error *err)
{
        struct filter filter;
        struct sock_fprog program = {.filter = filter.at};
        long rc;

        make(&filter);
        program.len = filter.n;
        if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) < 0)
                return unfiltered(errno, err);
        rc = syscall(SYS_seccomp, SECCOMP_SET_MODE_FILTER, SECCOMP_FILTER_FLAG_TSYNC, &program);
        if (rc > 0)
                return kw_refuse(err, KW_INTERNAL, NULL, "thread %ld can't be brought under the filter of system calls",
                                 rc);
        return rc < 0 ? unfiltered(errno, err) : 0;
}

#else

int kw_sandbox_calls(struct kw_error *err)
{
        (void)needed, (void)harmful;
        return kw_refuse(err, KW_NOT_FOUND, NULL, "system calls are not filtered on this processor");
}

#endif

/*
 * What a process can still do in the sandbox: each case is a child that enters it and tries one thing.
 *
 * A case that finds the kernel without Landlock or seccomp is passed over, and says so.
 */
#include "suite.h"

#include "kinwire/sandbox.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <netinet/in.h>
#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/ptrace.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#define WITHOUT 77 /* this kernel has it not */

static char folder[] = "/tmp/kinwire-sandbox-XXXXXX";
static char mine[200], other[200], outside[] = "/tmp/kinwire-outside-XXXXXX";

/* Each returns 0 when it could be done, and otherwise errno. */

static int result(long rc)
{
        return rc < 0 ? errno : 0;
}

static int opening(const char *path, int flags)
{
        int fd = open(path, flags, 0600);

        if (fd >= 0)
                close(fd);
        return result(fd);
}

static int read_passwd(void)
{
        return opening("/etc/passwd", O_RDONLY);
}
static int list_etc(void)
{
        return opening("/etc", O_RDONLY | O_DIRECTORY);
}
static int read_by_link(void)
{
        return opening(other, O_RDONLY);
}
static int read_environment(void)
{
        return opening("/proc/self/environ", O_RDONLY);
}
static int write_outside(void)
{
        return opening(outside, O_WRONLY);
}
static int make_outside(void)
{
        return opening("/tmp/kinwire-made-outside", O_WRONLY | O_CREAT);
}
static int read_mine(void)
{
        return opening(mine, O_RDONLY);
}
static int write_mine(void)
{
        return opening(mine, O_RDWR | O_TRUNC);
}
static int cut_outside(void)
{
        return result(truncate(outside, 0));
}

static int work_in_folder(void)
{
        char a[220], b[220];
        int fd;

        snprintf(a, sizeof a, "%s/a", folder);
        snprintf(b, sizeof b, "%s/b", folder);
        fd = open(a, O_RDWR | O_CREAT, 0600);
        if (fd < 0 || write(fd, "x", 1) != 1 || fsync(fd) || ftruncate(fd, 0) || rename(a, b) || unlink(b))
                return errno;
        return result(close(fd));
}

static int run_a_program(void)
{
        char *argv[] = {"true", NULL};

        return result(execv("/bin/true", argv));
}

static int fork_one(void)
{
        pid_t pid = fork();

        if (pid == 0)
                _exit(0);
        return result(pid);
}

static int open_socket(void)
{
        return result(socket(AF_INET, SOCK_STREAM, 0));
}
static int trace_parent(void)
{
        return result(ptrace(PTRACE_ATTACH, getppid(), NULL, NULL));
}
static int kill_parent(void)
{
        return result(kill(getppid(), 0));
}
static int signal_itself(void)
{
        return result(kill(getpid(), 0));
}
static int mount_something(void)
{
        return result(syscall(SYS_mount, "none", folder, "tmpfs", 0, NULL));
}
static int new_namespace(void)
{
        return result(unshare(CLONE_NEWUSER));
}
static int become_someone(void)
{
        return result(setuid(12345));
}
static int unheard_of(void)
{
        return result(syscall(SYS_quotactl, 0, NULL, 0, NULL));
}

static int connect_out(void)
{
        struct sockaddr_in to = {
                .sin_family = AF_INET, .sin_port = htons(9), .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
        int fd = socket(AF_INET, SOCK_STREAM, 0);

        return fd < 0 ? errno : result(connect(fd, (struct sockaddr *)&to, sizeof to));
}

static int map(int protection)
{
        void *at = mmap(NULL, 4096, protection, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);

        return at == MAP_FAILED ? errno : 0;
}

static int written_and_run(void)
{
        return map(PROT_READ | PROT_WRITE | PROT_EXEC);
}
static int only_written(void)
{
        return map(PROT_READ | PROT_WRITE);
}

static int raise_a_limit(void)
{
        struct rlimit more = {1024, 1024};

        return result(setrlimit(RLIMIT_NOFILE, &more));
}

static int read_a_limit(void)
{
        struct rlimit now;

        return result(getrlimit(RLIMIT_NOFILE, &now));
}

static void *in_thread(void *tried)
{
        *(int *)tried = read_passwd();
        return tried;
}

/* A thread begins, and is restricted as its maker is. */
static int read_in_a_thread(void)
{
        int tried = -1;
        pthread_t thread;

        if (pthread_create(&thread, NULL, in_thread, &tried) != 0)
                return ENOSYS;
        pthread_join(thread, NULL);
        return tried;
}

static pthread_barrier_t both, after;

static void *waits_then_opens_socket(void *tried)
{
        pthread_barrier_wait(&both);
        pthread_barrier_wait(&after);
        *(int *)tried = open_socket();
        return tried;
}

enum entered { NOTHING, FILES, CALLS };

/* Calls are gone for a thread as well that was there before. */
static int socket_of_an_older_thread(void)
{
        int tried = -1;
        pthread_t thread;

        pthread_barrier_init(&both, NULL, 2);
        pthread_barrier_init(&after, NULL, 2);
        pthread_create(&thread, NULL, waits_then_opens_socket, &tried);
        pthread_barrier_wait(&both);
        if (kw_sandbox_calls(NULL))
                return -1;
        pthread_barrier_wait(&after);
        pthread_join(thread, NULL);
        return tried;
}

static const struct {
        const char *name;
        enum entered in;
        int (*attempt)(void);
        int failed;
} cases[] = {
        /* without the sandbox each of them can be done, so that the rest of the table says something */
        {"read /etc/passwd, outside of it", NOTHING, read_passwd, 0},
        {"list /etc, outside of it", NOTHING, list_etc, 0},
        {"read by a link, outside of it", NOTHING, read_by_link, 0},
        {"write outside, outside of it", NOTHING, write_outside, 0},
        {"cut a file outside, outside of it", NOTHING, cut_outside, 0},
        {"open a socket, outside of it", NOTHING, open_socket, 0},
        {"fork, outside of it", NOTHING, fork_one, 0},
        {"written and run memory, outside of it", NOTHING, written_and_run, 0},

        {"read /etc/passwd", FILES, read_passwd, EACCES},
        {"read /etc/passwd in a thread", FILES, read_in_a_thread, EACCES},
        {"list /etc", FILES, list_etc, EACCES},
        {"read by a link that points out", FILES, read_by_link, EACCES},
        {"read the environment", FILES, read_environment, EACCES},
        {"write outside", FILES, write_outside, EACCES},
        {"make a file outside", FILES, make_outside, EACCES},
        {"run a program", FILES, run_a_program, EACCES},
        {"read what may be read", FILES, read_mine, 0},
        {"write what may be read", FILES, write_mine, EACCES},
        {"work in the folder", FILES, work_in_folder, 0},

        {"run a program", CALLS, run_a_program, EPERM},
        {"fork", CALLS, fork_one, EPERM},
        {"open a socket", CALLS, open_socket, EPERM},
        {"connect", CALLS, connect_out, EPERM},
        {"an older thread's socket", NOTHING, socket_of_an_older_thread, EPERM},
        {"trace the parent", CALLS, trace_parent, EPERM},
        {"signal the parent", CALLS, kill_parent, EPERM},
        {"signal itself", CALLS, signal_itself, 0},
        {"mount", CALLS, mount_something, EPERM},
        {"a namespace", CALLS, new_namespace, EPERM},
        {"become someone", CALLS, become_someone, EPERM},
        {"a call not known here", CALLS, unheard_of, ENOSYS},
        {"written and run memory", CALLS, written_and_run, EPERM},
        {"written memory", CALLS, only_written, 0},
        {"raise a limit", CALLS, raise_a_limit, EPERM},
        {"read a limit", CALLS, read_a_limit, 0},
        {"read /etc/passwd", CALLS, read_passwd, EACCES},
        {"a thread, and what it reads", CALLS, read_in_a_thread, EACCES},
        {"work in the folder", CALLS, work_in_folder, 0},
};

static int enter(enum entered in)
{
        const struct kw_reachable reachable[] = {
                {folder, true, true}, {mine, false, true}, {"/nowhere", true, false}, {0}};
        int rc = in == NOTHING ? 0 : kw_sandbox_files(reachable, NULL);

        return rc == 0 && in == CALLS ? kw_sandbox_calls(NULL) : rc;
}

START_TEST(test_case)
{
        pid_t pid = fork();
        int status;

        ck_assert_int_ge(pid, 0);
        if (pid == 0) {
                int rc = enter(cases[_i].in);
                _exit(rc == KW_NOT_FOUND ? WITHOUT : rc ? 99 : cases[_i].attempt());
        }
        ck_assert_int_eq(waitpid(pid, &status, 0), pid);
        ck_assert_msg(WIFEXITED(status), "%s: ended by signal %d", cases[_i].name, WTERMSIG(status));
        if (WEXITSTATUS(status) == WITHOUT) {
                printf("%s: this kernel has no such thing\n", cases[_i].name);
                return;
        }
        ck_assert_msg(WEXITSTATUS(status) == cases[_i].failed, "%s: %d, not %d", cases[_i].name, WEXITSTATUS(status),
                      cases[_i].failed);
}
END_TEST

START_TEST(test_what_is_needed_and_not_there)
{
        const struct kw_reachable reachable[] = {{folder, true, true}, {"/nowhere/at/all", false, true}, {0}};
        struct kw_error err = {0};
        int rc = kw_sandbox_files(reachable, &err);

        if (rc == KW_NOT_FOUND)
                return;
        ck_assert_int_eq(rc, KW_INTERNAL);
        ck_assert_ptr_nonnull(strstr(err.text, "/nowhere/at/all"));
        ck_assert_int_eq(read_passwd(), 0); /* nothing was given up */
}
END_TEST

/* What stands between a process and the kernel, as a container does: @call answers with @error. */
static int refuse_call(int call, int error)
{
        struct sock_filter at[] = {
                BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
                BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (unsigned)call, 0, 1),
                BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ERRNO | (unsigned)error),
                BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        };
        struct sock_fprog program = {.len = sizeof at / sizeof at[0], .filter = at};

        if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) < 0)
                return -1;
        return (int)syscall(SYS_seccomp, SECCOMP_SET_MODE_FILTER, 0, &program);
}

static const struct {
        int call, error, returned;
        const char *said;
} denials[] = {
        {SYS_landlock_create_ruleset, ENOSYS, KW_NOT_FOUND, "this kernel has no Landlock"},
        {SYS_landlock_create_ruleset, EOPNOTSUPP, KW_NOT_FOUND, "switched off"},
        {SYS_landlock_create_ruleset, EPERM, KW_NOT_FOUND, "not allowed here: the container"},
        {SYS_landlock_create_ruleset, EACCES, KW_NOT_FOUND, "not allowed here: the container"},
        {SYS_landlock_create_ruleset, EMFILE, KW_INTERNAL, "Too many open files"},
        {SYS_landlock_restrict_self, EPERM, KW_NOT_FOUND, "not allowed here: the container"},
        {SYS_landlock_restrict_self, E2BIG, KW_INTERNAL, "Argument list too long"},
        {SYS_seccomp, ENOSYS, KW_NOT_FOUND, "this kernel does not filter"},
        {SYS_seccomp, EPERM, KW_NOT_FOUND, "can't be filtered here: the container"},
        {SYS_seccomp, ENOMEM, KW_INTERNAL, "Cannot allocate memory"},
};

/* Return: WITHOUT where this can't be tried, 0 when what was returned and said is right. */
static int try_denied(int i)
{
        const struct kw_reachable reachable[] = {{folder, true, true}, {0}};
        struct kw_error err = {0};
        bool files = denials[i].call != SYS_seccomp;
        int rc;

        if (denials[i].call == SYS_landlock_restrict_self && syscall(SYS_landlock_create_ruleset, NULL, 0, 1) < 1)
                return WITHOUT; /* one doesn't come so far */
        if (refuse_call(denials[i].call, denials[i].error))
                return WITHOUT;
        rc = files ? kw_sandbox_files(reachable, &err) : kw_sandbox_calls(&err);
        if (rc == denials[i].returned && strstr(err.text, denials[i].said))
                return 0;
        fprintf(stderr, "%d: %s\n", rc, err.text);
        return 1;
}

START_TEST(test_why_there_is_none)
{
        pid_t pid = fork();
        int status;

        ck_assert_int_ge(pid, 0);
        if (pid == 0)
                _exit(try_denied(_i));
        ck_assert_int_eq(waitpid(pid, &status, 0), pid);
        if (WIFEXITED(status) && WEXITSTATUS(status) == WITHOUT) {
                printf("denial %d: can't be tried on this kernel\n", _i);
                return;
        }
        ck_assert_msg(WIFEXITED(status) && WEXITSTATUS(status) == 0, "call %d answered with %s", denials[_i].call,
                      strerror(denials[_i].error));
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_loop_test(tests, test_why_there_is_none, 0, sizeof denials / sizeof denials[0]);
        tcase_add_loop_test(tests, test_case, 0, sizeof cases / sizeof cases[0]);
        tcase_add_test(tests, test_what_is_needed_and_not_there);
}

int main(void)
{
        int failed, fd;

        if (!mkdtemp(folder) || (fd = mkstemp(outside)) < 0)
                return EXIT_FAILURE;
        close(fd);
        snprintf(mine, sizeof mine, "%s-mine", folder);
        snprintf(other, sizeof other, "%s/link", folder);
        close(open(mine, O_CREAT | O_WRONLY, 0600));
        if (symlink("/etc/passwd", other) < 0)
                return EXIT_FAILURE;
        failed = run_suite("sandbox", add);
        unlink(other);
        unlink(mine);
        unlink(outside);
        rmdir(folder);
        return failed;
}

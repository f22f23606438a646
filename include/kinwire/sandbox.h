#ifndef KINWIRE_SANDBOX_H
#define KINWIRE_SANDBOX_H
/*
 * The sandbox: what the process can still do once it has given up the rest, by the kernel's Landlock and seccomp.
 *
 * It is for the day on which a request makes the program do what it was not written to do. What is given up is given up
 * for good, by every thread begun afterwards (files) or by all of them (calls). Nothing here is needed for kinwire to
 * work, so that on a kernel without it the program runs on, unprotected, and says so.
 */
#include "kinwire/error.h"

#include <stdbool.h>

/** A folder, or a file, and all below it. One that is not there is passed over, unless it is needed. */
struct kw_reachable {
        const char *path;
        bool write;  /* read, change, make and remove; else only read */
        bool needed; /* if it isn't there, nothing is restricted and the call fails */
};

/**
 * kw_sandbox_files - leave this thread, and those it begins, the files in @reachable (ended by one without a path) and
 * no others; nothing can be run, and no connection made
 *
 * Return: 0; KW_NOT_FOUND, no Landlock here, and the sentence says whether the kernel hasn't it, it is switched off, or
 * a container does not allow it; KW_INTERNAL with a sentence.
 */
int kw_sandbox_files(const struct kw_reachable *reachable, struct kw_error *err);

/**
 * kw_sandbox_calls - leave all threads the system calls that serving needs: files, memory, threads, what is open
 * already
 *
 * Gone are running other programs, new processes, new sockets, tracing, other users, mounting, memory that is both
 * written and run, and every call not known here. A call that is gone fails; nothing is killed.
 * Return: 0; KW_NOT_FOUND, this kernel or processor has no such filter, or a container does not allow it;
 * KW_INTERNAL with a sentence.
 */
int kw_sandbox_calls(struct kw_error *err);

#endif

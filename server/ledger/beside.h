#ifndef KW_LEDGER_BESIDE_H
#define KW_LEDGER_BESIDE_H
/*
 * Files that stand beside the ledger and can be made again: the index, and what is kept of long sums. Each is written
 * aside and takes its name when it is whole and on disk, so that whoever opens it by its name finds the one before or
 * this one.
 */
#include <stdint.h>

/**
 * kw_write_aside - put what @fill writes in the place of @file
 * @fill: writes into an empty file, with kw_write_at() or otherwise. Return: 0; -errno.
 *
 * It is written as FILE.new, by one at a time of all programs; what a program that was killed left there is overwritten
 * by the next. Return: 0; -EBUSY, another is at it, and has what is as good; -errno with the file as it was.
 */
int kw_write_aside(const char *file, int (*fill)(int fd, const void *ctx), const void *ctx);

/** kw_write_at - all @n bytes, from byte @to of the file on. Return: 0; -errno. */
int kw_write_at(int fd, const void *at, uint64_t n, uint64_t to);

/**
 * kw_sum_of - a sum of @n bytes, from @sum on: against bytes that the disk or another program changed, not against an
 * attacker, who could as well write a whole file. Any one word that is changed, wherever it is, changes it for certain.
 */
uint64_t kw_sum_of(uint64_t sum, const void *at, uint64_t n);

#endif

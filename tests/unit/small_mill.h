#ifndef KW_TESTS_SMALL_MILL_H
#define KW_TESTS_SMALL_MILL_H
/* A small mill whose answers can be worked out on paper: two coils drawn by one run to four lots, and what lies around
 * it. */
#include "recorder.h"

struct kw_ledger *small_mill(void);

#endif

/* Runs of the bench, measured. */
#ifndef OXL_TEST_RUN_H
#define OXL_TEST_RUN_H

#include "help_bench.h"

/* What the last one went like; its samples are what the input points at. */
extern struct bench_run run;

struct oxl_run_result measured(const struct bench *b);
bool run_has(const struct oxl_run_result *r, enum oxl_reason reason);

/* A run that a test changes before it measures it again. */
struct prepared {
    struct bench b;
    struct oxl_profile p;
    struct oxl_run_input in;
    struct oxl_run_result r;
};

struct oxl_run_result again(struct prepared *w);
void prepare(struct prepared *w, const struct bench *b);

/* A loop slow enough to empty a store of this size for certain. */
struct bench bench_slow(void);
void prepare_slow(struct prepared *w);

#endif

#include "help_run.h"

struct bench_run run;

struct oxl_run_result measured(const struct bench *b)
{
    struct oxl_profile p;
    struct oxl_run_input in;
    struct oxl_run_result r;
    bench_go(b, &run);
    bench_input(b, &run, &p, &in);
    oxl_measure_run(&in, &r);
    return r;
}

bool run_has(const struct oxl_run_result *r, enum oxl_reason reason)
{
    return oxl_reasons_has(r->reasons, reason);
}

struct oxl_run_result again(struct prepared *w)
{
    oxl_measure_run(&w->in, &w->r);
    return w->r;
}

void prepare(struct prepared *w, const struct bench *b)
{
    w->b = *b;
    bench_go(b, &run);
    bench_input(b, &run, &w->p, &w->in);
    again(w);
}

struct bench bench_slow(void)
{
    struct bench b = bench_usual();
    b.rate = 0.15;
    b.off_s += 10;
    return b;
}

void prepare_slow(struct prepared *w)
{
    struct bench b = bench_slow();
    prepare(w, &b);
}

/* A very long session in virtual time: does memory stay flat, does time stay true?
 *
 *   bench_long HOURS            the core and the simulated vehicle, HOURS of session time
 *   bench_long HOURS FILE [SCENARIO]   the same, recorded to FILE
 *
 * For most of the time the technician adds no gas: the run is begun anew every five minutes and the
 * plug is pulled every hour. In the last half hour (or from the start of a shorter session) he
 * works, and the delays that the core measures then are compared with the plant's truth. */
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

enum { FIVE_MINUTES_US = 300000000, MOST_RUNS = 12 };

struct watch {
    FILE *file;
    unsigned runs, valid, in_truth;
    unsigned lost, states;
    struct oxl_run_result last[MOST_RUNS];
    int64_t last_t_us;
    bool backwards;
};

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct watch *w = ctx;
    w->backwards = w->backwards || ev->t_us < w->last_t_us;
    w->last_t_us = ev->t_us;
    w->states += ev->kind == OXL_EV_STATE;
    w->lost += ev->kind == OXL_EV_LINK && ev->u.link.state == OXL_LINK_LOST;
    if (ev->kind != OXL_EV_RUN)
        return;
    w->runs++;
    if (ev->u.run.valid && ev->u.run.dropped && w->valid < MOST_RUNS)
        w->last[w->valid++] = ev->u.run;
}

static void on_line(void *ctx, const char *text, size_t n)
{
    const struct watch *w = ctx;
    if (w->file)
        fwrite(text, 1, n, w->file);
}

static long resident_kb(void)
{
    char line[128];
    long kb = -1;
    FILE *f = fopen("/proc/self/status", "r");
    while (f && fgets(line, sizeof line, f))
        if (strncmp(line, "VmRSS:", 6) == 0)
            kb = strtol(line + 6, NULL, 10);
    if (f)
        fclose(f);
    return kb;
}

/* All that has been allocated and not given back. */
static size_t heap_bytes(void)
{
    struct mallinfo2 m = mallinfo2();
    return m.uordblks + m.hblkhd;
}

static void tell(const struct rig *r, const struct watch *w)
{
    printf("%8.2f h  resident %6ld kB  samples %9llu  states %u  lost %u  runs %u\n",
           (double)r->now_us / 3.6e9, resident_kb(), (unsigned long long)r->samples, w->states,
           w->lost, w->runs);
    fflush(stdout);
}

/* How many measured front-lean moments are those of the plant, by its own clock. */
static unsigned in_truth(struct rig *r, struct watch *w)
{
    struct oxl_truth t;
    unsigned n = 0;
    for (unsigned i = 0; i < w->valid; i++)
        for (size_t k = 0; k < oxl_sim_truth_count(r->sim); k++)
            if (oxl_sim_truth(r->sim, k, &t) &&
                fabs(t.front_lean_t_s - (double)w->last[i].front_lean.t_us / 1e6) < 0.25 &&
                t.delay_s >= w->last[i].delay_s.low - 0.05 &&
                t.delay_s <= w->last[i].delay_s.high + 0.05) {
                n++;
                break;
            }
    return n;
}

static void idle_part(struct rig *r, struct watch *w, int64_t until_us)
{
    r->deaf = true;
    for (int n = 1; r->now_us < until_us && !oxl_session_over(r->session); n++) {
        rig_run(r, r->now_us + FIVE_MINUTES_US);
        rig_key(r, OXL_KEY_RESTART);
        if (n % 12 == 0) {
            rig_unplug(r, 3000000);
            tell(r, w);
        }
    }
    rig_run(r, r->now_us + FIVE_MINUTES_US);
    rig_key(r, OXL_KEY_RESTART);
    r->deaf = false;
}

int main(int argc, char **argv)
{
    static struct rig r;
    static struct watch w;
    double hours = argc > 1 ? strtod(argv[1], NULL) : 24;
    w.file = argc > 2 ? fopen(argv[2], "wx") : NULL;
    if (!(hours > 0) || (argc > 2 && !w.file)) {
        fprintf(stderr, "usage: bench_long HOURS [NEW-FILE]\n");
        return 2;
    }
    r.ctx = &w;
    r.event = on_event;
    r.line = w.file ? on_line : NULL;
    r.grid_us = 1000; /* a frame of full-speed USB */
    if (!rig_start(&r, argc > 3 ? argv[3] : "aged", 1, OXL_TECH_GUIDED))
        return 1;
    int64_t end_us = (int64_t)(hours * 3.6e9);
    r.deaf = true;
    rig_run(&r, 60000000);
    tell(&r, &w);
    size_t heap = heap_bytes();
    if (end_us > 6 * (int64_t)FIVE_MINUTES_US)
        idle_part(&r, &w, end_us - 6 * (int64_t)FIVE_MINUTES_US);
    r.deaf = false;
    rig_key(&r, OXL_KEY_RESTART);
    rig_run(&r, end_us);
    int64_t at_us = r.now_us;
    oxl_sim_run(r.sim, r.now_us + 60000000);
    unsigned good = in_truth(&r, &w);
    r.now_us = at_us;
    tell(&r, &w);
    long grown = (long)heap_bytes() - (long)heap;
    printf("allocated %zu bytes after a minute, %ld more at the end; resident %ld kB; "
           "%u valid runs, %u agree with the plant in time and delay%s\n",
           heap, grown, resident_kb(), w.valid, good, w.backwards ? "; TIME RAN BACKWARDS" : "");
    rig_stop(&r);
    if (w.file && fclose(w.file) != 0)
        return 1;
    /* The truth of the last pulses is the simulator's own. */
    return grown > 4096 || w.backwards || w.valid == 0 || good != w.valid;
}

/* The graph of the procedure: printed, compared with docs/procedure.md, and walked: every state by
 * every input on the scripted car, every scenario with keys at random. Only declared successors
 * may follow, and each declared one must have been seen. */
#define _GNU_SOURCE 1 /* MAP_ANONYMOUS */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <signal.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include "help_car.h"
#include "long.h"
#include "rig.h"

static unsigned
    *seen; /* OXL_TO() of what has followed each state; shared with the walk's children */

/* ---- the drawing ----------------------------------------------------------------------------- */
static const char *id_of(unsigned s)
{
    return s == OXL_STATE_LEAK_CHECK ? "leak_check" : oxl_state_name((enum oxl_state)s);
}

static size_t draw(char *out, size_t size)
{
    size_t n = (size_t)snprintf(out, size, "```mermaid\nstateDiagram-v2\n    [*] --> %s\n",
                                id_of(OXL_STATE_PRECHECK));
    for (unsigned s = 0; s < OXL_STATE_COUNT; s++) {
        const struct oxl_state_row *row = oxl_state_row((enum oxl_state)s);
        n += (size_t)snprintf(out + n, size - n, "    %s: %s, valve %s\n", id_of(s),
                              oxl_state_name((enum oxl_state)s), oxl_hand_name(row->hand));
        for (unsigned to = 0; to < OXL_STATE_COUNT; to++)
            if (row->next & OXL_TO(to))
                n += (size_t)snprintf(out + n, size - n, "    %s --> %s\n", id_of(s), id_of(to));
    }
    n += (size_t)snprintf(out + n, size - n, "```\n");
    assert_true(n < size);
    return n;
}

static char *read_page(const char *path)
{
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    char *text = calloc(1, 65536);
    assert_non_null(text);
    assert_true(fread(text, 1, 65535, f) > 0);
    fclose(f);
    return text;
}

static void the_page_shows_it(void **state)
{
    (void)state;
    static const char path[] = OXL_SOURCE_DIR "/docs/procedure.md";
    static char drawing[8192];
    size_t n = draw(drawing, sizeof drawing);
    char *page = read_page(path), *block = strstr(page, "```mermaid\n");
    assert_non_null(block);
    char *end = strstr(block + 3, "```\n");
    assert_non_null(end);
    bool same = (size_t)(end + 4 - block) == n && memcmp(block, drawing, n) == 0;
    if (!same && getenv("OXL_ACCEPT")) {
        FILE *f = fopen(path, "w");
        assert_non_null(f);
        fprintf(f, "%.*s%s%s", (int)(block - page), page, drawing, end + 4);
        fclose(f);
    } else if (!same) {
        print_message("%s", drawing);
        fail_msg("docs/procedure.md shows another graph; OXL_ACCEPT=1 writes this one");
    }
    free(page);
}

/* ---- what is checked on the way -------------------------------------------------------------- */
struct walk {
    enum oxl_state state;
    bool begun;
    int64_t t_us;
};

static bool asks_for_gas(enum oxl_advice a)
{
    enum oxl_hand h = oxl_advice_hand(a);
    return h == OXL_HAND_OPEN || h == OXL_HAND_MORE || h == OXL_HAND_HOLD || h == OXL_HAND_LESS;
}

static void follow(struct walk *w, const struct oxl_event *ev)
{
    if (ev->kind == OXL_EV_ADVICE && asks_for_gas(ev->u.advice.advice))
        assert_int_equal(oxl_state_row(w->state)->hand, OXL_HAND_OPEN);
    if (ev->kind != OXL_EV_STATE)
        return;
    enum oxl_state to = ev->u.state.state;
    if (w->begun && !oxl_state_may_follow(w->state, to))
        fail_msg("%s --> %s is not declared", oxl_state_name(w->state), oxl_state_name(to));
    if (w->begun)
        seen[w->state] |= OXL_TO(to);
    assert_true(w->begun || to == OXL_STATE_PRECHECK);
    w->begun = true;
    w->state = to;
}

/* ---- every state by every input, on the scripted car ----------------------------------------- */
static struct car *in_precheck(void)
{
    struct car *c = car_new();
    c->coolant = 20;
    car_survey(c);
    car_run(c, 3);
    return c;
}

static struct car *in_precheck_and_asked(void)
{
    struct car *c = in_precheck();
    car_key(c, OXL_KEY_LEAK);
    return c;
}

static struct car *in_baseline(void)
{
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_wait(c, OXL_STATE_BASELINE, 10));
    return c;
}

static struct car *in_timing(void)
{
    struct car *c = car_in_release();
    car_glide(c, 0.3, c->stft, 1.2);
    assert_true(car_wait(c, OXL_STATE_TIMING, 3));
    return c;
}

static struct car *in_recovery(void)
{
    struct car *c = in_timing();
    c->rear = 0.05;
    assert_true(car_wait(c, OXL_STATE_RECOVERY, 5));
    return c;
}

static struct car *in_leak_check(void)
{
    struct car *c = in_baseline();
    car_key(c, OXL_KEY_LEAK);
    return c;
}

/* Behind the last run, which looked bad. */
static struct car *in_last_leak_check(void)
{
    struct car *c = car_new();
    car_survey(c);
    c->ramp_s = 35;
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 0.3));
    car_key(c, OXL_KEY_LEAK);
    assert_true(car_wait(c, OXL_STATE_LEAK_CHECK, 5));
    return c;
}

/* The same with counted runs behind it, whose result an end gives. */
static struct car *with_runs(enum oxl_state state)
{
    struct car *c = car_new();
    car_survey(c);
    assert_true(car_pulse(c, -20, 3.0) && car_pulse(c, -20, 3.0));
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 30));
    if (state == OXL_STATE_PRECHECK)
        c->rpm = 0;
    if (state == OXL_STATE_BASELINE)
        car_key(c, OXL_KEY_RESTART);
    if (state == OXL_STATE_LEAK_CHECK)
        car_key(c, OXL_KEY_LEAK);
    if (state == OXL_STATE_RELEASE || state == OXL_STATE_TIMING || state == OXL_STATE_RECOVERY) {
        c->rear = 0.8;
        car_gas(c, 6, -20);
        assert_true(car_wait(c, OXL_STATE_RELEASE, 10));
        if (state != OXL_STATE_RELEASE)
            car_glide(c, 0.3, c->stft, 1.2);
        if (state == OXL_STATE_RECOVERY)
            c->rear = 0.05;
    }
    assert_true(car_wait(c, state, 5));
    return c;
}

static const struct place {
    struct car *(*make)(void);
    enum oxl_state state;
} places[] = {
    {in_precheck, OXL_STATE_PRECHECK},
    {in_precheck_and_asked, OXL_STATE_PRECHECK},
    {in_baseline, OXL_STATE_BASELINE},
    {car_in_enrichment, OXL_STATE_ENRICHMENT},
    {car_holding, OXL_STATE_ENRICHMENT},
    {car_in_release, OXL_STATE_RELEASE},
    {in_timing, OXL_STATE_TIMING},
    {in_recovery, OXL_STATE_RECOVERY},
    {in_leak_check, OXL_STATE_LEAK_CHECK},
    {in_last_leak_check, OXL_STATE_LEAK_CHECK},
    {car_on_offer, OXL_STATE_BASELINE},
    {NULL, OXL_STATE_PRECHECK},
    {NULL, OXL_STATE_BASELINE},
    {NULL, OXL_STATE_ENRICHMENT},
    {NULL, OXL_STATE_RELEASE},
    {NULL, OXL_STATE_TIMING},
    {NULL, OXL_STATE_RECOVERY},
    {NULL, OXL_STATE_LEAK_CHECK},
};

static void engine_stops(struct car *c)
{
    c->rpm = 0;
    car_run(c, 0.5);
}

static void trims_jump_up(struct car *c)
{
    car_glide(c, 0.2, c->stft + 8, c->front);
    car_run(c, 4);
}

static void deadlines_pass(struct car *c)
{
    c->mute = true;
    for (int i = 0; i < 40 && !oxl_proc_over(&c->proc); i++)
        oxl_proc_tick(&c->proc, c->t_us += OXL_S_US(5));
}

static void it_warms_up(struct car *c)
{
    c->coolant = 90;
    car_run(c, 5);
}

static void time_goes_on(struct car *c)
{
    car_glide(c, 40, c->stft, c->front);
}

static void gas_ends(struct car *c)
{
    car_shut(c);
    car_run(c, 90);
}

static void link_comes_back(struct car *c)
{
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us + 1000);
    car_run(c, 30);
}

static void survey_again(struct car *c)
{
    oxl_proc_vehicle(&c->proc, &c->vehicle, c->t_us);
}

static void table_ends(struct car *c)
{
    oxl_proc_table_end(&c->proc, c->t_us);
}

static void (*const inputs[])(struct car *c) = {engine_stops, trims_jump_up, deadlines_pass,
                                                time_goes_on, gas_ends,      link_comes_back,
                                                survey_again, it_warms_up,   table_ends};
static const enum oxl_key keys[] = {OXL_KEY_NOW,    OXL_KEY_RESTART, OXL_KEY_MARK, OXL_KEY_ABORT,
                                    OXL_KEY_DEEPER, OXL_KEY_LEAK,    OXL_KEY_NEW,  OXL_KEY_END};
static const enum oxl_link_state links[] = {OXL_LINK_LOST,       OXL_LINK_CLOSED,
                                            OXL_LINK_STALLED,    OXL_LINK_READY,
                                            OXL_LINK_NO_ADAPTER, OXL_LINK_NO_VEHICLE};
enum {
    INPUTS = sizeof inputs / sizeof inputs[0],
    KEYS = sizeof keys / sizeof keys[0],
    LINKS = sizeof links / sizeof links[0]
};

static void give(struct car *c, unsigned i)
{
    if (i < INPUTS)
        inputs[i](c);
    else if (i < INPUTS + KEYS)
        car_key(c, keys[i - INPUTS]);
    else
        oxl_proc_link(&c->proc, links[i - INPUTS - KEYS], "", c->t_us);
}

static void one_input(struct car *c, unsigned in)
{
    give(c, in);
    struct walk w = {0};
    for (size_t e = 0; e < c->log_n; e++)
        follow(&w, &c->log[e]);
    assert_int_equal(w.state, c->proc.state);
    assert_int_not_equal(c->proc.outcome, OXL_ERR_INTERNAL);
}

/* In a child, so that the way to the place is gone once. One that fails an assertion runs on into
 * cmocka's end, which is not 0. */
static void in_a_child(struct car *c, unsigned in)
{
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        one_input(c, in);
        _exit(0);
    }
    int how = 1;
    assert_int_equal(waitpid(child, &how, 0), child);
    assert_int_equal(how, 0);
}

static void every_state_by_every_input(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        struct car *c = places[i].make ? places[i].make() : with_runs(places[i].state);
        assert_int_equal(c->proc.state, places[i].state);
        for (unsigned in = 0; in < INPUTS + KEYS + LINKS; in++)
            in_a_child(c, in);
        car_free(c);
    }
}

/* ---- every scenario, with keys at random ----------------------------------------------------- */
static void heard(void *ctx, const struct oxl_event *ev)
{
    follow(ctx, ev);
}

static unsigned chance(uint64_t *x, unsigned n)
{
    *x = *x * 6364136223846793005u + 1442695040888963407u;
    return (unsigned)(*x >> 33) % n;
}

static void drive(const char *name, uint64_t seed, bool with_keys)
{
    struct rig r = {0};
    struct walk w = {0};
    uint64_t dice = seed * 7919;
    int64_t key_us = with_keys ? OXL_S_US(20) : INT64_MAX;
    r.ctx = &w;
    r.event = heard;
    assert_true(rig_start(&r, name, seed, OXL_TECH_GUIDED));
    for (int64_t t = 0; t < OXL_S_US(150) && !oxl_session_over(r.session); t += OXL_S_US(1)) {
        rig_run(&r, t);
        if (t < key_us || oxl_session_over(r.session))
            continue;
        rig_key(&r, keys[chance(&dice, KEYS - 1)]); /* not the last one: it ends the test */
        key_us = t + OXL_S_US(5 + chance(&dice, 40));
    }
    assert_int_not_equal(oxl_session_outcome(r.session, NULL), OXL_ERR_INTERNAL);
    rig_stop(&r);
}

/* By default every other one. OXL_GRAPH_SEEDS=20 for more, and without keys as well. */
static void every_scenario(void **state)
{
    (void)state;
    const char *more = getenv("OXL_GRAPH_SEEDS");
    uint64_t seeds = more ? strtoull(more, NULL, 10) : 1;
    for (size_t i = 0; i < oxl_scenario_builtin_count(); i += more ? 1 : long_or(1, 2))
        for (uint64_t seed = 1; seed <= seeds; seed++)
            for (int k = more ? 0 : 1; k < 2; k++)
                drive(oxl_scenario_builtin_name(i), seed + 100 * (uint64_t)k, k);
}

/* Last: what the two walks before have not met is no part of the graph. */
static void every_declared_way_was_gone(void **state)
{
    (void)state;
    unsigned missing = 0;
    for (unsigned s = 0; s < OXL_STATE_COUNT; s++)
        for (unsigned to = 0; to < OXL_STATE_COUNT; to++)
            if ((oxl_state_row((enum oxl_state)s)->next & ~seen[s]) & OXL_TO(to)) {
                print_message("%s --> %s never came\n", id_of(s), id_of(to));
                missing++;
            }
    assert_int_equal(missing, 0);
}

/* ---- a way that is not there ----------------------------------------------------------------- */
static void another_way_is_refused(void **state)
{
    (void)state;
    struct car *c = in_baseline();
#ifdef NDEBUG
    oxl_proc_enter(&c->proc, OXL_STATE_TIMING);
    assert_false(car_was_in(c, OXL_STATE_TIMING));
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
    assert_int_equal(c->proc.outcome, OXL_ERR_INTERNAL);
    assert_non_null(strstr(c->proc.outcome_text, "baseline to timing"));
    oxl_proc_enter(&c->proc, OXL_STATE_BASELINE); /* nor is there a way back from the end */
    assert_int_equal(c->proc.state, OXL_STATE_STOPPED);
#else
    pid_t child = fork();
    if (child == 0) {
        signal(SIGABRT, SIG_DFL);
        fclose(stderr);
        oxl_proc_enter(&c->proc, OXL_STATE_TIMING);
        _exit(0);
    }
    int how = 0;
    assert_int_equal(waitpid(child, &how, 0), child);
    assert_true(WIFSIGNALED(how) && WTERMSIG(how) == SIGABRT);
#endif
    car_free(c);
}

int main(void)
{
    seen = mmap(NULL, OXL_STATE_COUNT * sizeof *seen, PROT_READ | PROT_WRITE,
                MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (seen == MAP_FAILED)
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_page_shows_it),      cmocka_unit_test(every_state_by_every_input),
        cmocka_unit_test(every_scenario),         cmocka_unit_test(every_declared_way_was_gone),
        cmocka_unit_test(another_way_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

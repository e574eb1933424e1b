/* One whole test: the session on the simulator in virtual time, as src/app/test_loop.c does it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "campaign.h"
#include "oxylag/link.h"
#include "oxylag/session.h"
#include "physics.h"
#include "sim/plant.h"

struct drive {
    const struct car *car;
    struct trial *trial;
    struct watch *watch;
    int64_t watched_us;
    struct oxl_sim *sim;
    struct oxl_session *session;
    struct oxl_link *link;
    int64_t now_us, reopen_us;
    enum oxl_state state;
    int early_run;    /* the run in which the hand has cut by itself */
    int64_t early_us; /* when it presses the key; INT64_MAX never */
};

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct drive *d = ctx;
    (void)t_us;
    if (d->link)
        d->link->ops->write(d->link, bytes, n, d->now_us);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct drive *d = ctx;
    (void)t_us;
    if (d->link)
        d->link->ops->set_speed(d->link, baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct drive *d = ctx;
    if (d->reopen_us == INT64_MAX)
        d->reopen_us = t_us;
}

/* A run that is taken back is said again under its number. */
static void keep_run(struct trial *t, const struct oxl_run_result *r)
{
    if (t->runs > 0 && t->run[t->runs - 1].got.run == r->run)
        t->run[t->runs - 1].got = *r;
    else if (t->runs < TRIAL_RUNS)
        t->run[t->runs++].got = *r;
}

static void note_sample(struct watch *w, const struct oxl_sample *s)
{
    unsigned side = s->channel.sensor - 1U;
    if (s->channel.bank == 1 && side < 2 &&
        (s->channel.quantity == OXL_Q_O2_V || s->channel.quantity == OXL_Q_LAMBDA))
        watch_asked(w, (int)side, 1e-6 * (double)s->sent_us, 1e-6 * (double)s->recv_us);
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct drive *d = ctx;
    struct trial *t = d->trial;
    if (ev->kind == OXL_EV_RUN)
        keep_run(t, &ev->u.run);
    if (ev->kind == OXL_EV_RESULT) {
        t->has_result = true;
        t->result = ev->u.result;
    }
    if (ev->kind == OXL_EV_STATE)
        d->state = ev->u.state.state;
    if (ev->kind == OXL_EV_SAMPLE && d->watch)
        note_sample(d->watch, &ev->u.sample);
    spent_event(&t->spent, ev);
    oxl_sim_hear(d->sim, ev);
}

static void feed(struct drive *d, struct oxl_input in)
{
    in.t_us = d->now_us;
    oxl_session_step(d->session, &in);
}

static void link_down(struct drive *d)
{
    if (d->link)
        d->link->ops->close(d->link);
    d->link = NULL;
    d->reopen_us = d->now_us + 500000;
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_DOWN});
}

static void try_reopen(struct drive *d)
{
    if (d->now_us < d->reopen_us)
        return;
    if (d->link)
        link_down(d);
    if (oxl_sim_plugged(d->sim, d->now_us))
        d->link = oxl_link_sim(d->sim);
    if (!d->link) {
        d->reopen_us = d->now_us + 1000000;
        return;
    }
    d->reopen_us = INT64_MAX;
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_UP});
}

static void read_link(struct drive *d)
{
    char buf[1024];
    while (d->link && !oxl_session_over(d->session)) {
        ssize_t n = d->link->ops->read(d->link, buf, sizeof buf, d->now_us);
        if (n < 0)
            link_down(d);
        if (n <= 0)
            return;
        feed(d, (struct oxl_input){.kind = OXL_IN_RX, .bytes = buf, .n = (size_t)n});
    }
}

/* The clumsy hand that does not wait for the call: it says so with the space bar. */
static void cut_early(struct drive *d)
{
    if (!oxl_known(d->car->early_pct) || d->state != OXL_STATE_ENRICHMENT)
        return;
    struct oxl_live live;
    oxl_session_live(d->session, d->now_us, &live);
    /* Told to go deeper it goes deeper, and cuts by itself again. */
    double early_pct = d->car->early_pct * (live.deeper ? 1.4 : 1);
    if (live.shift_pct <= early_pct && d->early_run != live.run) {
        d->early_run = live.run;
        feed(d, (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_NOW});
    }
}

static int64_t next_due(const struct drive *d)
{
    int64_t due = oxl_session_due_us(d->session);
    if (d->reopen_us < due)
        due = d->reopen_us;
    if (d->link && d->link->ops->next_due_us(d->link) < due)
        due = d->link->ops->next_due_us(d->link);
    return due == INT64_MAX ? d->now_us + 1000000 : due > d->now_us ? due : d->now_us;
}

static double lambda_of(double excess)
{
    return 1 / (1 - excess);
}

/* The sensors' own signals at every step of the plant. */
static void watch_plant(struct drive *d)
{
    const struct oxl_plant *p = oxl_sim_plant(d->sim);
    while (d->watch && d->watched_us <= d->now_us) {
        oxl_sim_run(d->sim, d->watched_us);
        const struct oxl_bank *b = &p->bank[0];
        watch_signals(d->watch, p->front_wide ? lambda_of(b->front_x) : b->front_v,
                      p->rear_wide ? lambda_of(b->rear_x) : b->rear_v);
        d->watched_us += OXL_STEP_US;
    }
}

static void go(struct drive *d)
{
    const int64_t patience_us = 3600 * (int64_t)1000000;
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_UP});
    while (!oxl_session_over(d->session) && d->now_us < patience_us) {
        d->now_us = next_due(d);
        spent_step(&d->trial->spent, oxl_sim_plant(d->sim), 1e-6 * (double)d->now_us);
        watch_plant(d);
        read_link(d);
        feed(d, (struct oxl_input){.kind = OXL_IN_TICK});
        try_reopen(d);
        cut_early(d);
    }
    d->trial->outcome =
        oxl_session_over(d->session) ? oxl_session_outcome(d->session, NULL) : OXL_ERR_INTERNAL;
}

static bool find_truth(struct oxl_sim *sim, const struct oxl_run_result *r, struct oxl_truth *out)
{
    double best = 6.0, at = 1e-6 * (double)r->front_lean.t_us;
    bool found = false;
    for (size_t i = 0; i < oxl_sim_truth_count(sim); i++) {
        struct oxl_truth t;
        if (!oxl_sim_truth(sim, i, &t))
            continue;
        double off = fabs((oxl_known(t.front_lean_t_s) ? t.front_lean_t_s : t.cut_t_s + 1) - at);
        if (off < best) {
            best = off;
            *out = t;
            found = true;
        }
    }
    return found;
}

/* The truth of the last pulse is complete some time after the test. */
static void add_truth(struct drive *d)
{
    struct trial *t = d->trial;
    for (int wait = 0; wait < 8 && t->runs; wait++) {
        struct oxl_truth last;
        if (find_truth(d->sim, &t->run[t->runs - 1].got, &last))
            break;
        d->now_us += 10000000;
        oxl_sim_run(d->sim, d->now_us);
    }
    for (int i = 0; i < t->runs; i++)
        if (t->run[i].got.front_lean.found)
            t->run[i].has_truth = find_truth(d->sim, &t->run[i].got, &t->run[i].truth);
    for (int i = 0; d->watch && i < t->runs; i++)
        if (t->run[i].has_truth)
            t->run[i].physics =
                physics_of(d->watch, &d->car->scenario, &t->run[i].truth, t->seed + (unsigned)i);
}

static struct kinetics kinetics_of(const struct oxl_plant_settings *p)
{
    enum kinetics_model model = strcmp(p->catalyst_model, "tanks") == 0      ? KINETICS_TANKS
                                : strcmp(p->catalyst_model, "two-site") == 0 ? KINETICS_TWO_SITE
                                                                             : KINETICS_PLUG;
    return (struct kinetics){model, p->fill_k_per_g * 1e-3 * p->capacity_mg, p->slip_pct,
                             model == KINETICS_PLUG ? 0 : p->bulk_share_pct, p->start_fill_pct};
}

static void describe(const struct car *c, struct trial *t)
{
    static const struct trial none;
    const struct oxl_plant_settings *p = &c->scenario.plant;
    *t = none;
    t->seed = c->seed;
    t->family = c->family;
    t->link = c->link;
    t->car = c->scenario;
    snprintf(t->name, sizeof t->name, "%s", c->name);
    t->wide = strncmp(c->scenario.ecu.front, "wide", 4) == 0;
    t->kinetics = kinetics_of(p);
    t->two_site = t->kinetics.model == KINETICS_TWO_SITE;
    t->rear_dead = strcmp(p->rear_fault, "stuck") == 0;
    t->rear_biased = strcmp(p->rear_fault, "biased") == 0;
    t->rear_slow = p->rear_lag_s > 0.4; /* a sound one has half of that */
    t->air_g_s = p->idle_air_g_s / p->banks;
    t->capacity_mg = p->capacity_mg;
    t->snapshot = c->scenario.ecu.refresh_snapshot;
    for (int g = 0; g < OXL_REFRESH_GROUPS; g++)
        t->refresh_ms[g] = c->scenario.ecu.refresh_ms[t->snapshot ? OXL_REFRESH_FRONT : g];
    t->recovery_s = t->wide ? (1 + p->trim_kp) / p->trim_ki_per_s : 20 / p->relay_ramp_pct_s;
}

bool trial_go(const struct car *c, struct watch *watch, struct trial *out)
{
    describe(c, out);
    ideal_find(c, &out->ideal, &out->ideal_own);
    struct drive d = {.car = c, .trial = out, .watch = watch, .reopen_us = INT64_MAX};
    if (watch)
        watch_clear(watch);
    struct oxl_session_config config = {.bank = 1, .has_speed = true};
    struct oxl_session_out hooks = {
        .ctx = &d, .send = on_send, .set_speed = on_speed, .reopen = on_reopen, .event = on_event};
    oxl_profile_defaults(&config.profile);
    config.profile.displacement_l = c->displacement_l;
    d.sim = oxl_sim_new(&c->scenario, c->seed, OXL_TECH_GUIDED);
    d.session = oxl_session_new(&config, &hooks);
    d.link = d.sim ? oxl_link_sim(d.sim) : NULL;
    bool ok = d.sim && d.session && d.link;
    if (ok) {
        go(&d);
        add_truth(&d);
    }
    if (d.link)
        d.link->ops->close(d.link);
    oxl_session_free(d.session);
    oxl_sim_free(d.sim);
    return ok;
}

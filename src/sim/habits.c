#include "sim/habits.h"

#include <math.h>
#include <string.h>

#include "sim/plant.h"

static const double idle_throttle_pct = 1.0;

/* From a half to one and a half of `mean_s`. */
static double about(struct oxl_habits *h, double mean_s)
{
    return mean_s * (0.5 + oxl_random_unit(&h->random));
}

void oxl_habits_init(struct oxl_plant *p, uint64_t seed)
{
    struct oxl_habits *h = &p->habits;
    oxl_random_seed(&h->random, seed ^ 0x4ab175u);
    h->target = h->command = h->seen = p->s.target_lambda;
    for (unsigned i = 0; i < OXL_HABIT_SLOTS; i++)
        h->line[i] = (float)h->command;
    h->phase = oxl_random_unit(&h->random);
    h->monitor_s = p->s.monitor_every_s * oxl_random_unit(&h->random);
    h->purge_left_s = about(h, p->s.purge_every_s);
    h->load_left_s = about(h, p->s.load_every_s);
}

/* Rich until the rear has been rich for some time (a little rich gas passes a full store): what the
 * cut has filled is emptied at once. */
static void after_cut(struct oxl_plant *p)
{
    const double rear_rich_v = 0.6, rear_rich_lambda = 0.995, rich_s = 2.5, longest_s = 20;
    struct oxl_habits *h = &p->habits;
    const struct oxl_bank *b = &p->bank[0];
    if (h->was_cut && !p->engine.fuel_cut && p->s.cut_lambda < 1) {
        h->enriching = true;
        h->enriching_s = h->rear_rich_s = 0;
    }
    h->was_cut = p->engine.fuel_cut;
    h->enriching_s += OXL_CONTROL_S;
    bool rich = p->rear_wide ? oxl_rear_lambda_read(b) < rear_rich_lambda
                             : oxl_rear_v_read(p, b) > rear_rich_v;
    h->rear_rich_s = rich ? h->rear_rich_s + OXL_CONTROL_S : 0;
    if (p->engine.fuel_cut || h->rear_rich_s > rich_s || h->enriching_s > longest_s)
        h->enriching = false;
}

/* The catalyst monitor at idle: half a period lean, half rich, for some time, over and over. */
static double monitor(struct oxl_plant *p)
{
    struct oxl_habits *h = &p->habits;
    if (p->s.monitor_pct <= 0)
        return 0;
    h->monitor_s += OXL_CONTROL_S;
    double at_s = fmod(h->monitor_s, p->s.monitor_every_s);
    bool idle = p->engine.throttle_pct < idle_throttle_pct && !p->engine.fuel_cut;
    h->monitoring = idle && at_s < p->s.monitor_for_s;
    if (!h->monitoring)
        return 0;
    bool lean = fmod(at_s, 2 * p->s.monitor_half_s) < p->s.monitor_half_s;
    return (lean ? 1 : -1) * p->s.monitor_pct / 100;
}

static void ask_for_mixture(struct oxl_plant *p)
{
    struct oxl_habits *h = &p->habits;
    after_cut(p);
    h->target = (h->enriching ? p->s.cut_lambda : p->s.target_lambda) * (1 + monitor(p));
    h->phase = fmod(h->phase + p->s.modulation_hz * OXL_CONTROL_S, 1);
    h->command = h->target * (1 + (h->phase < 0.5 ? 1 : -1) * p->s.modulation_pct / 100);
    /* The controller knows its own exhaust: dead time, mixing and the sensor's lag. */
    unsigned dead = (unsigned)(p->s.front_delay_s / OXL_CONTROL_S);
    h->line[h->at] = (float)h->command;
    double arrives = (double)h->line[(h->at + OXL_HABIT_SLOTS - dead) % OXL_HABIT_SLOTS];
    h->at = (h->at + 1) % OXL_HABIT_SLOTS;
    double tau_s = fmax(OXL_CONTROL_S, p->s.exhaust_mix_s + p->s.front_lag_s);
    h->seen += (arrives - h->seen) * OXL_CONTROL_S / tau_s;
}

static void toggle(struct oxl_habits *h, bool *on, double *left_s, double every_s)
{
    *left_s -= OXL_CONTROL_S;
    if (*left_s > 0)
        return;
    *on = !*on;
    *left_s = about(h, every_s);
}

static void come_and_go(struct oxl_plant *p)
{
    const double purge_tau_s = 1.5, load_tau_s = 0.15;
    struct oxl_habits *h = &p->habits;
    toggle(h, &h->purge_on, &h->purge_left_s, p->s.purge_every_s);
    toggle(h, &h->load_on, &h->load_left_s, p->s.load_every_s);
    double purge = h->purge_on ? p->s.purge_pct / 100 : 0;
    double load = h->load_on ? p->s.load_pct / 100 : 0;
    h->purge += (purge - h->purge) * OXL_CONTROL_S / purge_tau_s;
    h->load += (load - h->load) * OXL_CONTROL_S / load_tau_s;
}

/* A rich limit that is met for a second: the trims stand still there, or the loop opens, for some
 * time; for good once a trouble code has been stored for it. */
static void at_limit(struct oxl_plant *p)
{
    const double met_s = 1, held_s = 20;
    struct oxl_habits *h = &p->habits;
    const struct oxl_trims *t = &p->bank[0].trims;
    double low = fmax(-p->s.stft_limit_pct / 100, -p->s.total_limit_pct / 100 - t->ltft);
    bool met = t->closed && t->stft <= low + 1e-6;
    h->at_limit_s = met ? h->at_limit_s + OXL_CONTROL_S : 0;
    h->limit_total_s += met || h->held ? OXL_CONTROL_S : 0;
    if (p->s.rich_dtc_s > 0 && h->limit_total_s > p->s.rich_dtc_s)
        h->rich_dtc = 0x0172;
    if (strcmp(p->s.at_limit, "none") == 0)
        return;
    if (h->at_limit_s > met_s && !h->held) {
        h->held = true;
        h->held_s = 0;
    }
    h->held_s += OXL_CONTROL_S;
    if (h->held_s > held_s && !h->rich_dtc)
        h->held = false;
}

static void stop_and_start(struct oxl_plant *p)
{
    const double warm_c = 60;
    struct oxl_habits *h = &p->habits;
    struct oxl_engine *e = &p->engine;
    bool idle = e->throttle_pct < idle_throttle_pct && e->coolant_c > warm_c && !e->fuel_cut;
    h->idle_s = idle && !h->stopped ? h->idle_s + OXL_CONTROL_S : 0;
    h->stopped_s = h->stopped ? h->stopped_s + OXL_CONTROL_S : 0;
    if (p->s.stops_after_s > 0 && h->idle_s > p->s.stops_after_s) {
        h->stopped = true;
    } else if (h->stopped && (!idle || h->stopped_s > p->s.stops_for_s)) {
        h->stopped = false;
        e->rpm = 300; /* the starter */
        e->air_g_s = p->s.idle_air_g_s;
    }
}

void oxl_habits_tick(struct oxl_plant *p)
{
    stop_and_start(p);
    ask_for_mixture(p);
    come_and_go(p);
    at_limit(p);
}

double oxl_habits_module_v(const struct oxl_plant *p)
{
    const double charging_v = 14.1;
    if (p->s.load_v <= 0)
        return NAN;
    return p->habits.stopped ? 12.4 : charging_v - p->s.load_v * (p->habits.load_on ? 1 : 0);
}

/* What the converter can do: the same car with everything sound but its converter, hot and with a
 * perfect hand, under a pulse of -20 %. The plant alone; nothing of the program measures here. */
#include <math.h>
#include <string.h>

#include "campaign.h"
#include "sim/plant.h"

static const double depth = 0.20;

static void make_sound(struct oxl_plant_settings *p)
{
    p->leak_front_pct = p->leak_mid_pct = p->leak_rear_pct = p->misfire_pct = 0;
    p->fuel_noise_pct = p->air_noise_pct = p->air_ripple_pct = 0;
    p->air_meter_error_pct = p->port_air_pct = p->gas_residue_pct = 0;
    p->gas_mix_s = fmin(p->gas_mix_s, 0.6);
    p->gas_bank1_share_pct = 50;
    p->crossed_fronts = false;
    strcpy(p->rear_fault, "none");
    strcpy(p->metering, "air-meter");
    p->front_lag_s = fmin(p->front_lag_s, 0.1);
    p->rear_lag_s = fmin(p->rear_lag_s, 0.2);
    p->rear_bottom_v = p->rear_rich_v = 0;
    p->rear_top_v = 1.5;
    p->coolant_c = p->warm_coolant_c;
    p->run_time_s = 1200;
    p->closed_loop = true;
    p->cat_idle_c = fmax(p->cat_idle_c, 450);
    p->cat_start_c = p->cat_idle_c;
    p->stft_limit_pct = fmax(p->stft_limit_pct, 30);
    p->total_limit_pct = fmax(p->total_limit_pct, 40);
    p->target_lambda = p->cut_lambda = p->rear_trim_pull = 1;
    p->modulation_pct = p->purge_pct = p->monitor_pct = p->load_pct = p->load_v = 0;
    p->ltft_back_tau_s = p->rich_dtc_s = p->stops_after_s = 0;
    strcpy(p->at_limit, "none");
}

static void run_for(struct oxl_plant *p, double s)
{
    oxl_plant_run(p, p->t_us + (int64_t)(s * 1e6));
}

/* The trim that the truth counts by: without the relay's own swing. */
static double trim_now(const struct oxl_plant *p)
{
    const struct oxl_trims *t = &p->bank[0].trims;
    return p->front_wide ? oxl_plant_trim(p, 0) : t->integral + t->ltft;
}

static void empty(struct oxl_plant *p)
{
    for (unsigned b = 0; b < p->s.banks; b++)
        oxl_catalyst_init(&p->bank[b].cat, p->bank[b].cat.temp_c, 0);
}

/* Opens to a quarter more than needed, so that the gas is still rich when the trims arrive. */
static void pulse(struct oxl_plant *p, double at_shift, double shut_s)
{
    const double most_s = 90;
    double rest = trim_now(p);
    double full = p->s.gas_full_g_s * oxl_afr_propane / p->s.idle_air_g_s;
    double open = 1.25 * depth / full;
    oxl_plant_valve(p, open);
    for (double s = 0; s < most_s && rest - trim_now(p) < at_shift; s += 0.02)
        run_for(p, 0.02);
    empty(p);
    for (double s = 0; s < shut_s; s += 0.02) {
        oxl_plant_valve(p, open * (1 - s / shut_s));
        run_for(p, 0.02);
    }
    oxl_plant_valve(p, 0);
    size_t have = p->truth.count;
    for (double s = 0; s < 70 && p->truth.count == have; s += 1)
        run_for(p, 1);
}

static void constant_excess(const struct oxl_plant *p, struct ideal *out)
{
    struct oxl_catalyst c = p->bank[0].cat;
    double o2_g_s = oxl_plant_oxygen_share(p) * p->s.idle_air_g_s / p->s.banks;
    oxl_catalyst_init(&c, p->s.cat_idle_c, 0);
    c.flow_share = oxl_plant_flow_share(p, p->s.idle_air_g_s / p->s.banks);
    for (int i = 0; i < 300 * 500; i++)
        if (oxl_nernst_v(&p->rear_curve,
                         oxl_catalyst_step(&c, depth * o2_g_s, OXL_STEP_S) / o2_g_s) < 0.45)
            break;
    out->constant_mg = 1e3 * oxl_catalyst_stored_g(&c);
}

/* A relay's swing stands anywhere at the cut, which moves a single delay: the middle of three. */
static void take_middle(const struct oxl_plant *p, struct ideal *out)
{
    const struct oxl_truth *t = p->truth.list;
    size_t n = p->truth.count, at = 0;
    for (size_t i = 0; i < n && n == 3; i++) {
        double v = oxl_known(t[i].delay_s) ? t[i].delay_s : INFINITY;
        int below = 0, same = 0;
        for (size_t k = 0; k < n; k++) {
            double u = oxl_known(t[k].delay_s) ? t[k].delay_s : INFINITY;
            below += u < v;
            same += u == v;
        }
        if (below <= 1 && below + same >= 2)
            at = i;
    }
    out->known = n > 0 && oxl_known(t[at].front_lean_t_s);
    if (!out->known)
        return;
    out->held = !oxl_known(t[at].rear_lean_t_s);
    out->delay_s = out->held ? INFINITY : t[at].delay_s;
    out->stored_mg = t[at].stored_mg;
    out->air_g_s = t[at].air_g_s;
}

static double miss_of(const struct oxl_plant *p)
{
    double sum = 0;
    for (size_t i = 0; i < p->truth.count; i++)
        sum += depth + p->truth.list[i].shift_pct / 100;
    return p->truth.count ? sum / (double)p->truth.count : 0;
}

static void find_behind(const struct car *c, const char *rear, struct ideal *out)
{
    static const struct ideal none;
    struct oxl_plant_settings s = c->scenario.plant;
    struct oxl_ecu_settings u = c->scenario.ecu;
    *out = none;
    make_sound(&s);
    snprintf(u.rear, sizeof u.rear, "%s", rear);
    double at = depth;
    /* The truth's own shift is a mean over a moment: correct the cut once by what it says. */
    for (int pass = 0; pass < 2; pass++) {
        struct oxl_plant *p = oxl_plant_new(&s, &u, c->seed);
        if (!p)
            return;
        constant_excess(p, out);
        run_for(p, 15);
        for (int i = 0; i < (p->front_wide ? 1 : 3); i++) {
            pulse(p, at, fmin(0.4, c->scenario.technician.shut_s));
            run_for(p, 5 + 0.37 * i);
        }
        take_middle(p, out);
        double miss = miss_of(p);
        oxl_plant_free(p);
        if (fabs(miss) < 0.006)
            return;
        at += miss;
    }
}

void ideal_find(const struct car *c, struct ideal *out, struct ideal *own)
{
    find_behind(c, "switching", out);
    *own = *out;
    if (strncmp(c->scenario.ecu.rear, "wide", 4) == 0)
        find_behind(c, c->scenario.ecu.rear, own);
}

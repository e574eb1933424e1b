#include "sim/plant.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

double oxl_plant_oxygen_share(const struct oxl_plant *p)
{
    return oxl_air_o2 / (1 + p->s.humidity_ratio);
}

/* Two cars of one kind are not the same: a seed moves what no label tells. */
static void spread(struct oxl_plant *p)
{
    double *varies[] = {&p->s.capacity_mg,   &p->s.capacity_bank2_mg, &p->s.idle_air_g_s,
                        &p->s.front_delay_s, &p->s.outlet_volume_l,   &p->s.rear_lag_s,
                        &p->s.trim_ki_per_s, &p->s.relay_ramp_pct_s,  &p->s.gas_mix_s,
                        &p->s.front_lag_s,   &p->s.fill_k_per_g};
    for (size_t i = 0; i < sizeof varies / sizeof varies[0]; i++) {
        double n = oxl_clamp(oxl_random_normal(&p->noise), -2, 2);
        *varies[i] *= 1 + p->s.spread_pct / 100 * n;
    }
}

static void catalyst_init(struct oxl_plant *p, struct oxl_catalyst *c, double capacity_mg)
{
    c->cells = p->s.cells;
    c->capacity_g = capacity_mg * 1e-3;
    c->fill_k_per_g = p->s.fill_k_per_g;
    c->release_k_per_g = p->s.release_k_per_g;
    c->slip_share = p->s.slip_pct / 100;
    c->reoxidation_per_s = p->s.reoxidation_pct_s / 100;
    c->light_off_c = p->s.light_off_c;
    c->light_off_width_c = p->s.light_off_width_c;
    c->tanks = strcmp(p->s.catalyst_model, "tanks") == 0;
    c->shell = p->s.shell;
    bool one_site = strcmp(p->s.catalyst_model, "plug") == 0;
    c->bulk_share = one_site ? 0 : p->s.bulk_share_pct / 100;
    c->bulk_tau_s = p->s.bulk_tau_s;
    oxl_catalyst_init(c, p->s.cat_start_c, p->s.start_fill_pct / 100);
}

static void bank_init(struct oxl_plant *p, unsigned bank)
{
    struct oxl_bank *b = &p->bank[bank];
    b->fuel_error = (bank ? p->s.fuel_error_bank2_pct : p->s.fuel_error_pct) / 100;
    b->phi_cylinder = b->phi_front = b->phi_inlet = b->phi_outlet = b->phi_rear = 1;
    oxl_pipe_init(&b->to_front, 1);
    oxl_pipe_init(&b->to_inlet, 1);
    oxl_pipe_init(&b->to_rear, 1);
    catalyst_init(p, &b->cat, bank ? p->s.capacity_bank2_mg : p->s.capacity_mg);
    oxl_trims_init(p, b);
    oxl_sensors_init(p, b);
}

struct oxl_plant *oxl_plant_new(const struct oxl_plant_settings *s,
                                const struct oxl_ecu_settings *u, uint64_t seed)
{
    struct oxl_plant *p = calloc(1, sizeof *p);
    if (!p)
        return NULL;
    p->s = *s;
    p->front_switching = strcmp(u->front, "switching") == 0;
    p->front_wide = strncmp(u->front, "wide", 4) == 0;
    p->rear_wide = strncmp(u->rear, "wide", 4) == 0;
    p->rear_present = strcmp(u->rear, "none") != 0;
    p->has_ltft = u->has_ltft;
    p->ecu = *u;
    oxl_latch_init(&p->latch, &p->ecu, seed);
    oxl_random_seed(&p->noise, seed);
    oxl_random_seed(&p->sense, seed ^ 0x5e450ea3u);
    spread(p);
    oxl_nernst_init(&p->front_curve, s->front_k);
    oxl_nernst_init(&p->rear_curve, s->rear_k);
    oxl_engine_init(p);
    oxl_habits_init(p, seed);
    for (unsigned b = 0; b < p->s.banks; b++)
        bank_init(p, b);
    oxl_truth_init(&p->truth, oxl_plant_trim(p, 0));
    oxl_sensors_readout(p, &p->latched);
    return p;
}

void oxl_plant_free(struct oxl_plant *p)
{
    free(p);
}

void oxl_plant_valve(struct oxl_plant *p, double opening)
{
    p->gas.opening = oxl_clamp(opening, 0, 1);
}

void oxl_plant_throttle(struct oxl_plant *p, double pct)
{
    p->engine.throttle_pct = oxl_clamp(pct, 0, 80);
}

void oxl_plant_smaller_port(struct oxl_plant *p)
{
    p->smaller_port = true;
}

void oxl_plant_cover_leak(struct oxl_plant *p, bool covered)
{
    p->leak_covered = covered;
}

void oxl_plant_readout(const struct oxl_plant *p, struct oxl_readout *out)
{
    *out = p->latched;
}

bool oxl_plant_front_lean(const struct oxl_plant *p, int64_t *since_us)
{
    double since_s;
    if (!oxl_truth_front_lean(&p->truth, &since_s))
        return false;
    *since_us = (int64_t)llround(since_s * 1e6);
    return true;
}

/* Fuel of all kinds over what the air needs. Open loop runs a cold engine richer. */
static double cylinder_phi(const struct oxl_plant *p, unsigned bank, double bank_air)
{
    const struct oxl_bank *b = &p->bank[bank];
    if (p->engine.fuel_cut)
        return 0;
    double cold = fmax(0, p->s.closed_loop_coolant_c - p->engine.coolant_c);
    double enrich = b->trims.closed ? 1 / p->habits.command : 1.01 + 0.002 * cold;
    double petrol = oxl_engine_metered_g_s(p) / p->s.banks / oxl_afr_petrol *
                        (1 + b->fuel_error + b->fuel_noise) * oxl_trims_factor(p, b) * enrich +
                    bank_air / oxl_afr_petrol * p->habits.purge;
    double share = p->s.banks == 1 ? 1 : p->s.gas_bank1_share_pct / 100;
    double gas = oxl_gas_flow_g_s(p) * (bank ? 1 - share : share);
    return (petrol * oxl_afr_petrol + gas * oxl_afr_propane) / bank_air;
}

/* Pulsation draws air in at idle; at speed the pressure no longer falls below the air outside. */
static double leak_share(const struct oxl_plant *p, const struct oxl_bank *b, double pct)
{
    if (p->leak_covered)
        return 0;
    double over = p->engine.air_g_s / p->s.idle_air_g_s - 1;
    double pulsates = oxl_clamp(1 - over / 2, 0, 1);
    return fmax(0, pct / 100 * pulsates * (1 + b->leak_ripple));
}

double oxl_plant_secondary_air(const struct oxl_plant *p)
{
    bool on = (double)p->t_us * 1e-6 < p->s.secondary_air_until_s;
    return on ? p->s.secondary_air_pct / 100 : 0;
}

/* Litres a second of exhaust: ideal gas, molar mass 29.01 (Heywood 1988 air model). */
static double exhaust_l_s(const struct oxl_plant *p, double air_g_s)
{
    double grams = air_g_s * (1 + 1 / oxl_afr_petrol);
    return grams / 29.01 * 8.314462618 * p->s.exhaust_k / 101.325;
}

/* Transfer to the wall falls behind as the gas passes quicker. The figures are those at 3 g/s. */
double oxl_plant_flow_share(const struct oxl_plant *p, double air_g_s)
{
    const double usual_g_s = 3;
    return p->s.k_flow_power > 0 ? pow(usual_g_s / air_g_s, p->s.k_flow_power) : 1;
}

static void converter_step(const struct oxl_plant *p, struct oxl_bank *b, double air_g_s)
{
    double o2_g_s = oxl_plant_oxygen_share(p) * air_g_s;
    b->cat.flow_share = oxl_plant_flow_share(p, air_g_s);
    double out = oxl_catalyst_step(&b->cat, o2_g_s * (1 - b->phi_inlet), OXL_STEP_S);
    b->phi_outlet = 1 - out / o2_g_s;
}

static void bank_step(struct oxl_plant *p, unsigned bank)
{
    struct oxl_bank *b = &p->bank[bank];
    double air = (p->engine.air_g_s + oxl_engine_port_g_s(p)) / p->s.banks;
    b->phi_cylinder = cylinder_phi(p, bank, air);
    double moved = OXL_STEP_S * air * p->s.banks / p->s.idle_air_g_s;
    double arrives = oxl_pipe_step(&b->to_front, moved, b->phi_cylinder, p->s.front_delay_s);
    double leak = leak_share(p, b, p->s.leak_front_pct) + oxl_plant_secondary_air(p);
    air *= 1 + leak;
    arrives /= 1 + leak;
    b->phi_front += (arrives - b->phi_front) * OXL_STEP_S / p->s.exhaust_mix_s;
    leak = leak_share(p, b, p->s.leak_mid_pct);
    air *= 1 + leak;
    double litres = OXL_STEP_S * exhaust_l_s(p, air);
    b->phi_inlet = oxl_pipe_step(&b->to_inlet, litres, b->phi_front / (1 + leak),
                                 p->s.inlet_volume_l / p->s.banks);
    converter_step(p, b, air);
    leak = leak_share(p, b, p->s.leak_rear_pct);
    b->phi_rear = oxl_pipe_step(&b->to_rear, litres, b->phi_outlet / (1 + leak),
                                p->s.outlet_volume_l / p->s.banks);
    oxl_sensors_step(p, b);
}

static double ornstein(struct oxl_plant *p, double value, double sd, double tau_s)
{
    return value - value * OXL_CONTROL_S / tau_s +
           sd * sqrt(2 * OXL_CONTROL_S / tau_s) * oxl_random_normal(&p->noise);
}

static void bank_tick(struct oxl_plant *p, unsigned bank)
{
    struct oxl_bank *b = &p->bank[bank];
    b->fuel_noise = ornstein(p, b->fuel_noise, p->s.fuel_noise_pct / 100, p->s.fuel_noise_tau_s);
    b->leak_ripple = ornstein(p, b->leak_ripple, 0.3, 0.3);
    double load = fmin(3, p->engine.air_g_s / p->s.idle_air_g_s - 1);
    double heats_to = p->s.cat_idle_c + 70 * fmax(0, load);
    double temp = b->cat.temp_c + (heats_to - b->cat.temp_c) * OXL_CONTROL_S / p->s.cat_tau_s;
    oxl_catalyst_temperature(&b->cat, temp);
    oxl_sensors_tick(p, b);
}

static void watch(struct oxl_plant *p)
{
    const struct oxl_bank *b = &p->bank[0];
    struct oxl_truth_look k = {
        .t_s = (double)p->t_us * 1e-6,
        .opening = p->gas.opening,
        .gas_g_s = oxl_gas_flow_g_s(p),
        .trim = oxl_plant_trim(p, 0),
        .ramp_trim = p->front_wide ? oxl_plant_trim(p, 0) : b->trims.integral + b->trims.ltft,
        .front_x = b->front_x,
        .target_x = 1 - 1 / p->s.target_lambda,
        .front_v = b->front_v,
        .rear_x = b->rear_x,
        .rear_v = b->rear_v,
        .inlet_x = 1 - b->phi_inlet,
        .outlet_x = 1 - b->phi_outlet,
        .outlet_v = oxl_rear_curve_v(p, 1 - b->phi_outlet),
        .stored_g = oxl_catalyst_stored_g(&b->cat),
        .capacity_g = oxl_catalyst_capacity_g(&b->cat),
        .air_g_s = (p->engine.air_g_s + oxl_engine_port_g_s(p)) / p->s.banks,
        .rpm = p->engine.rpm,
        .front_wide = p->front_wide,
        .rear_wide = p->rear_wide,
        .rear_works = p->rear_present && strcmp(p->s.rear_fault, "stuck") != 0,
    };
    oxl_truth_step(&p->truth, &k, OXL_STEP_S);
}

static void step(struct oxl_plant *p)
{
    p->t_us += OXL_STEP_US;
    oxl_engine_step(p);
    oxl_gas_step(p);
    double phi = 0;
    for (unsigned b = 0; b < p->s.banks && !p->habits.stopped; b++) {
        bank_step(p, b);
        phi += p->bank[b].phi_cylinder / p->s.banks;
    }
    if (!p->habits.stopped)
        p->engine.torque_phi = phi;
    if (p->t_us % OXL_CONTROL_US == 0) {
        oxl_habits_tick(p);
        oxl_engine_tick(p);
        p->air_read_error = 0.004 * oxl_random_normal(&p->sense);
        for (unsigned b = 0; b < p->s.banks; b++)
            bank_tick(p, b);
        for (unsigned b = 0; b < p->s.banks; b++)
            oxl_trims_tick(p, b);
    }
    watch(p);
    unsigned groups = oxl_latch_due(&p->latch, p->t_us);
    if (groups) {
        struct oxl_readout now;
        oxl_sensors_readout(p, &now);
        oxl_latch_take(&p->latched, &now, groups);
    }
}

void oxl_plant_run(struct oxl_plant *p, int64_t t_us)
{
    while (p->t_us + OXL_STEP_US <= t_us)
        step(p);
}

#include "sim/plant.h"

#include <math.h>

void oxl_engine_init(struct oxl_plant *p)
{
    struct oxl_engine *e = &p->engine;
    e->rpm = p->s.idle_rpm;
    e->air_g_s = p->s.idle_air_g_s;
    e->coolant_c = p->s.coolant_c;
    e->run_time_s = p->s.run_time_s;
    e->torque_phi = 1;
    e->ripple_phase = 6.283185307 * oxl_random_unit(&p->noise);
    e->cut_over_s = 10;
}

/* Torque over the mixture, relative to the right one: falls with thin mixture, steeply near the
 * lean limit of an idling engine (lambda 1.3-1.4), and when far too rich. */
static double torque_share(double phi)
{
    double x = 1 - phi;
    if (x >= 0)
        return oxl_clamp(1 - 0.55 * x - 2.5 * fmax(0, x - 0.25), 0, 1);
    return oxl_clamp(1 + 0.05 * x - 1.5 * fmax(0, -x - 0.30), 0, 1);
}

static double commanded_air(const struct oxl_plant *p)
{
    const struct oxl_engine *e = &p->engine;
    double wobble = p->s.air_ripple_pct / 100 * sin(e->ripple_phase) + e->air_noise;
    double air =
        p->s.idle_air_g_s * (1 + e->governor + wobble + p->habits.load + 0.6 * e->throttle_pct);
    double most = 0.9 * 1.2 * p->s.displacement_l * e->rpm / 120; /* breathes no more than that */
    return oxl_clamp(air, 0.3 * p->s.idle_air_g_s, fmax(most, p->s.idle_air_g_s));
}

static void turn_crank(struct oxl_plant *p)
{
    struct oxl_engine *e = &p->engine;
    const double load_taken = 0.75; /* of the air that the controller adds for a load */
    double torque = e->fuel_cut ? 0 : torque_share(e->torque_phi);
    torque *= 1 - load_taken * p->habits.load / (1 + p->habits.load);
    double settles_at = p->s.idle_rpm * e->air_g_s / p->s.idle_air_g_s * torque;
    settles_at = oxl_clamp(settles_at, 0, 5500);
    double tau_s = settles_at > e->rpm ? 0.5 : 1.5;
    e->rpm += (settles_at - e->rpm) * OXL_STEP_S / tau_s;
    e->rpm = fmax(e->rpm, 300);
}

void oxl_engine_step(struct oxl_plant *p)
{
    struct oxl_engine *e = &p->engine;
    const double manifold_s = 0.12, coast_s = 0.2;
    if (p->habits.stopped) {
        e->rpm -= e->rpm * OXL_STEP_S / coast_s;
        return;
    }
    e->air_g_s += (commanded_air(p) - e->air_g_s) * OXL_STEP_S / manifold_s;
    turn_crank(p);
    if (e->fuel_cut)
        e->fuel_cut = e->throttle_pct <= 0 && e->rpm > p->s.idle_rpm + 450;
    else
        e->fuel_cut = e->throttle_pct <= 0 && e->rpm > p->s.idle_rpm + 800;
    e->cut_over_s = e->fuel_cut ? 0 : e->cut_over_s + OXL_STEP_S;
}

static void misfire_tick(struct oxl_plant *p)
{
    double firings = p->engine.rpm / 120 * 4 * OXL_CONTROL_S;
    double thin = fmax(0, 1 - p->engine.torque_phi - 0.27); /* past the lean limit */
    double chance = oxl_clamp(p->s.misfire_pct / 100 + 2 * thin, 0, 1) * firings;
    bool misfires = chance > 0 && oxl_random_unit(&p->noise) < chance;
    for (unsigned b = 0; b < p->s.banks; b++) {
        p->bank[b].misfire_x *= 1 - OXL_CONTROL_S / 0.06;
        if (misfires)
            p->bank[b].misfire_x += 0.15;
    }
    if (misfires)
        p->engine.rpm *= 0.985;
}

void oxl_engine_tick(struct oxl_plant *p)
{
    struct oxl_engine *e = &p->engine;
    const double noise_tau_s = 1.5;
    e->ripple_phase += 6.283185307 * 0.23 * OXL_CONTROL_S;
    e->air_noise += -e->air_noise * OXL_CONTROL_S / noise_tau_s +
                    p->s.air_noise_pct / 100 * sqrt(2 * OXL_CONTROL_S / noise_tau_s) *
                        oxl_random_normal(&p->noise);
    if (p->s.governor && e->throttle_pct <= 0 && !e->fuel_cut && !p->habits.stopped) {
        double miss = (p->s.idle_rpm - e->rpm) / p->s.idle_rpm;
        e->governor = oxl_clamp(e->governor + 0.5 * miss * OXL_CONTROL_S, -0.3, 0.5);
    }
    double heats_to = p->s.warm_coolant_c;
    double tau_s = p->s.coolant_tau_s * p->s.idle_air_g_s / e->air_g_s;
    e->coolant_c += (heats_to - e->coolant_c) * OXL_CONTROL_S / tau_s;
    e->run_time_s += OXL_CONTROL_S;
    if (!p->habits.stopped)
        misfire_tick(p);
}

double oxl_engine_port_g_s(const struct oxl_plant *p)
{
    if ((double)p->t_us * 1e-6 < p->s.port_open_s)
        return 0;
    return p->s.idle_air_g_s / 100 *
           (p->smaller_port ? p->s.smaller_port_air_pct : p->s.port_air_pct);
}

/* Ideal gas at the intake's temperature, the share of the displacement that is really filled. */
double oxl_engine_map_kpa(const struct oxl_plant *p)
{
    double swept_m3_s = p->s.displacement_l * 1e-3 * p->engine.rpm / 120;
    double air = p->engine.air_g_s + oxl_engine_port_g_s(p);
    double gas_mole_share = oxl_gas_flow_g_s(p) / 44.097 / (air / 28.965);
    double pa =
        air * 1e-3 * 287.05 * (p->s.intake_c + 273.15) / (swept_m3_s * p->s.volumetric_efficiency);
    return oxl_clamp(pa * 1e-3 * (1 + gas_mole_share), 10, 101.3);
}

/* An air meter does not see what a port lets in behind it; manifold pressure sees that, and the
 * propane's own share as well. */
double oxl_engine_metered_g_s(const struct oxl_plant *p)
{
    double error = 1 + p->s.air_meter_error_pct / 100;
    if (p->s.metering[0] == 'a')
        return p->engine.air_g_s * error;
    double air = p->engine.air_g_s + oxl_engine_port_g_s(p);
    double gas_mole_share = oxl_gas_flow_g_s(p) / 44.097 / (air / 28.965);
    return air * (1 + gas_mole_share) * error;
}

void oxl_gas_step(struct oxl_plant *p)
{
    struct oxl_gas *g = &p->gas;
    unsigned dead = (unsigned)(p->s.gas_dead_s / OXL_STEP_S);
    g->line[g->at] = (float)g->opening;
    double arrives = (double)g->line[(g->at + OXL_GAS_SLOTS - dead) % OXL_GAS_SLOTS];
    g->at = (g->at + 1) % OXL_GAS_SLOTS;
    double flow = p->s.gas_full_g_s * arrives, residue = p->s.gas_residue_pct / 100;
    g->quick_g_s += ((1 - residue) * flow - g->quick_g_s) * OXL_STEP_S / p->s.gas_mix_s;
    g->slow_g_s += (residue * flow - g->slow_g_s) * OXL_STEP_S / p->s.gas_residue_tau_s;
}

double oxl_gas_flow_g_s(const struct oxl_plant *p)
{
    return p->gas.quick_g_s + p->gas.slow_g_s;
}

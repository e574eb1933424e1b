/* Cars: everything that differs between vehicles, adapters and hands, drawn from a seed. The
 * ranges are those of docs/validation.md; none of them is known to src/measure. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "campaign.h"

static const struct {
    const char *name;
    unsigned share;
} families[FAMILY_COUNT] = {
#define X(id, name, share) {name, share},
    CAMPAIGN_FAMILIES(X)
#undef X
};

const char *family_name(enum family f)
{
    return families[f].name;
}

const char *link_name(enum link_kind k)
{
    static const char *const names[] = {"CAN multi", "CAN single", "K-line", "J1850"};
    return names[k];
}

double between(struct oxl_random *r, double low, double high)
{
    return low + (high - low) * oxl_random_unit(r);
}

/* Uniform in the logarithm: as many between 0.02 and 0.2 as between 0.2 and 2. */
double log_between(struct oxl_random *r, double low, double high)
{
    return low * pow(high / low, oxl_random_unit(r));
}

static bool chance(struct oxl_random *r, double share)
{
    return oxl_random_unit(r) < share;
}

static void word(char *out, size_t n, const char *text)
{
    snprintf(out, n, "%s", text);
}

static enum family pick_family(struct oxl_random *r)
{
    unsigned total = 0;
    for (int i = 0; i < FAMILY_COUNT; i++)
        total += families[i].share;
    double at = oxl_random_unit(r) * total;
    for (int i = 0; i < FAMILY_COUNT; i++) {
        at -= families[i].share;
        if (at < 0)
            return (enum family)i;
    }
    return FAMILY_PLAIN;
}

static void make_link(struct car *c, struct oxl_random *r)
{
    struct oxl_ecu_settings *u = &c->scenario.ecu;
    struct oxl_adapter_settings *a = &c->scenario.adapter;
    double at = oxl_random_unit(r);
    a->latency_ms = log_between(r, 2, 40);
    a->jitter_ms = a->latency_ms * between(r, 0.1, 0.4);
    u->answer_ms_min = (unsigned)between(r, 2, 8);
    u->answer_ms_max = u->answer_ms_min + (unsigned)between(r, 2, 15);
    u->calc_ms = chance(r, 0.7) ? 10 : 20;
    c->link = at < 0.45 ? LINK_CAN_MULTI : at < 0.70 ? LINK_CAN_SINGLE : LINK_KLINE;
    if (at > 0.92)
        c->link = LINK_J1850;
    a->protocol = chance(r, 0.75) ? 6 : 7;
    if (c->link == LINK_CAN_SINGLE) {
        u->multi_pid = false;
        a->adaptive = chance(r, 0.6);
    } else if (c->link == LINK_KLINE) {
        a->protocol = chance(r, 0.5) ? 3 : 5;
        u->multi_pid = false;
        u->answer_ms_min = (unsigned)between(r, 20, 40);
        u->answer_ms_max = u->answer_ms_min + (unsigned)between(r, 2, 16);
    } else if (c->link == LINK_J1850) {
        a->protocol = chance(r, 0.5) ? 1 : 2;
        u->multi_pid = false;
        u->answer_ms_min = (unsigned)between(r, 8, 20);
        u->answer_ms_max = u->answer_ms_min + (unsigned)between(r, 2, 20);
    }
}

static void make_engine(struct car *c, struct oxl_random *r)
{
    struct oxl_plant_settings *p = &c->scenario.plant;
    double air = log_between(r, 1.5, 12);
    p->idle_air_g_s = air;
    /* Up to about 5 g/s it idles; more air is a raised, held speed. */
    p->idle_rpm = air < 5 ? between(r, 620, 900) : between(r, 1300, 2300);
    p->volumetric_efficiency = between(r, 0.65, 0.85);
    double map_kpa = between(r, 28, 42);
    p->intake_c = between(r, 10, 60);
    p->displacement_l = air * 120 * 287.05 * (p->intake_c + 273.15) /
                        (1e3 * map_kpa * p->idle_rpm * p->volumetric_efficiency);
    p->displacement_l = fmin(8, fmax(0.8, p->displacement_l));
    p->humidity_ratio = between(r, 0.003, 0.022);
    p->air_meter_error_pct = between(r, -5, 5);
    p->fuel_error_pct = between(r, -7, 7);
    p->fuel_error_bank2_pct = between(r, -7, 7);
    p->fuel_noise_pct = between(r, 0.1, 0.5);
    p->air_ripple_pct = between(r, 0.2, 1.2);
    p->air_noise_pct = between(r, 0.2, 1.0);
    p->governor = chance(r, 0.85);
    p->front_delay_s = between(r, 0.20, 0.45) * pow(3 / air, 0.7);
    p->exhaust_k = between(r, 600, 800);
    p->inlet_volume_l = between(r, 0.2, 0.6);
    p->outlet_volume_l = between(r, 0.4, 1.2);
}

static void make_trims(struct car *c, struct oxl_random *r)
{
    struct oxl_plant_settings *p = &c->scenario.plant;
    double tau_s = log_between(r, 2, 20);
    p->trim_kp = chance(r, 0.3) ? 0 : between(r, 0.05, 0.35);
    p->trim_ki_per_s = (1 + p->trim_kp) / tau_s;
    p->relay_ramp_pct_s = log_between(r, 0.8, 3.5);
    p->relay_jump_pct = chance(r, 0.3) ? 0 : between(r, 0.5, 2);
    p->stft_limit_pct = between(r, 20, 35);
    p->ltft_limit_pct = between(r, 15, 30);
    p->total_limit_pct = fmax(p->stft_limit_pct, between(r, 28, 45));
    p->ltft_tau_s = log_between(r, 40, 400);
    word(p->trim_rule, sizeof p->trim_rule, chance(r, 0.75) ? "additive" : "multiplicative");
    c->scenario.ecu.has_ltft = chance(r, 0.9);
    p->rear_trim = chance(r, 0.8);
    p->rear_trim_v = between(r, 0.60, 0.74);
}

static void make_converter(struct car *c, struct oxl_random *r)
{
    struct oxl_plant_settings *p = &c->scenario.plant;
    p->capacity_mg = log_between(r, 20, 3000);
    p->capacity_bank2_mg = log_between(r, 20, 3000);
    p->cells = (unsigned)between(r, 14, 26);
    p->fill_k_per_g = between(r, 25, 60);
    p->release_k_per_g = between(r, 15, 40);
    /* Steam keeps the outlet a little rich while the store fills (Moeller et al. 2009). */
    p->reoxidation_pct_s = between(r, 0.1, 0.4);
    p->slip_pct = between(r, 0, 8);
    p->bulk_share_pct = between(r, 15, 35);
    p->bulk_tau_s = between(r, 3, 12);
    /* Full when it came in from the road with a fuel cut. */
    p->start_fill_pct = chance(r, 0.3) ? 100 : between(r, 20, 90);
    p->cat_idle_c = between(r, 420, 560);
    p->cat_start_c = p->cat_idle_c + between(r, -20, 60);
    p->spread_pct = 0; /* the car is drawn here */
    if (chance(r, 0.35))
        word(p->catalyst_model, sizeof p->catalyst_model, "two-site");
}

static void make_sensors(struct car *c, struct oxl_random *r)
{
    struct oxl_plant_settings *p = &c->scenario.plant;
    struct oxl_ecu_settings *u = &c->scenario.ecu;
    double at = oxl_random_unit(r);
    const char *front = at < 0.33 ? "wide-volts" : at < 0.66 ? "wide-current" : "switching";
    word(u->front, sizeof u->front, front);
    if (chance(r, 0.06))
        word(u->rear, sizeof u->rear, "wide-current");
    u->has_cat_temp = chance(r, 0.3);
    p->front_lag_s = between(r, 0.05, 0.13);
    p->front_noise = log_between(r, 0.0005, 0.004);
    p->front_k = between(r, 850, 1000);
    p->rear_lag_s = between(r, 0.08, 0.22);
    p->rear_noise_v = log_between(r, 0.002, 0.012);
    p->rear_k = between(r, 750, 950);
}

/* A hand that follows what the tool says, more or less well. */
static void make_hand(struct car *c, struct oxl_random *r)
{
    struct oxl_plant_settings *p = &c->scenario.plant;
    struct oxl_tech_settings *t = &c->scenario.technician;
    p->gas_full_g_s = 0.0765 * p->idle_air_g_s / 3 * between(r, 0.85, 1.2);
    p->gas_dead_s = between(r, 0.1, 0.5);
    p->gas_mix_s = between(r, 0.2, 0.6);
    t->reaction_min_s = between(r, 0.15, 0.5);
    t->reaction_max_s = t->reaction_min_s + between(r, 0.1, 0.8);
    t->opening_sd_pct = between(r, 3, 15);
    t->open_per_s = log_between(r, 0.04, 0.5);
    t->creep_per_s = log_between(r, 0.002, 0.02);
    t->shut_s = between(r, 0.05, 0.4);
    /* From the seed alone, so that the rest of each car stays what it was. */
    struct oxl_random own;
    oxl_random_seed(&own, c->seed ^ 0xb415cu);
    t->brisk_per_s = log_between(&own, 0.08, 0.4);
    t->snap_throttle = chance(r, 0.9);
}

/* Shifts of -8 to -40 %: a hand that opens much too far and will not hear of less, or one that
 * cuts when it likes. */
static void make_clumsy(struct car *c, struct oxl_random *r)
{
    struct oxl_tech_settings *t = &c->scenario.technician;
    if (chance(r, 0.5)) {
        c->early_pct = between(r, -20, -8);
        return;
    }
    t->usual_opening = 0.48 / 20 * between(r, 24, 42);
    t->open_per_s = 1;
    t->heeds_too_much = false;
    c->scenario.plant.stft_limit_pct = fmax(30, c->scenario.plant.stft_limit_pct);
    c->scenario.plant.total_limit_pct = 45;
}

/* Converters near the limits and well away from them, whichever the flaw would hide. */
static void converter_of(struct car *c, struct oxl_random *r, double low_mg, double high_mg)
{
    double scale = c->scenario.plant.idle_air_g_s / 3;
    c->scenario.plant.capacity_mg = log_between(r, low_mg * scale, high_mg * scale);
}

static void make_flaw(struct car *c, struct oxl_random *r)
{
    struct oxl_plant_settings *p = &c->scenario.plant;
    struct oxl_tech_settings *t = &c->scenario.technician;
    struct oxl_ecu_settings *u = &c->scenario.ecu;
    switch (c->family) {
    case FAMILY_CLUMSY:
        make_clumsy(c, r);
        break;
    case FAMILY_LEAK_MID:
        p->leak_mid_pct = log_between(r, 0.5, 8);
        converter_of(c, r, 300, 2500);
        break;
    case FAMILY_LEAK_REAR:
        p->leak_rear_pct = log_between(r, 0.3, 8);
        converter_of(c, r, 300, 2500);
        break;
    case FAMILY_LEAK_FRONT:
        p->leak_front_pct = between(r, 1, 8);
        break;
    case FAMILY_SLOW_REAR:
        p->rear_lag_s = log_between(r, 0.4, 6);
        converter_of(c, r, 15, 600);
        break;
    case FAMILY_DEAD_REAR:
        word(p->rear_fault, sizeof p->rear_fault, "stuck");
        p->rear_stuck_v = chance(r, 0.6) ? between(r, 0.5, 0.9) : between(r, 0.02, 0.5);
        converter_of(c, r, 15, 600);
        break;
    case FAMILY_LAZY_FRONT:
        p->front_lag_s = log_between(r, 0.3, 1.5);
        p->trim_kp = fmin(p->trim_kp, 0.1);
        p->trim_ki_per_s = fmin(p->trim_ki_per_s, 0.2);
        converter_of(c, r, 200, 2500);
        break;
    case FAMILY_COLD:
        p->coolant_c = between(r, 5, 60);
        p->coolant_tau_s = between(r, 60, 200);
        p->run_time_s = between(r, 5, 60);
        p->cat_start_c = between(r, 40, 250);
        p->cat_tau_s = between(r, 30, 90);
        converter_of(c, r, 400, 2500);
        break;
    case FAMILY_COOL:
        p->cat_idle_c = between(r, 240, 350);
        p->cat_start_c = p->cat_idle_c + between(r, -10, 40);
        p->cat_tau_s = between(r, 50, 200);
        u->has_cat_temp = true;
        converter_of(c, r, 300, 2500);
        break;
    case FAMILY_MISFIRE:
        p->misfire_pct = log_between(r, 0.3, 6);
        break;
    case FAMILY_OPENED_PORT:
        p->port_open_s = between(r, 5, 60);
        p->port_air_pct = between(r, 4, 28);
        p->smaller_port_air_pct = p->port_air_pct * between(r, 0.1, 0.6);
        break;
    case FAMILY_RESIDUAL:
        if (chance(r, 0.5)) {
            p->gas_residue_pct = between(r, 10, 50);
            p->gas_residue_tau_s = between(r, 1, 6);
        } else {
            t->dribble_pct = between(r, 10, 60);
            t->dribble_tau_s = between(r, 1, 6);
        }
        t->forgets_valve = chance(r, 0.3);
        converter_of(c, r, 15, 1500);
        break;
    case FAMILY_AIR_BOX:
        p->gas_mix_s = between(r, 0.8, 2);
        p->gas_dead_s = between(r, 0.5, 1.5);
        break;
    case FAMILY_TWO_BANKS:
        p->banks = 2;
        p->crossed_fronts = chance(r, 0.2);
        p->gas_bank1_share_pct = between(r, 40, 60);
        break;
    case FAMILY_SPEED_DENSITY:
        word(p->metering, sizeof p->metering, "speed-density");
        u->has_air = false;
        u->has_map = true;
        c->displacement_l = p->displacement_l;
        break;
    case FAMILY_WRONG_METER:
        p->air_meter_error_pct = chance(r, 0.5) ? between(r, -25, -8) : between(r, 8, 20);
        break;
    case FAMILY_BAD_LINK:
        c->scenario.adapter.garbage = true;
        c->scenario.adapter.unplug_in_timing = chance(r, 0.3);
        break;
    default:
        break;
    }
}

/* Any of the scenarios that come with the program and have a vehicle to test. */
static bool take_builtin(struct car *c, struct oxl_random *r)
{
    static const char *const without[] = {"no-vehicle", "silent-adapter", "no-rear", "open-loop"};
    size_t n = oxl_scenario_builtin_count();
    const char *name = oxl_scenario_builtin_name((size_t)(oxl_random_unit(r) * (double)n));
    for (size_t i = 0; i < sizeof without / sizeof without[0]; i++)
        if (!strcmp(without[i], name))
            name = "good";
    struct oxl_scenario *s = NULL;
    struct oxl_error err;
    if (oxl_scenario_load(name, &s, &err) != OXL_OK)
        return false;
    c->scenario = *s;
    oxl_scenario_free(s);
    word(c->name, sizeof c->name, name);
    unsigned protocol = c->scenario.adapter.protocol;
    c->link = protocol >= 6  ? c->scenario.ecu.multi_pid ? LINK_CAN_MULTI : LINK_CAN_SINGLE
              : protocol < 3 ? LINK_J1850
                             : LINK_KLINE;
    if (!c->scenario.ecu.has_air)
        c->displacement_l = c->scenario.plant.displacement_l;
    return true;
}

static bool take_defaults(struct car *c)
{
    struct oxl_scenario *s = NULL;
    struct oxl_error err;
    if (oxl_scenario_parse("", "campaign", &s, &err) != OXL_OK)
        return false;
    c->scenario = *s;
    oxl_scenario_free(s);
    return true;
}

static void make_all(struct car *c, uint64_t seed)
{
    static const struct car none;
    struct oxl_random r;
    *c = none;
    c->seed = seed;
    c->displacement_l = c->early_pct = NAN;
    oxl_random_seed(&r, seed ^ 0xca3b41a6u);
    c->family = pick_family(&r);
    word(c->name, sizeof c->name, family_name(c->family));
    if (c->family == FAMILY_BUILTIN && take_builtin(c, &r))
        return;
    take_defaults(c);
    make_link(c, &r);
    make_engine(c, &r);
    make_trims(c, &r);
    make_converter(c, &r);
    make_sensors(c, &r);
    make_hand(c, &r);
    make_flaw(c, &r);
}

void car_make(struct car *c, uint64_t seed)
{
    make_all(c, seed);
    refresh_draw(c);
}

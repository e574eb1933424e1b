/* The sentences beside a verdict, held against what the simulated car and its hand really have.
 * What only repeats what was seen (a code, a gap, an override) is not asked. */
#include <math.h>
#include <string.h>

#include "campaign.h"
#include "sim/ecu.h"

static bool any_run(const struct trial *t, bool (*is)(const struct trial_run *r))
{
    for (int k = 0; k < t->runs; k++)
        if (t->run[k].has_truth && is(&t->run[k]))
            return true;
    return false;
}

static bool deep(const struct trial_run *r)
{
    return r->truth.shift_pct < -24;
}

static bool shallow(const struct trial_run *r)
{
    return r->truth.shift_pct > -16;
}

static bool rear_first(const struct trial_run *r)
{
    return r->truth.delay_s < 0.05;
}

static bool held(const struct trial_run *r)
{
    return !oxl_known(r->truth.rear_lean_t_s) || r->truth.rear_lean_t_s > r->truth.cut_t_s + 8;
}

static bool leaks(const struct trial *t)
{
    const struct oxl_plant_settings *p = &t->car.plant;
    return p->leak_mid_pct > 0 || p->leak_rear_pct > 0 || p->secondary_air_pct > 0;
}

static bool rear_is(const struct trial *t, const char *fault)
{
    return strcmp(t->car.plant.rear_fault, fault) == 0;
}

static bool gas_lingers(const struct trial *t)
{
    const struct oxl_tech_settings *h = &t->car.technician;
    const struct oxl_plant_settings *p = &t->car.plant;
    return h->shut_s > 0.35 || p->leak_front_pct > 0 || h->dribble_pct > 0 || h->forgets_valve ||
           p->gas_residue_pct > 0 || p->gas_mix_s > 0.55 || p->gas_dead_s > 1;
}

/* A loop that swings over the step: at the release the mixture may stand at balance. */
static bool dithers(const struct trial *t)
{
    return strcmp(t->car.ecu.front, "switching") == 0;
}

/* Is the sentence true of the car? Wide where it leaves room: what is called false is false. */
static bool holds(const struct trial *t, enum oxl_reason r, bool *asked)
{
    const struct oxl_plant_settings *p = &t->car.plant;
    const enum truth_class is = trial_class(t);
    *asked = true;
    switch (r) {
    case OXL_R_OVER_ENRICHED:
        return any_run(t, deep);
    case OXL_R_UNDER_ENRICHED:
        return any_run(t, shallow);
    case OXL_R_SLOW_RELEASE:
        return gas_lingers(t) || p->front_lag_s > 0.25 || p->misfire_pct > 0 || dithers(t);
    case OXL_R_REAR_HELD:
        return any_run(t, held);
    case OXL_R_FAST_TRIM_RECOVERY:
        return t->recovery_s < 8;
    case OXL_R_REAR_SLOW:
        return t->rear_slow || leaks(t) || rear_is(t, "biased") ||
               oxl_ecu_has_dtc(&t->car.ecu, 0x0139, 0x0141);
    case OXL_R_FRONT_SLOW:
        return p->front_lag_s > 0.25 || dithers(t);
    case OXL_R_REAR_LEAN_FIRST:
        return any_run(t, rear_first) || leaks(t);
    case OXL_R_REAR_RESTS_LEAN:
        return leaks(t) || rear_is(t, "stuck") || rear_is(t, "biased") || is == TRUTH_DEAD;
    case OXL_R_LEAK_SUSPECTED:
        return leaks(t);
    case OXL_R_REAR_STUCK:
        return rear_is(t, "stuck");
    case OXL_R_REAR_BIASED_LEAN:
        return rear_is(t, "biased") || rear_is(t, "stuck") || leaks(t);
    case OXL_R_REAR_BIASED_RICH:
        return rear_is(t, "biased") || p->rear_rich_v > 0 || p->rear_bottom_v > 0.05;
    case OXL_R_SENSORS_SWAPPED:
        return p->front_lag_s > 0.5; /* no car of the campaign has them swapped */
    case OXL_R_CROSSED_FRONTS:
        return p->crossed_fronts;
    case OXL_R_COOL_CONVERTER:
        return fmin(p->cat_start_c, p->cat_idle_c) < 400;
    case OXL_R_HIGH_AIR_FLOW:
        return t->air_g_s > 5;
    case OXL_R_TRIM_FROZEN:
        return p->trim_frozen;
    case OXL_R_TRIMS_HIGH:
        return p->leak_front_pct > 0 || p->secondary_air_pct > 0 || p->port_open_s > 0 ||
               p->fuel_error_pct + p->air_meter_error_pct < -5;
    case OXL_R_SECONDARY_AIR:
        return p->secondary_air_pct > 0;
    case OXL_R_MISFIRE:
        return p->misfire_pct > 0 || oxl_ecu_has_dtc(&t->car.ecu, 0x0300, 0x0312);
    case OXL_R_EARLY_SHIFT:
        return gas_lingers(t) || p->port_open_s > 0;
    case OXL_R_LOW_STORAGE:
        return is != TRUTH_SOUND;
    case OXL_R_GOOD_STORAGE:
        return is != TRUTH_DEAD;
    case OXL_R_MIDDLE_STORAGE:
        return is != TRUTH_DEAD && is != TRUTH_SOUND;
    default:
        *asked = false;
        return true;
    }
}

static void line(FILE *out, const struct trial *t, size_t n, enum oxl_reason r)
{
    size_t said = 0, is_false = 0;
    uint64_t seeds[4];
    bool asked = false;
    for (size_t i = 0; i < n; i++) {
        if (!t[i].has_result || !oxl_reasons_has(t[i].result.reasons, r))
            continue;
        said++;
        if (!holds(&t[i], r, &asked) && is_false++ < sizeof seeds / sizeof seeds[0])
            seeds[is_false - 1] = t[i].seed;
    }
    if (!said || !asked)
        return;
    fprintf(out, "  %-22s %5zu %5zu ", oxl_reason_code(r), said, is_false);
    for (size_t k = 0; k < is_false && k < sizeof seeds / sizeof seeds[0]; k++)
        fprintf(out, " %llu", (unsigned long long)seeds[k]);
    fputc('\n', out);
}

void sentences_print(FILE *out, const struct trial *t, size_t n)
{
    fputs("\nSentences beside a verdict: said, false of the car, of which seeds\n", out);
    for (enum oxl_reason r = 0; r < OXL_R_COUNT; r++)
        line(out, t, n, r);
}

#include "sim/latch.h"

#include <math.h>
#include <string.h>

static double period_us(const struct oxl_ecu_settings *u, int group)
{
    double common_ms = u->calc_ms ? u->calc_ms : 10;
    double own_ms = u->refresh_ms[group] > 0 ? u->refresh_ms[group] : common_ms;
    return 1e3 * own_ms * (1 + 1e-6 * u->refresh_drift_ppm);
}

static double next_jump_us(struct oxl_latch *x, double from_us)
{
    if (x->u->refresh_jump_s <= 0)
        return INFINITY;
    return from_us - 1e6 * x->u->refresh_jump_s * log(1 - oxl_random_unit(&x->random));
}

/* The next moment of the clock, at `step` of its present period from `nominal_us`. */
static void set_next(struct oxl_latch *x, int g, double step)
{
    x->group[g].nominal_us += step * x->group[g].period_us;
    x->group[g].due_us = x->group[g].nominal_us;
    if (x->u->refresh_jitter_ms > 0)
        x->group[g].due_us += 1e3 * x->u->refresh_jitter_ms * oxl_random_unit(&x->random);
}

void oxl_latch_init(struct oxl_latch *x, const struct oxl_ecu_settings *u, uint64_t seed)
{
    *x = (struct oxl_latch){.u = u};
    oxl_random_seed(&x->random, seed ^ 0x1a7c4edu);
    for (int g = 0; g < OXL_REFRESH_GROUPS; g++) {
        x->group[g].period_us = period_us(u, g);
        x->group[g].jump_us = next_jump_us(x, 0);
        double phase = 1e3 * u->refresh_phase_ms[g] / x->group[g].period_us;
        if (u->refresh_phase_random)
            phase = oxl_random_unit(&x->random);
        set_next(x, g, phase > 0 ? phase : 1); /* at 0 all are taken */
    }
}

static void advance(struct oxl_latch *x, int g)
{
    double now_us = x->group[g].nominal_us;
    if (!x->group[g].changed && now_us >= 1e6 * x->u->refresh_change_at_s) {
        x->group[g].changed = true;
        x->group[g].period_us *= x->u->refresh_change_factor;
    }
    double step = 1;
    if (now_us >= x->group[g].jump_us) {
        x->group[g].jump_us = next_jump_us(x, now_us);
        step += oxl_random_unit(&x->random);
    }
    set_next(x, g, step);
}

unsigned oxl_latch_due(struct oxl_latch *x, int64_t t_us)
{
    unsigned due = 0;
    int clocks = x->u->refresh_snapshot ? 1 : OXL_REFRESH_GROUPS;
    for (int g = 0; g < clocks; g++)
        while (x->group[g].due_us <= (double)t_us) {
            advance(x, g);
            due |= 1U << g;
        }
    return due && x->u->refresh_snapshot ? ~0U : due;
}

static void latch_bank(struct oxl_readout *to, const struct oxl_readout *now, unsigned groups,
                       int b)
{
    if (groups & 1U << OXL_REFRESH_FRONT) {
        to->front_v[b] = now->front_v[b];
        to->front_lambda[b] = now->front_lambda[b];
        to->front_ma[b] = now->front_ma[b];
        to->front_wide_v[b] = now->front_wide_v[b];
    }
    if (groups & 1U << OXL_REFRESH_REAR) {
        to->rear_v[b] = now->rear_v[b];
        to->rear_lambda[b] = now->rear_lambda[b];
    }
    if (groups & 1U << OXL_REFRESH_TRIMS) {
        to->stft_pct[b] = now->stft_pct[b];
        to->ltft_pct[b] = now->ltft_pct[b];
    }
}

void oxl_latch_take(struct oxl_readout *latched, const struct oxl_readout *now, unsigned groups)
{
    if (groups & 1U << OXL_REFRESH_REST) {
        struct oxl_readout old = *latched;
        *latched = *now;
        for (int b = 0; b < OXL_SIM_BANKS; b++)
            latch_bank(latched, &old, ~0U, b);
    }
    for (int b = 0; b < OXL_SIM_BANKS; b++)
        latch_bank(latched, now, groups, b);
}

/* The controller's fuel trims: a proportional-integral law on a wide-range front, a relay with a
 * jump and a ramp on a switching one, a slow long-term trim that takes over what lasts, and a
 * slow rear trim that holds the converter's outlet a little rich. */
#include "sim/plant.h"

#include <math.h>

/* A vehicle that has run for a while has learned its own fuel error. */
void oxl_trims_init(struct oxl_plant *p, struct oxl_bank *b)
{
    struct oxl_trims *t = &b->trims;
    double limit = p->has_ltft ? p->s.ltft_limit_pct / 100 : 0;
    t->ltft = oxl_clamp(1 / (1 + b->fuel_error) / (1 + p->s.air_meter_error_pct / 100) - 1, -limit,
                        limit);
}

double oxl_trims_factor(const struct oxl_plant *p, const struct oxl_bank *b)
{
    const struct oxl_trims *t = &b->trims;
    if (p->s.trim_rule[0] == 'm')
        return (1 + t->stft) * (1 + t->ltft);
    return 1 + t->stft + t->ltft;
}

double oxl_plant_trim(const struct oxl_plant *p, unsigned bank)
{
    return oxl_trims_factor(p, &p->bank[bank]) - 1;
}

static bool may_close(const struct oxl_plant *p)
{
    return p->s.closed_loop && p->engine.coolant_c >= p->s.closed_loop_coolant_c &&
           p->engine.run_time_s >= p->s.closed_loop_run_s;
}

/* Service 01 PID 03: 1 open, not yet warm; 2 closed; 4 open because of the load or fuel cut;
 * 8 open because of a fault, 16 closed with one. */
uint8_t oxl_trims_status(const struct oxl_plant *p, const struct oxl_bank *b)
{
    const struct oxl_habits *h = &p->habits;
    if (h->stopped)
        return 0;
    if (h->held && p->s.at_limit[0] == 'o')
        return h->rich_dtc ? 8 : 4;
    if (p->engine.fuel_cut)
        return 4;
    return b->trims.closed ? h->held && h->rich_dtc ? 16 : 2 : 1;
}

static void rear_trim(const struct oxl_plant *p, struct oxl_bank *b)
{
    struct oxl_trims *t = &b->trims;
    if (!p->s.rear_trim || !p->rear_present || p->rear_wide) {
        t->rear_offset = -0.0015;
        return;
    }
    double miss_v = p->s.rear_trim_v - oxl_rear_v_read(p, b), pull = p->s.rear_trim_pull;
    double ki_per_s = 0.0002 * pull * pull * pull, kp = 0.015 * pull; /* x a volt */
    double most = 0.003 * pull;
    t->rear_integral = oxl_clamp(t->rear_integral - ki_per_s * miss_v * OXL_CONTROL_S, -most, most);
    t->rear_offset = oxl_clamp(t->rear_integral - kp * miss_v, -0.012 * pull, 0.004 * pull);
}

static void wide_law(const struct oxl_plant *p, struct oxl_trims *t, double lambda)
{
    double lean = 1 - p->habits.seen / lambda - t->rear_offset;
    double most = fmin(p->s.stft_limit_pct, p->s.total_limit_pct) / 100;
    double low = fmax(-most, -p->s.total_limit_pct / 100 - t->ltft);
    double high = fmin(most, p->s.total_limit_pct / 100 - t->ltft);
    t->integral = oxl_clamp(t->integral + p->s.trim_ki_per_s * lean * OXL_CONTROL_S, low, high);
    t->stft = oxl_clamp(t->integral + p->s.trim_kp * lean, low, high);
}

/* The rear trim makes the relay linger after it has sensed rich, or lean, which moves the mean. */
static void relay_law(const struct oxl_plant *p, struct oxl_trims *t, double front_v)
{
    bool rich = front_v > 0.45;
    if (rich != t->senses_rich) {
        t->senses_rich = rich;
        t->switch_age_s = 0;
    }
    t->switch_age_s += OXL_CONTROL_S;
    double linger_s = 30 * (rich ? -t->rear_offset : t->rear_offset);
    if (t->switch_age_s > linger_s)
        t->acts_rich = t->senses_rich;
    double sign = t->acts_rich ? -1 : 1;
    double low = fmax(-p->s.stft_limit_pct / 100, -p->s.total_limit_pct / 100 - t->ltft);
    double high = fmin(p->s.stft_limit_pct / 100, p->s.total_limit_pct / 100 - t->ltft);
    double ramp = sign * p->s.relay_ramp_pct_s / 100 * OXL_CONTROL_S;
    t->integral = oxl_clamp(t->integral + ramp, low, high);
    t->stft = oxl_clamp(t->integral + sign * p->s.relay_jump_pct / 100, low, high);
}

/* What the short-term trim has held for long moves over without a bump. */
static void learn(const struct oxl_plant *p, struct oxl_trims *t)
{
    if (!p->has_ltft || p->engine.coolant_c < 60)
        return;
    double limit = p->s.ltft_limit_pct / 100;
    bool back = t->integral > 0 && p->s.ltft_back_tau_s > 0;
    double moved = t->integral * OXL_CONTROL_S / (back ? p->s.ltft_back_tau_s : p->s.ltft_tau_s);
    moved = oxl_clamp(t->ltft + moved, -limit, limit) - t->ltft;
    t->ltft += moved;
    t->integral -= moved;
    t->stft -= moved;
}

void oxl_trims_tick(struct oxl_plant *p, unsigned bank)
{
    struct oxl_bank *b = &p->bank[bank];
    struct oxl_trims *t = &b->trims;
    const double after_cut_s = 1.0; /* the exhaust is still full of air */
    unsigned seen = p->s.crossed_fronts && p->s.banks == 2 ? 1 - bank : bank;
    t->closed = may_close(p);
    if (p->s.trim_frozen) /* says "closed" and is not */
        return;
    if (!t->closed) {
        t->integral = t->stft = 0;
        return;
    }
    if (p->engine.cut_over_s < after_cut_s || p->habits.stopped)
        return;
    if (p->habits.held) {
        if (p->s.at_limit[0] == 'o')
            t->integral = t->stft = 0;
        return;
    }
    /* A relay cannot aim beside balance: what is asked for goes without it. */
    if (!p->front_wide && (p->habits.enriching || p->habits.monitoring))
        return;
    rear_trim(p, b);
    if (p->front_wide)
        wide_law(p, t, oxl_front_lambda_read(&p->bank[seen]));
    else
        relay_law(p, t, oxl_front_v_read(&p->bank[seen]));
    learn(p, t);
}

/* The deeper run: where runs at the right depth emptied too little of the store to decide, one run
 * goes over target and stays there until more has been taken out than any but a sound store could
 * hold. Offered after the last run; taken by opening the valve. Short, because of the heat. */
#include "proc.h"

static const double rich_far = 0.01;    /* 1/lambda - 1: clearly rich */
static const double rich_aim = 0.08;    /* ... what the trims cannot take away, when they stand */
static const double flat_s = 2.5;       /* short-term trim without a step of its byte */
static const double settled_s = 3.0;    /* nothing more is gained */
static const double near_pct = 2.0;     /* of the deeper target */
static const double enough_pct = -15.0; /* less lean gas than that is a poor release */
static const double dwell_s = 1.2;
enum { MOST_TRIES = 2 };

static double cat_temp_c(const struct oxl_proc *p)
{
    return oxl_proc_latest(p, OXL_Q_CAT_TEMP_C, OXL_S_US(60));
}

/* Heat: not behind a misfire, not in an engine that stumbled, not in a converter that is hot. */
bool oxl_deeper_safe(const struct oxl_proc *p)
{
    oxl_reasons seen = oxl_kept_reasons(p);
    for (size_t i = 0; i < p->kept.runs_n; i++)
        seen |= p->kept.runs[i].reasons;
    return !oxl_reasons_has(seen, OXL_R_MISFIRE) && !oxl_reasons_has(seen, OXL_R_RPM_DROP) &&
           !(cat_temp_c(p) > p->profile.deeper_cat_max_c);
}

bool oxl_deeper_worth(const struct oxl_proc *p)
{
    if (!p->source.repeats || p->deeper.done || p->deeper.tries >= MOST_TRIES ||
        p->deeper.choice == OXL_DEEPER_NO || p->kept.runs_n >= OXL_PROC_MAX_RUNS ||
        !oxl_deeper_safe(p))
        return false;
    struct oxl_result r;
    oxl_kept_judge(p, &r);
    if (r.valid_runs == 0 || !oxl_known(r.air_g_s) ||
        oxl_reasons_pushing(oxl_kept_reasons(p), OXL_PUSH_VOID))
        return false;
    if (p->deeper.choice == OXL_DEEPER_YES)
        return true;
    /* What only a proof of the rear is missing to needs no more gas. */
    struct oxl_result proven;
    oxl_kept_judge_proven(p, &proven);
    return oxl_deeper_may_decide(&r) && proven.verdict == OXL_VERDICT_INCONCLUSIVE;
}

void oxl_deeper_offer(struct oxl_proc *p)
{
    oxl_run_set_mode(p, OXL_RUN_DEEPER);
    oxl_proc_tell(p, OXL_ADV_DEEPER_OFFER);
}

/* The present run was the deeper one, and is over. */
void oxl_deeper_ran(struct oxl_proc *p, bool valid)
{
    if (!oxl_run_is_deeper(p))
        return;
    oxl_run_set_mode(p, OXL_RUN_NORMAL);
    p->deeper.tries++;
    p->deeper.done = valid;
}

void oxl_deeper_forget(struct oxl_proc *p)
{
    p->deeper.now = (struct oxl_removal){0};
}

void oxl_deeper_key(struct oxl_proc *p)
{
    if (oxl_run_is_deeper(p)) { /* on offer: not taken */
        p->deeper.choice = OXL_DEEPER_NO;
        oxl_proc_mark(p, "no deeper run");
        if (p->state == OXL_STATE_RECOVERY || p->state == OXL_STATE_BASELINE ||
            (p->state == OXL_STATE_ENRICHMENT && !p->run.shift_start_us)) {
            oxl_run_set_mode(p, OXL_RUN_NORMAL);
            oxl_proc_enter(p, OXL_STATE_DONE);
        } else if (p->state == OXL_STATE_PRECHECK || p->state == OXL_STATE_LEAK_CHECK) {
            oxl_run_set_mode(p, OXL_RUN_NORMAL);
        }
        return;
    }
    p->deeper.choice = p->deeper.choice == OXL_DEEPER_YES ? OXL_DEEPER_AUTO : OXL_DEEPER_YES;
    oxl_proc_mark(p, p->deeper.choice == OXL_DEEPER_YES ? "a deeper run at the end"
                                                        : "a deeper run only if needed");
}

bool oxl_deeper_give_up(struct oxl_proc *p)
{
    if (!oxl_run_is_deeper(p))
        return false;
    oxl_run_set_mode(p, OXL_RUN_NORMAL);
    p->deeper.choice = OXL_DEEPER_NO;
    oxl_proc_mark(p, "the deeper run was not taken");
    oxl_proc_enter(p, OXL_STATE_DONE);
    return true;
}

/* ---- what has been taken out ---- */
static double step_s(int64_t *last_us, int64_t now_us)
{
    const double longest_s = 2.0; /* a stall is not counted */
    double s = *last_us ? (double)(now_us - *last_us) / 1e6 : 0;
    *last_us = now_us;
    return s < longest_s ? s : 0;
}

static double air_g_s(const struct oxl_proc *p)
{
    double air = oxl_proc_latest(p, OXL_Q_AIR_G_S, OXL_S_US(30)) * p->air_share;
    if (air > 0)
        return air;
    for (size_t i = p->kept.runs_n; i-- > 0;)
        if (p->kept.runs[i].air_g_s > 0)
            return p->kept.runs[i].air_g_s;
    return NAN;
}

double oxl_deeper_needed_now_mg(const struct oxl_proc *p)
{
    return oxl_deeper_needed_mg(&p->profile, air_g_s(p), p->kept.runs, p->kept.runs_n);
}

static void count_front(struct oxl_proc *p, double lambda)
{
    double s = step_s(&p->deeper.now.front_us, p->now_us);
    double rate = oxl_removal_mg_s(&p->profile, p->base.front_level, lambda, air_g_s(p));
    if (lambda < p->base.front_level - 0.3 * rich_far && rate > 0)
        p->deeper.now.removed_mg += rate * s;
}

/* A switching front: what the trims had yet to take away while it stood rich. */
static void count_trim(struct oxl_proc *p)
{
    const int64_t each_us = OXL_S_US(0.25); /* all of it is summed anew */
    struct oxl_removal *d = &p->deeper.now;
    if (p->pair.front_kind == OXL_SENSOR_WIDE || !p->run.shift_start_us ||
        p->now_us - d->trim_us < each_us)
        return;
    d->trim_us = p->now_us;
    const size_t n = oxl_proc_trim_course(p, p->run.shift_start_us - OXL_S_US(6), p->now_us);
    const struct oxl_trim_dose seen = {.profile = &p->profile,
                                       .front = oxl_proc_front(p),
                                       .trim = {p->trim, n},
                                       .baseline_pct = p->base.trim_pct,
                                       .shift_start_us = p->run.shift_start_us,
                                       .to_us = p->now_us,
                                       .delay_s = p->profile.engine_delay_s};
    d->removed_mg = oxl_removal_by_trim_mg(&seen, air_g_s(p));
}

/* ---- what to do ---- */
struct look {
    double shift, heading; /* per cent */
    double rich;           /* 1/lambda - 1 of a wide-range front; NAN */
    bool stands;           /* the trims do not follow any more: their limit */
    bool enough;           /* removed, and lean gas enough for the way back */
};

/* At the limit of the total, short-term and long-term trim hand steps of their byte (0.8 %) to one
 * another, and the front is rich by the little that is left over. A slow loop may look so, too: it
 * is asked for more gas then, up to the limits that every deeper run has. */
static bool total_stands(const struct oxl_proc *p)
{
    const double stand_s = 5.0, step_pct = 0.8;
    struct oxl_window_stats w = oxl_proc_trim_stats(p, stand_s);
    return w.count > 2 && w.span_us > OXL_S_US(0.8 * stand_s) && w.max - w.min <= step_pct &&
           1 / oxl_proc_mean(p, oxl_proc_front(p), stand_s) - 1 > rich_far;
}

static struct look look_at(struct oxl_proc *p, double shift)
{
    struct look k = {shift, oxl_enrich_heading_pct(p, shift), oxl_proc_front_rich(p), false, false};
    struct oxl_window_stats stft = oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_STFT_PCT), flat_s);
    bool flat = stft.count > 2 && stft.span_us > OXL_S_US(0.7 * flat_s) && stft.max - stft.min <= 0;
    bool wide = p->pair.front_kind == OXL_SENSOR_WIDE;
    k.stands = oxl_enrich_at_limit(p, shift) ||
               (((flat && k.rich > 3 * rich_far) || (wide && total_stands(p))) &&
                shift < p->profile.accept_high_pct * 0.5);
    k.enough = p->deeper.now.removed_mg >= oxl_deeper_needed_now_mg(p) &&
               (k.stands || shift <= enough_pct);
    return k;
}

/* Nothing more is to be had: the trims have taken all the gas away again, or a switching front
 * cannot show how rich it is at the trims' limit. */
static bool settled(struct oxl_proc *p, const struct look *k)
{
    bool wide = p->pair.front_kind == OXL_SENSOR_WIDE;
    struct oxl_window_stats w = oxl_proc_trim_stats(p, settled_s);
    bool still = w.span_us >= OXL_S_US(0.8 * settled_s) && fabs(w.slope_per_s) < 0.3;
    bool deep = k->shift <= p->profile.deeper_target_pct + near_pct;
    bool idle = wide ? deep && still && k->rich < rich_far && !k->stands
                     : k->stands || (deep && still) || k->shift <= p->profile.deeper_target_pct;
    oxl_proc_since(&p->deeper.now.idle_us, idle, p->now_us);
    return oxl_proc_lasted(p, p->deeper.now.idle_us, wide ? settled_s : p->profile.hold_s * 0.5);
}

/* Once it was said that no gas is seen, that stands until some is. */
static enum oxl_advice ask_for_gas(const struct oxl_proc *p)
{
    if (p->run.shift_start_us || p->run.front_rich_us)
        return OXL_ADV_DEEPER_MORE;
    return p->advice == OXL_ADV_NO_EFFECT ? OXL_ADV_NO_EFFECT : OXL_ADV_DEEPER_ADD;
}

/* What a switching front's trims take away while the hand stands still shows the dose, and nothing
 * else does: so it is given time to open, and asked for no more as long as they are on their way.
 */
static bool is_opening(const struct oxl_proc *p)
{
    const double opens_s = 5.0;
    return p->pair.front_kind != OXL_SENSOR_WIDE &&
           (p->advice == OXL_ADV_DEEPER_ADD || p->advice == OXL_ADV_DEEPER_MORE) &&
           p->now_us - p->advice_us < OXL_S_US(opens_s);
}

static bool trims_tell(const struct oxl_proc *p)
{
    const double falls_pct_s = 0.4;
    return p->pair.front_kind != OXL_SENSOR_WIDE && p->run.front_rich_us &&
           oxl_proc_trim_stats(p, 2.0).slope_per_s < -falls_pct_s;
}

static enum oxl_advice advice_for(const struct oxl_proc *p, const struct look *k)
{
    const struct oxl_profile *f = &p->profile;
    if (k->rich > 1 / f->deeper_lambda_min - 1)
        return OXL_ADV_TOO_MUCH;
    if (!k->stands && fmin(k->shift, k->heading) < f->deeper_deepest_pct)
        return OXL_ADV_TOO_MUCH;
    if (k->shift < f->deeper_deepest_pct)
        return OXL_ADV_BACK_OFF;
    if (is_opening(p))
        return p->advice;
    if (trims_tell(p))
        return OXL_ADV_DEEPER_HOLD;
    if (k->stands && k->rich < rich_aim)
        return OXL_ADV_DEEPER_MORE;
    if (!k->stands && k->heading > f->deeper_target_pct + near_pct)
        return ask_for_gas(p);
    return OXL_ADV_DEEPER_HOLD;
}

static void advise(struct oxl_proc *p, const struct look *k)
{
    enum oxl_advice a = advice_for(p, k);
    bool urgent = a == OXL_ADV_BACK_OFF || (a == OXL_ADV_TOO_MUCH && p->advice != a);
    /* "More" is said again as long as it is wanted; the hand answers each time. */
    if (a == OXL_ADV_DEEPER_MORE && oxl_proc_lasted(p, p->advice_us, 2 * dwell_s) && !is_opening(p))
        oxl_proc_unsay(p);
    if (urgent || p->now_us - p->advice_us >= OXL_S_US(dwell_s))
        oxl_proc_say(p, a, "%.0f of %.0f mg of oxygen removed.", p->deeper.now.removed_mg,
                     oxl_deeper_needed_now_mg(p));
}

static bool too_hot(const struct oxl_proc *p)
{
    return cat_temp_c(p) > p->profile.deeper_cat_max_c;
}

void oxl_deeper_sample(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (oxl_channel_same(s->channel, p->pair.front) && p->pair.front_kind == OXL_SENSOR_WIDE)
        count_front(p, s->value);
}

void oxl_deeper_enrich(struct oxl_proc *p, double shift)
{
    count_trim(p);
    struct look k = look_at(p, shift);
    if (!p->deeper.now.over_us &&
        (fmin(k.shift, k.heading) < p->profile.accept_low_pct || k.stands))
        p->deeper.now.over_us = p->now_us;
    bool rear_rich = oxl_proc_rear_is_rich(p);
    if (too_hot(p) && p->run.shift_start_us) {
        oxl_deeper_time(p);
    } else if ((k.enough || settled(p, &k)) && rear_rich) {
        oxl_proc_mark(p, k.enough ? "enough removed" : "no more can be removed");
        oxl_enrich_release(p);
    } else {
        advise(p, &k);
    }
}

int64_t oxl_deeper_heat_due(const struct oxl_proc *p)
{
    if (!p->deeper.now.over_us)
        return INT64_MAX;
    double limit_s =
        oxl_known(cat_temp_c(p)) ? p->profile.deeper_limit_s : p->profile.deeper_blind_limit_s;
    return p->deeper.now.over_us + OXL_S_US(limit_s);
}

int64_t oxl_deeper_offer_due(const struct oxl_proc *p)
{
    bool gas = p->run.shift_start_us || p->run.front_rich_us;
    return gas || !oxl_run_is_deeper(p) ? INT64_MAX
                                        : p->entered_us + OXL_S_US(p->profile.deeper_offer_s);
}

int64_t oxl_deeper_due(const struct oxl_proc *p)
{
    return oxl_earlier_us(oxl_deeper_heat_due(p), oxl_deeper_offer_due(p));
}

void oxl_deeper_time(struct oxl_proc *p)
{
    if (!p->deeper.now.over_us && p->now_us >= oxl_deeper_offer_due(p)) {
        oxl_deeper_give_up(p);
        return;
    }
    oxl_enrich_release(p);
    oxl_proc_tell(p, OXL_ADV_CUT_HEAT);
}

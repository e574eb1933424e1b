/* Sensor proof: what the session has seen each sensor do, from whatever happened, and the fuel cut
 * after a throttle snap. In a cut the gas is a step to pure air, so what is slow there is the
 * sensor; a rear that falls slowly behind a release may be the converter filling. */
#include "proc.h"

#include <stdio.h>

static const double level_s = 0.5;
/* One manufacturer's on-board limit: 0.6 to 0.3 V within 2 s of a fuel cut. */
static const double fall_from_v = 0.6, fall_to_v = 0.3, slow_rear_s = 2.0;
static const double quick_rear_s = 1.0; /* from here on a snap is asked for, to be sure */
/* Lambda 1.15 to 1.8 in a step to air is half a time constant: 0.05 s with a sound sensor (63 % in
 * 0.1 s, common practice) and grows with it. Each of the two crossings lies anywhere between its
 * samples. Between slow and quick, or between samples too far apart, it says nothing. */
static const double rise_from = 1.15, rise_to = 1.8;
static const double slow_front_s = 0.12, quick_front_s = 0.08, coarse_s = 0.06;
static const double far_lean = 1.5, far_lean_v = 0.15;
static const double risen_rpm = 350, risen_for_s = 4.0;
static const double after_cut_s = 3.0, after_drop_s = 8.0;
/* Oxygen of the cuts. Even behind a store that takes all of it up no rich gas is left for the rear;
 * and more than the other is in no store. Judgement: 113 cars of the campaign, seed 430000001,
 * drawn. */
static const double moves_mg = 500, swallowed_mg = 2000;
static const double strong_pct = 3.0; /* lean gas that a slow fall cannot be blamed on */

void oxl_sensors_start(struct oxl_sensors_watch *w)
{
    const struct oxl_proof none = {.lowest = NAN, .highest = NAN, .least = NAN, .fall_s = NAN};
    *w = (struct oxl_sensors_watch){.front = none, .rear = none, .quickest_s = NAN};
}

static double crossing_s(const struct oxl_point *a, const struct oxl_point *b, double level)
{
    double ta = 0.5e-6 * (double)(a->sent_us + a->recv_us);
    double tb = 0.5e-6 * (double)(b->sent_us + b->recv_us);
    double part = b->value == a->value ? 1 : (level - a->value) / (b->value - a->value);
    return ta + part * (tb - ta);
}

/* Time from `from` to `to`, whichever way, at the first arrival at `to`; NAN when not seen. */
static double passage_s(struct oxl_trace t, double from, double to)
{
    double sign = to > from ? 1 : -1;
    size_t end = 0, start;
    while (end < t.count && sign * (t.points[end].value - to) < 0)
        end++;
    if (end == 0 || end == t.count)
        return NAN;
    for (start = end; start > 0 && sign * (t.points[start - 1].value - from) > 0;)
        start--;
    if (start == 0)
        return NAN;
    return crossing_s(&t.points[end - 1], &t.points[end], to) -
           crossing_s(&t.points[start - 1], &t.points[start], from);
}

static void seen_text(char *out, size_t n, const struct oxl_proof *f, const char *from_to)
{
    char rich[24] = "not seen rich", lean[24] = "not seen lean";
    if (f->rich_us)
        snprintf(rich, sizeof rich, "rich at %.1f s", (double)f->rich_us / 1e6);
    if (f->lean_us)
        snprintf(lean, sizeof lean, "lean at %.1f s", (double)f->lean_us / 1e6);
    int len = snprintf(out, n, "%s, %s", rich, lean);
    if (oxl_known(f->fall_s) && len > 0 && (size_t)len < n)
        snprintf(out + len, n - (size_t)len, "; %s in %.2f s%s", from_to, f->fall_s,
                 f->fall_in_cut ? ", fuel cut" : "");
}

/* A sensor that fell quickly once can do so: slower falls, behind a release or in a cut, were what
 * the store let through. */
static bool fell_quickly(const struct oxl_sensors_watch *w)
{
    return w->quickest_s < quick_rear_s;
}

static bool rear_is_slow(const struct oxl_sensors_watch *w)
{
    return w->rear.tempo == OXL_TEMPO_SLOW && !fell_quickly(w);
}

static void say_proof(const struct oxl_proc *p, const char *id, const struct oxl_proof *f)
{
    char found[96];
    bool rear = f == &p->sensors.rear, seen = oxl_proof_whole(f);
    bool slow = rear ? rear_is_slow(&p->sensors) : f->tempo == OXL_TEMPO_SLOW;
    seen_text(found, sizeof found, f, rear ? "0.6 to 0.3 V" : "1.15 to 1.8");
    oxl_proc_check(p, id,
                   slow   ? OXL_GRADE_CAUTION
                   : seen ? OXL_GRADE_PASS
                          : OXL_GRADE_UNKNOWN,
                   found,
                   slow && rear ? "Slow rear sensor: a good result cannot stand."
                   : slow       ? "Slow front sensor: a bad result cannot stand."
                   : seen       ? ""
                   : rear ? "Snap the throttle once after the last run: the fuel cut takes it lean."
                          : "");
}

static void note_level(const struct oxl_proc *p, struct oxl_proof *f, struct oxl_trace t,
                       double value)
{
    double mean = oxl_proc_mean(p, t, level_s);
    f->least = oxl_known(f->least) ? fmin(f->least, value) : value;
    if (!oxl_known(mean))
        return;
    f->lowest = oxl_known(f->lowest) ? fmin(f->lowest, mean) : mean;
    f->highest = oxl_known(f->highest) ? fmax(f->highest, mean) : mean;
}

static void note_seen(const struct oxl_proc *p, struct oxl_proof *f, const char *id, bool rich,
                      bool lean)
{
    bool news = (rich && !f->rich_us) || (lean && !f->lean_us);
    if (rich && !f->rich_us)
        f->rich_us = p->now_us;
    if (lean && !f->lean_us)
        f->lean_us = p->now_us;
    if (news && oxl_proof_whole(f))
        say_proof(p, id, f);
}

/* ---- the cut --------------------------------------------------------------------------------- */
static double rest_rpm(const struct oxl_proc *p)
{
    if (p->base.known && oxl_known(p->base.rpm))
        return p->base.rpm;
    return oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_RPM), 30).min;
}

static void note_engine(struct oxl_sensors_watch *w, const struct oxl_proc *p,
                        const struct oxl_sample *s)
{
    if (s->channel.quantity == OXL_Q_RPM && s->value >= rest_rpm(p) + risen_rpm)
        w->cut.risen_us = p->now_us;
    if (s->channel.quantity == OXL_Q_THROTTLE_PCT && w->cut.start_us) {
        double least = oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_THROTTLE_PCT), 120).min;
        w->cut.throttle_shut = w->cut.throttle_shut || s->value <= least + 2;
    }
}

static bool front_far_lean(const struct oxl_proc *p, double value)
{
    return p->pair.front_kind == OXL_SENSOR_WIDE ? value >= far_lean : value <= far_lean_v;
}

static void note_cut(struct oxl_sensors_watch *w, const struct oxl_proc *p, double front)
{
    bool risen = w->cut.risen_us && p->now_us - w->cut.risen_us < OXL_S_US(risen_for_s);
    bool lean = front_far_lean(p, front);
    w->cut.over = w->cut.over || !lean;
    if (!lean || (w->cut.start_us ? w->cut.over : !risen))
        return; /* once begun it goes on while every sample is far lean */
    if (!w->cut.start_us) {
        w->cut.start_us = p->now_us;
        w->cut.throttle_shut = w->cut.over = false;
    }
    w->cut.seen_us = p->now_us;
}

/* Of pure air. The least flow of the last minutes is that of a shut throttle. */
static double fed_mg(const struct oxl_sensors_watch *w, const struct oxl_proc *p)
{
    double air = oxl_proc_last(p, oxl_proc_trace(p, OXL_Q_AIR_G_S), 120).min * p->air_share;
    double s = 1e-6 * (double)(w->cut.seen_us - w->cut.start_us);
    return -oxl_removal_mg_s(&p->profile, p->profile.lambda_balance, INFINITY, air) * s;
}

bool oxl_sensors_cut_moves_rear(const struct oxl_sensors_watch *w)
{
    return w->cut.all_mg >= moves_mg;
}

bool oxl_sensors_cut_passes_store(const struct oxl_sensors_watch *w)
{
    return w->cut.fed_mg >= swallowed_mg;
}

/* While a store swallows the cut the rear stands in the middle of its step, at balance. So only
 * what is slow below that, too, is the sensor. */
static const double balance_v = 0.45;

/* A fall that had not ended when the cut did: its rate counts, from a twentieth of a volt on. */
static double unfinished_s(struct oxl_trace t, double from_v)
{
    const double least_fall_v = 0.05;
    size_t low = 0, high = 0;
    for (size_t i = 1; i < t.count; i++)
        if (t.points[i].value < t.points[low].value)
            low = i;
    bool rich = false;
    for (size_t i = 0; i < low; i++) {
        rich = rich || t.points[i].value >= fall_from_v;
        if (t.points[i].value >= from_v)
            high = i;
    }
    double fell = low ? t.points[high].value - t.points[low].value : 0;
    if (!rich || !(fell >= least_fall_v) || t.points[high].value < from_v)
        return NAN;
    double took = 1e-6 * (double)(t.points[low].recv_us - t.points[high].recv_us);
    return took * (fall_from_v - fall_to_v) / fell;
}

/* Between two refreshes any change may have been a step. */
static double front_age_s(const struct oxl_proc *p)
{
    return p->refreshes.front.known ? p->refreshes.front.period_s : 0;
}

static double rear_fall_s(const struct oxl_proc *p, struct oxl_trace t)
{
    double fall_s = passage_s(t, fall_from_v, fall_to_v);
    double age_s = oxl_refresh_age_s(&p->refreshes.rear);
    return oxl_known(fall_s) ? fmax(0, fall_s - age_s) : NAN;
}

static void note_fall(struct oxl_sensors_watch *w, const struct oxl_proc *p, struct oxl_trace t)
{
    const bool was_slow = rear_is_slow(w);
    w->quickest_s =
        fmin(w->quickest_s, passage_s(t, fall_from_v, fall_to_v)); /* a NAN is no fall */
    if (was_slow && !rear_is_slow(w))
        say_proof(p, "rear-proof", &w->rear);
}

static double cut_fall_s(const struct oxl_sensors_watch *w, const struct oxl_proc *p,
                         struct oxl_trace t)
{
    double whole = rear_fall_s(p, t), lower = passage_s(t, balance_v, fall_to_v);
    if (!oxl_known(whole) || fed_mg(w, p) >= swallowed_mg)
        return whole;
    return fmin(whole, 2 * lower);
}

static void judge_front(struct oxl_sensors_watch *w, const struct oxl_proc *p)
{
    if (p->pair.front_kind != OXL_SENSOR_WIDE)
        return;
    struct oxl_trace t = oxl_trace_slice(oxl_proc_front(p), w->cut.start_us - OXL_S_US(2),
                                         w->cut.start_us + OXL_S_US(1));
    double rise = passage_s(t, rise_from, rise_to);
    double each_s = t.count ? 3.0 / (double)t.count : 1.0; /* about three seconds of them */
    each_s = fmax(each_s, front_age_s(p));
    bool slow = rise > slow_front_s + 2 * each_s;
    bool quick = rise < quick_front_s && each_s <= coarse_s;
    if (!slow && !quick)
        return;
    w->front.fall_s = rise;
    w->front.fall_in_cut = true;
    w->front.tempo = slow ? OXL_TEMPO_SLOW : OXL_TEMPO_QUICK;
    say_proof(p, "front-proof", &w->front);
}

/* False: the fall is not over. */
static bool judge_rear(struct oxl_sensors_watch *w, const struct oxl_proc *p, bool last)
{
    if (p->pair.rear_kind != OXL_SENSOR_SWITCHING)
        return last;
    struct oxl_trace t =
        oxl_trace_slice(oxl_proc_rear(p), w->cut.start_us - OXL_S_US(1), p->now_us);
    double fall = cut_fall_s(w, p, t);
    if (!oxl_known(fall)) {
        if (!last)
            return false;
        fall = unfinished_s(t, fed_mg(w, p) >= swallowed_mg ? fall_from_v : balance_v);
        if (!(fall > slow_rear_s)) /* held by a large store, or lean before: nothing to time */
            return true;
    }
    note_fall(w, p, t);
    w->rear.fall_s = fall;
    w->rear.fall_in_cut = true;
    w->rear.tempo = fall > slow_rear_s ? OXL_TEMPO_SLOW : OXL_TEMPO_QUICK;
    say_proof(p, "rear-proof", &w->rear);
    return true;
}

static void watch_cut(struct oxl_sensors_watch *w, const struct oxl_proc *p)
{
    bool last = p->now_us - w->cut.seen_us >= OXL_S_US(after_cut_s);
    /* Only its end shows how low the rear comes. */
    if (!w->cut.start_us || !(w->cut.over || last) || !judge_rear(w, p, last))
        return;
    char text[96];
    snprintf(text, sizeof text, "fuel cut seen: front far lean for %.1f s, throttle %s",
             (double)(w->cut.seen_us - w->cut.start_us) / 1e6,
             w->cut.throttle_shut ? "shut" : "not known");
    judge_front(w, p);
    oxl_proc_mark(p, text);
    w->cut.seen++;
    w->cut.fed_mg = fmax(w->cut.fed_mg, fed_mg(w, p)); /* an unknown flow adds nothing */
    w->cut.all_mg += fmax(0, fed_mg(w, p));
    w->cut.start_us = 0;
}

/* ---- behind a release ------------------------------------------------------------------------ */
/* The fall of a drop goes on after the run has ended. */
static void watch_drop(struct oxl_sensors_watch *w, const struct oxl_proc *p)
{
    if (!w->watched_drop_us || p->pair.rear_kind != OXL_SENSOR_SWITCHING)
        return;
    struct oxl_trace t = oxl_trace_slice(oxl_proc_rear(p), w->drop_from_us, p->now_us);
    double fall = rear_fall_s(p, t);
    bool late = p->now_us - w->watched_drop_us > OXL_S_US(after_drop_s);
    if (!oxl_known(fall) && !late)
        return;
    w->watched_drop_us = 0;
    note_fall(w, p, t);
    if (!oxl_known(fall) || w->rear.fall_in_cut)
        return;
    w->rear.fall_s = fall;
    double shift = oxl_proc_shift_pct(p);
    if (fall > slow_rear_s && oxl_known(shift) && shift < -strong_pct)
        w->rear.tempo = OXL_TEMPO_SLOW;
    say_proof(p, "rear-proof", &w->rear);
}

void oxl_sensors_run(struct oxl_sensors_watch *w, const struct oxl_proc *p,
                     const struct oxl_run_result *r)
{
    w->drop_from_us = r->front_lean.t_us;
    if (!r->dropped)
        return;
    w->watched_drop_us = r->rear_lean.t_us;
    if (p->pair.rear_kind == OXL_SENSOR_SWITCHING) /* most falls are over by then */
        note_fall(w, p, oxl_trace_slice(oxl_proc_rear(p), w->drop_from_us, p->now_us));
}

/* ---- what it asks for and says --------------------------------------------------------------- */
static oxl_reasons slow_reasons(bool rear, bool front)
{
    return (rear ? OXL_REASON_BIT(OXL_R_REAR_SLOW) : 0) |
           (front ? OXL_REASON_BIT(OXL_R_FRONT_SLOW) : 0);
}

oxl_reasons oxl_sensors_reasons(const struct oxl_sensors_watch *w)
{
    return slow_reasons(rear_is_slow(w), w->front.tempo == OXL_TEMPO_SLOW);
}

/* Shown to be quick: what the ECU stored, or a slow gas suggested, does not count. */
oxl_reasons oxl_sensors_refuted(const struct oxl_sensors_watch *w)
{
    return slow_reasons(w->rear.tempo == OXL_TEMPO_QUICK, w->front.tempo == OXL_TEMPO_QUICK);
}

/* Of a run a quick fall takes it back, too; what the rear may be late all the same is its lag. */
oxl_reasons oxl_sensors_refuted_of_runs(const struct oxl_sensors_watch *w)
{
    return oxl_sensors_refuted(w) | slow_reasons(fell_quickly(w), false);
}

double oxl_sensors_rear_lag_s(const struct oxl_sensors_watch *w, double tau_s)
{
    const double per_fall = 1 / 0.81; /* ln(0.54 / 0.24): 0.6 to 0.3 V of a step to 0.06 V */
    return oxl_known(w->quickest_s) ? fmax(0, per_fall * w->quickest_s - tau_s) : INFINITY;
}

bool oxl_sensors_rear_may_be_slow(const struct oxl_sensors_watch *w)
{
    return oxl_known(w->rear.fall_s) && !fell_quickly(w) && !w->rear.fall_in_cut;
}

void oxl_sensors_sample(struct oxl_sensors_watch *w, const struct oxl_proc *p,
                        const struct oxl_sample *s)
{
    note_engine(w, p, s);
    if (oxl_channel_same(s->channel, p->pair.front)) {
        struct oxl_lean_rule r = oxl_proc_front_rule(p);
        note_level(p, &w->front, oxl_proc_front(p), s->value);
        note_seen(p, &w->front, "front-proof", oxl_proc_front_is_rich(p),
                  oxl_is_lean(oxl_proc_front(p), &r, p->now_us, OXL_FRESH_US));
        note_cut(w, p, s->value);
    } else if (oxl_channel_same(s->channel, p->pair.rear)) {
        note_level(p, &w->rear, oxl_proc_rear(p), s->value);
        note_seen(p, &w->rear, "rear-proof", oxl_proc_rear_is_rich(p), oxl_proc_rear_is_lean(p));
        watch_drop(w, p);
        watch_cut(w, p);
    }
}

void oxl_sensors_say_unseen(const struct oxl_sensors_watch *w, const struct oxl_proc *p)
{
    if (!w->rear.rich_us || !w->rear.lean_us)
        say_proof(p, "rear-proof", &w->rear);
    if (!w->front.rich_us || !w->front.lean_us)
        say_proof(p, "front-proof", &w->front);
}

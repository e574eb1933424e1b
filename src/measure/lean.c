#include "parts.h"

/* A sensor seen so that lean is up: volts are turned over, lambda stays. */
struct view {
    double sign;
    double cross; /* the level whose crossing is the event */
    double back;  /* at or below: not lean any more */
    double sure;  /* at or above on two samples running: lean beyond doubt */
    double calm;  /* at or above after settle_s: lean */
    double noise; /* of a single sample near the crossing */
    double level_err;
    bool at_once; /* `sure` decides without waiting for settle_s */
};

/* The resting spread of a sensor that dithers is no noise of a single sample. */
static const double max_noise_v = 0.02, max_noise_lambda = 0.003;
/* Half a step of 5 mV (SAE J1979 PIDs 14-1B), and of 2/65536 in lambda, as sd. */
static const double min_noise_v = 0.0015, min_noise_lambda = 0.00001;

static struct view view_of(const struct oxl_lean_rule *r)
{
    struct view v = {.level_err = r->kind == OXL_SENSOR_WIDE ? r->level_err : 0.0};
    double noise = oxl_known(r->noise) ? r->noise : 0.0;
    if (r->kind == OXL_SENSOR_WIDE) {
        double base = oxl_known(r->level) ? r->level : 1.0;
        v.sign = 1;
        v.noise = fmin(fmax(noise, min_noise_lambda), max_noise_lambda);
        v.cross = base + r->step;
        v.back = v.cross - fmin(fmax(0.2 * r->step, 3 * v.noise), 0.8 * r->step);
        /* A resting spread can be a dither of the loop: stand clear of it. */
        v.sure = base + fmax(3 * r->step, r->step + 3 * fmin(noise, 0.03));
        v.calm = v.cross + 2 * v.noise;
        v.at_once = true;
    } else {
        v.sign = -1;
        v.noise = fmin(fmax(noise, min_noise_v), max_noise_v);
        v.cross = -r->switch_v;
        v.back = -r->rich_v;
        v.sure = v.calm = -r->lean_v;
        /* A switching front passes every level in its dither: only time tells. */
        v.at_once = !(r->settle_s > 0);
    }
    return v;
}

static double up(struct oxl_trace t, const struct view *v, size_t i)
{
    return v->sign * t.points[i].value;
}

/* Was the sensor not lean at or before index i? The newest sample outside the hysteresis tells. */
static bool was_rich(struct oxl_trace t, const struct view *v, size_t i)
{
    for (size_t n = 0; n < 64; n++, i--) {
        if (up(t, v, i) <= v->back)
            return true;
        if (up(t, v, i) >= v->sure || i == 0)
            return false;
    }
    return false;
}

/* Steepest rise at the crossing: between the bracketing samples, or after them when the first
 * one was still at rest and the interpolation would lie too early. */
static double slope_at(struct oxl_trace t, const struct view *v, size_t b)
{
    double best = 0, at = point_mid_s(&t.points[b]), dt = at - point_mid_s(&t.points[b - 1]);
    if (dt > 0)
        best = (up(t, v, b) - up(t, v, b - 1)) / dt;
    size_t next = b + 1; /* not the same refresh again */
    while (next < t.count && t.points[next].sent_us == t.points[b].sent_us)
        next++;
    if (next < t.count && point_mid_s(&t.points[next]) > at)
        best = fmax(best, (up(t, v, next) - up(t, v, b)) / (point_mid_s(&t.points[next]) - at));
    return best;
}

static double cross_time(struct oxl_trace t, const struct view *v, size_t b)
{
    double ta = point_mid_s(&t.points[b - 1]), tb = point_mid_s(&t.points[b]);
    double slope = slope_at(t, v, b);
    if (!(slope > 0))
        return 0.5 * (ta + tb);
    return fmin(tb, fmax(ta, tb - (up(t, v, b) - v->cross) / slope));
}

/* The state of the search at one sample. */
struct search {
    bool armed, candidate, below;
    size_t first, last; /* first and last upward crossing of the candidate */
    bool sure_before;
};

/* Takes sample i; true when the candidate is now certain. Depends on samples up to i only, so
 * the answer cannot change later. */
static bool search_step(struct search *s, struct oxl_trace t, const struct view *v, double settle_s,
                        size_t i)
{
    double u = up(t, v, i);
    bool sure_before = s->sure_before;
    s->sure_before = false;
    if (u <= v->back) {
        s->armed = true;
        s->candidate = false;
        return false;
    }
    if (!s->armed)
        return false;
    if (!s->candidate) {
        if (u < v->cross)
            return false;
        s->candidate = true;
        s->below = false;
        s->first = s->last = i;
    } else if (u < v->cross) {
        s->below = true;
        return false;
    } else if (s->below) {
        s->below = false;
        s->last = i;
    }
    s->sure_before = u >= v->sure;
    if (v->at_once && s->sure_before && sure_before)
        return true;
    double stayed = seconds(t.points[i].recv_us - t.points[s->last].recv_us);
    return u >= v->calm && i >= s->last + 2 && stayed >= settle_s && settle_s > 0;
}

static struct crossing make_crossing(struct oxl_trace t, const struct view *v, size_t first,
                                     size_t after, bool dithers)
{
    struct crossing c = {.found = true, .before = first - 1, .after = after};
    const struct oxl_point *a = &t.points[c.before], *b = &t.points[c.after];
    c.before_s = point_mid_s(a);
    c.after_s = point_mid_s(b);
    c.half_s = fmax(point_half_s(a), point_half_s(b));
    /* Of a dither the last crossing counts; of noise on a slow fall none is better than another. */
    double last = cross_time(t, v, after);
    c.t_s = dithers ? last : 0.5 * (cross_time(t, v, first) + last);
    double slope = fmin(slope_at(t, v, first), slope_at(t, v, after));
    double bracket = c.after_s - c.before_s;
    c.noise_s =
        slope > 0 ? fmin(sqrt(3) * v->noise / slope, bracket) : bracket; /* as an even part */
    if (slope > 0)
        c.noise_s += v->level_err / slope;
    c.moment.found = true;
    c.moment.t_us = micros(c.t_s);
    c.moment.low_us = a->sent_us - micros(c.noise_s);
    c.moment.high_us = b->recv_us + micros(c.noise_s);
    return c;
}

static const int64_t dither_look_us = 6000000;

/* The longest time that a dithering front has lately been lean at rest: from its last rich sample
 * before to the first one after. Slow links and slow loops make it longer than usual. */
static double longest_dither_s(struct oxl_trace t, const struct view *v, size_t first, size_t end)
{
    double longest = 0;
    size_t rich = end;
    for (size_t i = first; i < end; i++) {
        if (up(t, v, i) >= v->cross)
            continue;
        if (rich < end && i > rich + 1)
            longest = fmax(longest, point_mid_s(&t.points[i]) - point_mid_s(&t.points[rich]));
        rich = i;
    }
    return longest;
}

double oxl_slow_dither_s(struct oxl_trace t, int64_t to_us)
{
    const double slow_round_s = 0.35, rounds = 5;
    struct oxl_window_stats w = oxl_trace_window(t, to_us - dither_look_us, to_us);
    double round_s = w.count > 2 ? seconds(w.span_us) / (double)(w.count - 1) : 0;
    return round_s > slow_round_s ? rounds * round_s : 0;
}

/* How long a front must stay lean to be released and not just in its dither. */
static double settle_of(struct oxl_trace t, const struct view *v, const struct oxl_lean_rule *rule,
                        int64_t from_us)
{
    const double most_s = 4.0;
    if (rule->kind == OXL_SENSOR_WIDE || !(rule->settle_s > 0))
        return rule->settle_s;
    size_t first = oxl_trace_after(t, from_us - dither_look_us), end = oxl_trace_after(t, from_us);
    double settle_s = fmax(1.2 * longest_dither_s(t, v, first, end), oxl_slow_dither_s(t, from_us));
    return fmax(rule->settle_s, fmin(most_s, settle_s));
}

struct crossing oxl_find_crossing(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                  int64_t from_us, int64_t to_us)
{
    struct crossing none = {.found = false};
    struct view v = view_of(rule);
    size_t end = oxl_trace_after(t, to_us), i = oxl_trace_after(t, from_us);
    struct search s = {.armed = false};
    if (i == 0)
        i = 1; /* without a sample before it nothing is a crossing */
    if (i >= end)
        return none;
    s.armed = was_rich(t, &v, i - 1);
    /* Already past the level at the start: the crossing lies before from_us. */
    if (up(t, &v, i - 1) >= v.cross)
        s.armed = false;
    double settle_s = settle_of(t, &v, rule, from_us);
    for (; i < end; i++)
        if (search_step(&s, t, &v, settle_s, i)) {
            t.count = i + 1; /* what comes later must not matter */
            return make_crossing(t, &v, s.first, s.last, rule->settle_s > 0);
        }
    return none;
}

struct crossing oxl_crossing_taken(struct oxl_trace taken, const struct oxl_refresh *r,
                                   const struct oxl_lean_rule *rule, const struct crossing *seen)
{
    struct view v = view_of(rule);
    if (!seen->found)
        return *seen;
    struct crossing c = make_crossing(taken, &v, seen->before + 1, seen->after, rule->settle_s > 0);
    c.refresh_s = oxl_refresh_age_s(r);
    c.age_s = r->known ? 0 : fmin(c.refresh_s, 2 * c.half_s);
    return c;
}

/* From a tenth to eight tenths of the rise to the highest value in the 3 s after the crossing. */
static double wide_ramp_s(struct oxl_trace t, const struct oxl_lean_rule *rule,
                          const struct crossing *c)
{
    const double window_s = 3.0;
    double base = oxl_known(rule->level) ? rule->level : 1.0;
    size_t peak = c->after, end = c->after;
    for (; end < t.count && point_mid_s(&t.points[end]) < c->t_s + window_s; end++)
        if (t.points[end].value > t.points[peak].value)
            peak = end;
    double seen_s = point_mid_s(&t.points[end - 1]) - c->t_s;
    double rise = t.points[peak].value - base, mark[2] = {NAN, NAN};
    if (peak + 1 == end && seen_s < 0.5 * window_s)
        return NAN; /* still on its way up */
    for (int k = 0; k < 2; k++) {
        double level = base + (k == 0 ? 0.1 : 0.8) * rise;
        for (size_t i = c->before + 1; i <= peak && !oxl_known(mark[k]); i++) {
            double va = t.points[i - 1].value, vb = t.points[i].value;
            double ta = point_mid_s(&t.points[i - 1]), tb = point_mid_s(&t.points[i]);
            if (vb >= level)
                mark[k] = va < level ? ta + (tb - ta) * (level - va) / (vb - va) : ta;
        }
    }
    return mark[1] - mark[0];
}

double oxl_fall_time_s(struct oxl_trace t, const struct crossing *c, double high, double low)
{
    double from = NAN, to = NAN;
    for (size_t i = c->before + 1; i-- > 0 && !oxl_known(from);) {
        const struct oxl_point *a = &t.points[i];
        if (a->value >= high && i + 1 < t.count) {
            const struct oxl_point *b = &t.points[i + 1];
            double part = a->value > b->value ? (a->value - high) / (a->value - b->value) : 0.5;
            from = point_mid_s(a) + fmin(1, part) * (point_mid_s(b) - point_mid_s(a));
        }
    }
    for (size_t i = c->after; i < t.count && !oxl_known(to); i++) {
        const struct oxl_point *b = &t.points[i];
        if (b->value <= low) {
            const struct oxl_point *a = &t.points[i - 1];
            double part = a->value > b->value ? (a->value - low) / (a->value - b->value) : 0.5;
            to = point_mid_s(a) + fmin(1, fmax(0, part)) * (point_mid_s(b) - point_mid_s(a));
        }
    }
    return to - from;
}

/* Lengths of the halves of a dither. */
struct halves {
    double rich_at, lean_at; /* starts of the present halves */
    double shortest_rich, longest_lean, last_rich;
};

static void end_rich(struct halves *h, double at)
{
    /* The last rich half is judged against those before it. */
    if (oxl_known(h->last_rich))
        h->shortest_rich = fmin(h->shortest_rich, h->last_rich);
    h->last_rich = at - h->rich_at;
    h->rich_at = NAN;
    h->lean_at = at;
}

double oxl_dither_period_s(struct oxl_trace t, const struct oxl_profile *p, double at_s)
{
    const double look_back_s = 6.0;
    double last = NAN, period = 0;
    bool rich = true;
    for (size_t i = oxl_trace_after(t, micros(at_s - look_back_s)); i < t.count; i++) {
        double v = t.points[i].value, now = point_mid_s(&t.points[i]);
        if (now > at_s)
            break;
        if (v >= p->rich_v && !rich) {
            period = oxl_known(last) ? now - last : period;
            last = now;
        }
        rich = v >= p->rich_v || (rich && v > p->lean_v);
    }
    return period;
}

double oxl_dither_doubt_s(struct oxl_trace t, const struct oxl_lean_rule *rule, double lean_s)
{
    const double look_back_s = 8.0;
    struct halves h = {NAN, NAN, INFINITY, 0, NAN};
    bool rich = false, known = false;
    size_t i = oxl_trace_after(t, micros(lean_s - look_back_s));
    double step = 0;
    for (i = i > 0 ? i : 1; i < t.count && point_mid_s(&t.points[i - 1]) < lean_s; i++) {
        double v = t.points[i].value;
        double at = 0.5 * (point_mid_s(&t.points[i]) + point_mid_s(&t.points[i - 1]));
        step = fmax(step, point_mid_s(&t.points[i]) - point_mid_s(&t.points[i - 1]));
        if (v <= rule->lean_v && (rich || !known)) {
            if (oxl_known(h.rich_at))
                end_rich(&h, at);
            known = true;
            rich = false;
        } else if (v >= rule->rich_v && (!rich || !known)) {
            if (oxl_known(h.lean_at))
                h.longest_lean = fmax(h.longest_lean, at - h.lean_at);
            h.rich_at = known ? at : NAN;
            known = rich = true;
        }
    }
    bool cut_short = h.last_rich < 0.7 * h.shortest_rich && isfinite(h.shortest_rich) &&
                     h.shortest_rich - h.last_rich > 1.5 * step;
    return cut_short ? 0 : h.longest_lean;
}

double oxl_crossing_ramp_s(struct oxl_trace t, const struct oxl_lean_rule *rule,
                           const struct crossing *c)
{
    if (!c->found)
        return NAN;
    return rule->kind == OXL_SENSOR_WIDE ? wide_ramp_s(t, rule, c)
                                         : oxl_fall_time_s(t, c, rule->rich_v, rule->lean_v);
}

struct oxl_moment oxl_find_lean(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                int64_t from_us, int64_t to_us, double *ramp_s)
{
    struct crossing c = oxl_find_crossing(t, rule, from_us, to_us);
    t.count = oxl_trace_after(t, to_us);
    if (ramp_s)
        *ramp_s = oxl_crossing_ramp_s(t, rule, &c);
    return c.moment;
}

struct oxl_moment oxl_find_fall_start(struct oxl_trace t, const struct oxl_lean_rule *rule,
                                      int64_t from_us, const struct oxl_moment *lean)
{
    struct oxl_moment m = {false, 0, 0, 0};
    struct view v = view_of(rule);
    size_t first = oxl_trace_after(t, from_us), end = oxl_trace_after(t, lean->high_us);
    if (!lean->found || end < first + 2)
        return m;
    double rich = INFINITY;
    for (size_t i = first; i < end; i++)
        rich = fmin(rich, up(t, &v, i));
    /* The rich end of a noisy level is some sd beyond it, hence the margin. */
    double margin =
        rule->kind == OXL_SENSOR_WIDE ? 0.5 * rule->step + 4 * v.noise : 0.03 + 4 * v.noise;
    size_t i = end - 1;
    while (i > first && up(t, &v, i) > rich + margin)
        i--;
    if (i + 1 >= end)
        return m;
    const struct oxl_point *a = &t.points[i], *b = &t.points[i + 1];
    m.found = true;
    m.low_us = a->sent_us;
    m.high_us = b->recv_us;
    m.t_us = micros(0.5 * (point_mid_s(a) + point_mid_s(b)));
    if (m.t_us > lean->t_us)
        m.t_us = lean->t_us;
    return m;
}

static const struct oxl_point *newest(struct oxl_trace t, int64_t now_us, int64_t max_age_us)
{
    size_t n = oxl_trace_after(t, now_us);
    if (n == 0 || now_us - t.points[n - 1].recv_us > max_age_us)
        return NULL;
    return &t.points[n - 1];
}

bool oxl_is_rich(struct oxl_trace t, const struct oxl_lean_rule *rule, int64_t now_us,
                 int64_t max_age_us)
{
    const struct oxl_point *p = newest(t, now_us, max_age_us);
    if (!p)
        return false;
    if (rule->kind != OXL_SENSOR_WIDE)
        return p->value >= rule->rich_v;
    double base = oxl_known(rule->level) ? rule->level : 1.0;
    return p->value <= base - rule->step;
}

bool oxl_is_lean(struct oxl_trace t, const struct oxl_lean_rule *rule, int64_t now_us,
                 int64_t max_age_us)
{
    const struct oxl_point *p = newest(t, now_us, max_age_us);
    struct view v = view_of(rule);
    if (!p)
        return false;
    return v.sign * p->value >= (rule->kind == OXL_SENSOR_WIDE ? v.calm : v.sure);
}

/* How often the ECU refreshes a value. A refresh cannot be seen, but where the value moves or
 * carries noise it changes at a refresh and at no other moment. So a period is a grid of moments on
 * which the changes lie and between which there are none. How well a grid fits is a likelihood; its
 * phase may be anywhere at first and may slip later, so every phase is followed at once. */
#include <string.h>

#include "parts.h"

/* Longer is no refresh, nor does a program that writes tables hold a value for longer (a round of
 * all its channels, from public logs of phones). */
static const double longest_s = 6.0;

/* Fewer changes show how calm the signal is, and nothing of the ECU. */
enum { ENOUGH = 8 };

struct oxl_refresh oxl_refresh_unknown(void)
{
    return (struct oxl_refresh){false, NAN, INFINITY, 0, NAN};
}

/* Of a period that is anywhere up to at_most_s half is taken: too much where the ECU is quick, too
 * little for a period just as long as the step between samples (oxl_delay_span allows for it). */
static const double possible_share = 0.5;

double oxl_refresh_age_s(const struct oxl_refresh *r)
{
    if (r->known)
        return r->period_s;
    if (r->changes < ENOUGH)
        return 0;
    return r->likely_s > 0 ? r->likely_s : possible_share * r->at_most_s;
}

static bool changed(struct oxl_trace t, size_t i)
{
    return t.points[i].value != t.points[i - 1].value;
}

/* ---- what is excluded ------------------------------------------------------------------------ */
/* Of n+1 changes running the first and the last are at least n periods apart. */
static double at_most_s(struct oxl_trace t)
{
    enum { RUNNING = 16 };
    int64_t began_us[RUNNING];
    size_t n = 0;
    double least = INFINITY;
    for (size_t i = 1; i < t.count; i++) {
        if (!changed(t, i))
            continue;
        for (size_t k = 1; k <= n && k < RUNNING; k++)
            least =
                fmin(least, seconds(t.points[i].recv_us - began_us[(n - k) % RUNNING]) / (double)k);
        began_us[n++ % RUNNING] = t.points[i - 1].sent_us;
    }
    return least;
}

/* A slow ramp that climbs from one step of its resolution to the next changes evenly, too, and
 * says nothing of refreshes. */
static bool is_staircase(struct oxl_trace t, size_t changes)
{
    double step = INFINITY, before = 0;
    size_t stairs = 0;
    for (size_t i = 1; i < t.count; i++)
        if (changed(t, i))
            step = fmin(step, fabs(t.points[i].value - t.points[i - 1].value));
    for (size_t i = 1; i < t.count; i++) {
        double by = t.points[i].value - t.points[i - 1].value;
        if (by == 0)
            continue;
        stairs += by * before > 0 && fabs(by) < 1.5 * step;
        before = by;
    }
    return 2 * stairs > changes;
}

/* ---- how well a grid fits -------------------------------------------------------------------- */
enum { PHASES = 24, MOST_TRIED = 320 };

/* When the ECU may have read a value: between request and reply, and the phase is unknown to within
 * `wide_s`. */
struct reading {
    double from_s, to_s;
};

static struct reading reading(const struct oxl_point *p, double wide_s)
{
    return (struct reading){seconds(p->sent_us) - 0.5 * wide_s, seconds(p->recv_us) + 0.5 * wide_s};
}

/* Probability that it had not yet been read at this moment. In most of the hundred thousand cases
 * of a search that is sure, and a division costs more than all the rest. */
static double still_before(struct reading of, double at_s)
{
    if (at_s <= of.from_s)
        return 0;
    return at_s >= of.to_s ? 1 : (at_s - of.from_s) / (of.to_s - of.from_s);
}

/* Probability of a refresh between two samples; the first that may be one is at r. */
static double refreshed(const struct reading two[2], double to_s, double period_s, double r)
{
    double none = 1;
    for (; r < to_s && none > 0; r += period_s)
        none *= 1 - still_before(two[0], r) * (1 - still_before(two[1], r));
    return 1 - none;
}

/* A phase drifts to its neighbours, and once in a while it slips to anywhere. */
static void drift(double weight[PHASES])
{
    const double drifts = 0.02, slips = 0.002;
    double old[PHASES];
    memcpy(old, weight, sizeof old);
    for (size_t m = 0; m < PHASES; m++) {
        double beside = 0.5 * (old[(m + 1) % PHASES] + old[(m + PHASES - 1) % PHASES]);
        weight[m] = (1 - slips) * (old[m] + drifts * (beside - old[m])) + slips / PHASES;
    }
}

/* ln of the probability of what was seen. alike: of a refresh that does not change the value. Given
 * up where it falls below `least`. */
static double grid_fit(struct oxl_trace t, double period_s, double alike, double least)
{
    const double odd = 0.003; /* a sample that fits nowhere */
    double weight[PHASES], fit = 0;
    for (size_t m = 0; m < PHASES; m++)
        weight[m] = 1.0 / PHASES;
    double wide_s = period_s / PHASES;
    for (size_t i = 1; i < t.count && fit > least; i++) {
        const struct oxl_point *before = &t.points[i - 1];
        struct reading two[2] = {reading(before, wide_s), reading(before + 1, wide_s)};
        double from_s = seconds(before->sent_us) - wide_s, into_s = fmod(from_s, period_s);
        double to_s = seconds(before[1].recv_us) + wide_s, sum = 0;
        for (size_t m = 0; m < PHASES; m++) {
            double ahead_s = (double)m * wide_s - into_s;
            ahead_s += ahead_s < 0 ? period_s : 0;
            double p = (1 - alike) * refreshed(two, to_s, period_s, from_s + ahead_s);
            p = odd + (1 - 2 * odd) * p;
            weight[m] *= changed(t, i) ? p : 1 - p;
            sum += weight[m];
        }
        fit += log(sum);
        for (size_t m = 0; m < PHASES; m++)
            weight[m] /= sum;
        drift(weight);
    }
    return fit;
}

/* The same without a grid: refreshed from sample to sample, alike by chance. */
static double no_grid_fit(double changes, double pairs)
{
    double same = pairs - changes;
    return (changes > 0 ? changes * log(changes / pairs) : 0) +
           (same > 0 ? same * log(same / pairs) : 0);
}

/* Every period that was tried. */
struct search {
    double none; /* the fit without a grid */
    size_t n, best;
    struct {
        double period_s, fit;
    } tried[MOST_TRIED];
};

static double best_fit(const struct search *s)
{
    return s->n ? s->tried[s->best].fit : s->none;
}

static void try_periods(struct oxl_trace t, double changes, double from_s, double to_s,
                        double factor, struct search *s)
{
    const double give_up = 20; /* no later sample makes up for it */
    double span_s = point_mid_s(&t.points[t.count - 1]) - point_mid_s(&t.points[0]);
    double step_s = span_s / (double)(t.count - 1);
    /* From the longest on: where it is the right one, all the others are soon given up. */
    for (double p = to_s; p >= from_s && s->n < MOST_TRIED; p /= factor) {
        double alike = fmin(0.95, fmax(0.02, 1 - changes * fmax(p, step_s) / span_s));
        double fit = grid_fit(t, p, alike, fmax(s->none, best_fit(s)) - give_up);
        if (s->n == 0 || fit > best_fit(s))
            s->best = s->n;
        s->tried[s->n].period_s = p;
        s->tried[s->n++].fit = fit;
    }
}

/* A period well above the step shows in every value that is repeated. One that is about the step,
 * or shorter, shows only where a step is shorter than the others; then it must do clearly better
 * than any other period, or it is an alias of it. */
static bool stands_out(const struct search *s, double step_s)
{
    const double certain = 12; /* e^12 against the choice among some hundred periods */
    const double well_above = 1.2, apart = 1.05, clearly = 10;
    double period_s = s->tried[s->best].period_s, fit = best_fit(s);
    if (fit - s->none < certain || period_s > well_above * step_s)
        return fit - s->none >= certain;
    for (size_t i = 0; i < s->n; i++) {
        double ratio = s->tried[i].period_s / period_s;
        if (fmax(ratio, 1 / ratio) > apart && s->tried[i].fit > fit - clearly)
            return false;
    }
    return true;
}

/* The mean of all periods up to `most_s`, each as likely as it fits. Without evidence every one
 * fits as well, which is half of most_s. A grid is never quite that of the ECU, so fits count for a
 * fifth of what they say. */
static double likely_s(const struct search *s, double most_s)
{
    const double counts = 0.2;
    double sum = 0, moment = 0, above_s = most_s;
    for (size_t i = 0; i < s->n; i++) {
        double period_s = s->tried[i].period_s;
        if (period_s > most_s)
            continue;
        double from_s = i + 1 < s->n ? period_s : 0; /* below the shortest nothing shows */
        double weight = (above_s - from_s) * exp(counts * (s->tried[i].fit - best_fit(s)));
        sum += weight;
        moment += weight * 0.5 * (above_s + from_s);
        above_s = period_s;
    }
    return moment / sum;
}

/* Of a link this slow a period below the step is worth looking for: that takes time. */
static const double slow_step_s = 0.2;

struct oxl_refresh oxl_find_refresh(struct oxl_trace t)
{
    struct oxl_refresh r = oxl_refresh_unknown();
    if (t.count > OXL_REFRESH_POINTS) {
        t.points += t.count - OXL_REFRESH_POINTS;
        t.count = OXL_REFRESH_POINTS;
    }
    for (size_t i = 1; i < t.count; i++)
        r.changes += changed(t, i);
    r.at_most_s = at_most_s(t);
    if (r.changes < ENOUGH || is_staircase(t, r.changes))
        return r;
    double pairs = (double)(t.count - 1);
    double step_s = (point_mid_s(&t.points[t.count - 1]) - point_mid_s(&t.points[0])) / pairs;
    double from_s = step_s > slow_step_s ? step_s / 3 : step_s;
    struct search s = {.none = no_grid_fit(r.changes, pairs)};
    try_periods(t, r.changes, from_s, fmin(longest_s, 2 * r.at_most_s), 1.03, &s);
    if (s.n == 0 || !stands_out(&s, step_s)) {
        r.likely_s = likely_s(&s, r.at_most_s);
        return r;
    }
    double coarse_s = s.tried[s.best].period_s;
    try_periods(t, r.changes, coarse_s / 1.03, coarse_s * 1.03, 1.005, &s);
    r.known = true;
    r.period_s = s.tried[s.best].period_s;
    r.at_most_s = fmax(r.at_most_s, r.period_s);
    return r;
}

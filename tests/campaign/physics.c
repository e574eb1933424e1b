#include "physics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sim/plant.h"

enum { STEPS = 1800 * 500, ASKS = 200000, DATA = 2048, HALF = 2000 };

bool watch_new(struct watch *w)
{
    *w = (struct watch){0};
    for (int i = 0; i < 2; i++) {
        w->signal[i] = malloc(STEPS * sizeof *w->signal[i]);
        w->asked_s[i] = malloc(ASKS * sizeof *w->asked_s[i]);
        w->reply_s[i] = malloc(ASKS * sizeof *w->reply_s[i]);
        if (!w->signal[i] || !w->asked_s[i] || !w->reply_s[i])
            return false;
    }
    return true;
}

void watch_clear(struct watch *w)
{
    w->steps = w->asks[0] = w->asks[1] = 0;
}

void watch_free(struct watch *w)
{
    for (int i = 0; i < 2; i++) {
        free(w->signal[i]);
        free(w->asked_s[i]);
        free(w->reply_s[i]);
    }
}

void watch_signals(struct watch *w, double front, double rear)
{
    if (w->steps == STEPS)
        return;
    w->signal[0][w->steps] = (float)front;
    w->signal[1][w->steps++] = (float)rear;
}

void watch_asked(struct watch *w, int side, double sent_s, double recv_s)
{
    if (w->asks[side] == ASKS)
        return;
    w->asked_s[side][w->asks[side]] = 0.5 * (sent_s + recv_s);
    w->reply_s[side][w->asks[side]++] = recv_s - sent_s;
}

static double physics_period_s(const struct oxl_ecu_settings *u, int group)
{
    int g = u->refresh_snapshot ? OXL_REFRESH_FRONT : group;
    return 1e-3 * (u->refresh_ms[g] > 0 ? u->refresh_ms[g] : u->calc_ms);
}

double physics_latch_s(const struct oxl_ecu_settings *u, int group, double t_s)
{
    int g = u->refresh_snapshot ? OXL_REFRESH_FRONT : group;
    double period_s = physics_period_s(u, group);
    double first_s = 1e-3 * u->refresh_phase_ms[g];
    double at_s = first_s + floor((t_s - first_s) / period_s) * period_s;
    return ceil(at_s / OXL_STEP_S - 1e-6) * OXL_STEP_S;
}

/* A corner of the trapezoid that such a difference is spread over, or its flat top. */
double physics_two_even_s(double a_s, double b_s)
{
    const double tail = 0.025;
    double least = fmin(a_s, b_s), most = fmax(a_s, b_s);
    if (least >= 2 * tail * most)
        return least + most - 2 * sqrt(2 * tail * least * most);
    return (1 - 2 * tail) * most;
}

/* What the tester has of one sensor around its event: the values of the latches that it saw. */
struct view {
    const float *signal;
    size_t steps;
    double event_s, sd;
    size_t n;
    double at_s[DATA], value[DATA];
    int half;               /* the shift is looked for in -half..half steps */
    double p[2 * HALF + 1]; /* how likely each is */
};

static double signal_at(const struct view *v, double t_s)
{
    double at = t_s / OXL_STEP_S;
    if (at < 0)
        return v->signal[0];
    size_t i = (size_t)at;
    if (i + 1 >= v->steps)
        return v->signal[v->steps - 1];
    double part = at - (double)i;
    return v->signal[i] * (1 - part) + v->signal[i + 1] * part;
}

static void take_data(struct view *v, const struct watch *w, int side,
                      const struct oxl_ecu_settings *u, struct oxl_random *r)
{
    double before_s = -1, reach_s = v->half * OXL_STEP_S;
    v->n = 0;
    for (size_t i = 0; i < w->asks[side] && v->n < DATA; i++) {
        double at_s = physics_latch_s(u, side, w->asked_s[side][i]);
        if (at_s <= before_s || fabs(at_s - v->event_s) > reach_s)
            continue;
        before_s = v->at_s[v->n] = at_s;
        v->value[v->n++] = signal_at(v, at_s) + v->sd * oxl_random_normal(r);
    }
}

static void weigh(struct view *v)
{
    double best = -INFINITY;
    for (int k = -v->half; k <= v->half; k++) {
        double sum = 0;
        for (size_t i = 0; i < v->n; i++) {
            double off = (v->value[i] - signal_at(v, v->at_s[i] - k * OXL_STEP_S)) / v->sd;
            sum -= 0.5 * off * off;
        }
        v->p[k + v->half] = sum;
        best = fmax(best, sum);
    }
    for (int k = 0; k <= 2 * v->half; k++)
        v->p[k] = exp(v->p[k] - best);
}

/* The shift of the rear's event less that of the front's; both are 0 in truth. */
static double quantile(const double *p, int n, double total, double share)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        if (sum + p[i] >= share * total)
            return i - 0.5 + (share * total - sum) / p[i];
        sum += p[i];
    }
    return n;
}

static void width_of(const struct view *front, const struct view *rear, struct physics *out)
{
    static double both[4 * HALF + 1];
    int n = 2 * (front->half + rear->half) + 1;
    double total = 0;
    memset(both, 0, sizeof both);
    for (int f = 0; f <= 2 * front->half; f++)
        for (int r = 0; front->p[f] > 1e-9 && r <= 2 * rear->half; r++)
            both[r - f + 2 * front->half] += front->p[f] * rear->p[r];
    for (int i = 0; i < n; i++)
        total += both[i];
    double low = quantile(both, n, total, 0.025), high = quantile(both, n, total, 0.975);
    out->shape_s = (high - low) * OXL_STEP_S;
    out->shape_holds = low <= front->half + rear->half && high >= front->half + rear->half;
}

/* Between the last latch that was seen before the event and the first one after it. */
static double bracket_s(const struct view *v)
{
    double before_s = NAN, after_s = NAN;
    for (size_t i = 0; i < v->n; i++)
        if (v->at_s[i] < v->event_s)
            before_s = v->at_s[i];
        else if (isnan(after_s))
            after_s = v->at_s[i];
    return after_s - before_s;
}

/* ---- who knows when it asked, and no latch that is quicker than that ---- */
enum { PARTS = 3, DRAWS = 4000 };

/* The even parts of what is not known of the event: the step from the last answer of before it to
 * the first one after it; where in a reply the value was read; how old it was then. Where the ECU
 * refreshes clearly less often than it is asked, its clock shows: the step between latches is all.
 * While nearly every answer is a new value, it does not. */
static const double clock_shows = 1.5; /* steps between answers in a period */

static void asked_parts(const struct view *v, const struct watch *w, int side,
                        const struct oxl_ecu_settings *u, double part[PARTS])
{
    double period_s = physics_period_s(u, side), latches_s = bracket_s(v);
    part[0] = latches_s;
    part[1] = part[2] = 0;
    for (size_t i = 1; i < w->asks[side]; i++) {
        double step_s = w->asked_s[side][i] - w->asked_s[side][i - 1];
        if (physics_latch_s(u, side, w->asked_s[side][i]) < v->event_s)
            continue;
        if (period_s < clock_shows * step_s) {
            part[0] = step_s;
            part[1] = fmax(w->reply_s[side][i], w->reply_s[side][i - 1]);
            part[2] = period_s;
        }
        return;
    }
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* What the sensor's noise makes of its moment, as sd: by the slope of its signal at the event, over
 * the step that lies between two answers at least. */
static double noise_s(const struct view *v, double step_s)
{
    double half_s = 0.5 * fmax(step_s, 0.02);
    double rise = fabs(signal_at(v, v->event_s + half_s) - signal_at(v, v->event_s - half_s));
    return fmin(step_s, v->sd * 2 * half_s / fmax(rise, 1e-9));
}

/* 95 of 100 differences of two such sums. */
static double asked_width_s(const double front[PARTS], const double rear[PARTS], double sd_s,
                            struct oxl_random *r)
{
    static double off[DRAWS];
    for (int i = 0; i < DRAWS; i++) {
        off[i] = sd_s * oxl_random_normal(r);
        for (int k = 0; k < PARTS; k++)
            off[i] +=
                (front[k] * (oxl_random_unit(r) - 0.5)) + rear[k] * (oxl_random_unit(r) - 0.5);
        off[i] = fabs(off[i]);
    }
    qsort(off, DRAWS, sizeof off[0], by_size);
    return 2 * off[DRAWS * 95 / 100];
}

static double noise_of(const struct oxl_plant_settings *p, bool wide)
{
    double step = wide ? 2.0 / 65536 : 0.005; /* of the PIDs; even over it */
    double sd = wide ? p->front_noise : p->rear_noise_v;
    return sqrt(sd * sd + step * step / 12);
}

static void look(struct view *v, const struct watch *w, const struct oxl_scenario *s, int side,
                 double event_s, struct oxl_random *r)
{
    const char *kind = side ? s->ecu.rear : s->ecu.front;
    double period_s = 1e-3 * fmax(s->ecu.calc_ms, fmax(s->ecu.refresh_ms[0], s->ecu.refresh_ms[1]));
    v->signal = w->signal[side];
    v->steps = w->steps;
    v->event_s = event_s;
    v->sd = noise_of(&s->plant, strncmp(kind, "wide", 4) == 0);
    v->half = (int)fmin(HALF, (1 + 1.5 * period_s) / OXL_STEP_S);
    take_data(v, w, side, &s->ecu, r);
    weigh(v);
}

struct physics physics_of(const struct watch *w, const struct oxl_scenario *s,
                          const struct oxl_truth *truth, uint64_t seed)
{
    static struct view front, rear;
    struct physics out = {NAN, false, NAN, NAN};
    double asked[2][PARTS];
    struct oxl_random r;
    if (!oxl_known(truth->delay_s))
        return out;
    oxl_random_seed(&r, seed ^ 0x9b51c5u);
    look(&front, w, s, 0, truth->front_lean_t_s, &r);
    look(&rear, w, s, 1, truth->rear_lean_t_s, &r);
    width_of(&front, &rear, &out);
    out.bracket_s = physics_two_even_s(bracket_s(&front), bracket_s(&rear));
    asked_parts(&front, w, 0, &s->ecu, asked[0]);
    asked_parts(&rear, w, 1, &s->ecu, asked[1]);
    double sd_s = hypot(noise_s(&front, asked[0][0]), noise_s(&rear, asked[1][0]));
    out.asked_s = asked_width_s(asked[0], asked[1], sd_s, &r);
    return out;
}

/* How far apart the values of a table really are, and whether they are values at all or points on
 * lines that another program drew between them. */
#include <math.h>
#include <stdlib.h>

#include "oxylag/refresh.h"
#include "parts.h"

/* One channel's known values. */
struct column_values {
    size_t n;
    double *t_s, *v;
    double *scratch;
    struct oxl_point *points;
};

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double quantile(double *v, size_t n, double q)
{
    if (n == 0)
        return NAN;
    qsort(v, n, sizeof v[0], by_size);
    return v[(size_t)(q * (double)(n - 1))];
}

static void take_column(const struct oxl_import_table *t, unsigned channel, struct column_values *c)
{
    c->n = 0;
    for (size_t i = 0; i < t->rows; i++) {
        double v = t->values[i * t->about.channels_n + channel];
        if (!oxl_known(v))
            continue;
        c->t_s[c->n] = (double)t->t_us[i] * 1e-6;
        c->v[c->n++] = v;
    }
}

/* The usual step from value to value. */
static double usual_step_s(struct column_values *c)
{
    size_t n = 0;
    for (size_t i = 1; i < c->n; i++)
        if (c->t_s[i] > c->t_s[i - 1])
            c->scratch[n++] = c->t_s[i] - c->t_s[i - 1];
    return quantile(c->scratch, n, 0.5);
}

/* Many writers repeat the last value in every row until the next one comes, as an ECU does until
 * its next refresh. NAN: it changes too seldom to tell. */
static double held_step_s(struct column_values *c)
{
    for (size_t i = 0; i < c->n; i++) {
        int64_t t_us = (int64_t)llround(c->t_s[i] * 1e6);
        c->points[i] = (struct oxl_point){t_us, t_us, c->v[i]};
    }
    struct oxl_trace t = {c->points, c->n};
    return oxl_find_refresh(t).period_s;
}

/* ---- resampled? ------------------------------------------------------------------------------ */
static bool even_grid(struct column_values *c, double step_s)
{
    size_t even = 0;
    for (size_t i = 1; i < c->n; i++)
        even += fabs(c->t_s[i] - c->t_s[i - 1] - step_s) <= fmax(2e-6, 0.002 * step_s);
    return (double)even >= 0.98 * (double)(c->n - 1);
}

/* Share of moving triples that lie on a straight line: what drawing lines between samples leaves.
 * A sensor's answer is curved. */
static double straight_share(const struct column_values *c, double least)
{
    enum { ENOUGH = 10 };
    size_t moving = 0, straight = 0;
    for (size_t i = 2; i < c->n; i++) {
        double a = c->v[i - 1] - c->v[i - 2], b = c->v[i] - c->v[i - 1];
        if (fabs(a) + fabs(b) < least)
            continue;
        moving++;
        straight += fabs(a - b) < 0.02 * (fabs(a) + fabs(b));
    }
    return moving < ENOUGH ? 0 : (double)straight / (double)moving;
}

/* PIDs 14-1B come in steps of 5 mV (SAE J1979). Values between the steps, without the turning
 * points that noise gives in two of three samples, were computed and not read. */
static bool between_steps(const struct column_values *c)
{
    size_t off = 0, turns = 0, changes = 0;
    for (size_t i = 0; i < c->n; i++) {
        double steps = c->v[i] / 0.005;
        off += fabs(steps - round(steps)) > 0.02;
        if (i < 2 || c->v[i] == c->v[i - 1])
            continue;
        changes++;
        turns += (c->v[i] - c->v[i - 1]) * (c->v[i - 1] - c->v[i - 2]) < 0;
    }
    return changes >= 20 && off * 3 > c->n && turns * 5 < changes;
}

static bool is_resampled(struct column_values *c, struct oxl_channel ch, double step_s)
{
    if (c->n < 20 || !even_grid(c, step_s))
        return false;
    if (ch.quantity == OXL_Q_LAMBDA)
        return straight_share(c, 0.004) > 0.4;
    return between_steps(c) || straight_share(c, 0.04) > 0.4;
}

/* ---- the whole ------------------------------------------------------------------------------- */
static bool is_sensor(struct oxl_channel c)
{
    return c.quantity == OXL_Q_O2_V || c.quantity == OXL_Q_LAMBDA;
}

static int64_t micros(double s)
{
    return oxl_known(s) ? (int64_t)llround(s * 1e6) : 0;
}

static void fill(struct oxl_import_table *t, struct column_values *c)
{
    struct oxl_imported *a = &t->about;
    double held_front_s = NAN, row_s;
    c->n = t->rows;
    for (size_t i = 0; i < t->rows; i++)
        c->t_s[i] = (double)t->t_us[i] * 1e-6;
    row_s = usual_step_s(c);
    a->row_us = micros(row_s);
    for (unsigned i = 0; i < a->channels_n; i++) {
        take_column(t, i, c);
        double step_s = usual_step_s(c), held_s = NAN;
        if (is_sensor(a->channels[i])) {
            a->resampled = a->resampled || is_resampled(c, a->channels[i], step_s);
            /* A writer that holds values holds them all; a calm rear would not show it. */
            if (a->channels[i].sensor == 1)
                held_front_s = held_step_s(c);
            held_s = held_front_s;
        } else if (a->channels[i].quantity == OXL_Q_STFT_PCT) {
            held_s = held_step_s(c);
        }
        a->step_us[i] = micros(held_s > 1.5 * step_s ? held_s : step_s);
    }
    /* How far apart the samples were before they were interpolated is not to be known. */
    for (unsigned i = 0; i < a->channels_n && a->resampled; i++)
        a->step_us[i] *= 5;
}

bool oxl_find_steps(struct oxl_import_table *t)
{
    struct column_values c = {.n = 0};
    c.t_s = malloc(3 * t->rows * sizeof *c.t_s);
    if (!c.t_s)
        return false;
    c.v = c.t_s + t->rows;
    c.scratch = c.v + t->rows;
    c.points = malloc(t->rows * sizeof *c.points);
    if (c.points)
        fill(t, &c);
    free(c.points);
    free(c.t_s);
    return c.points != NULL;
}

#include "plot.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double LEFT = 22, RIGHT = 3, TOP = 26, BOTTOM = 10, GAP = 3;
static const double SMALL = 6, LETTER = 7;

double oxl_plot_x(const struct oxl_plot_axis *a, double t_s)
{
    return a->x + a->w * (t_s - a->from_s) / (a->to_s - a->from_s);
}

double oxl_nice_step(double span, unsigned most)
{
    const double least = span / most, power = pow(10, floor(log10(least)));
    if (!(span > 0) || !isfinite(span) || most == 0)
        return 1;
    for (size_t i = 0; i < 3; i++) {
        static const double parts[] = {1, 2, 5};
        if (parts[i] * power >= least * (1 - 1e-9))
            return parts[i] * power;
    }
    return 10 * power;
}

static double seconds(int64_t us)
{
    return (double)us / 1e6;
}

/* First and last time of any lane. */
static bool extent(const struct oxl_track *k, double *first, double *last)
{
    *first = INFINITY;
    *last = -INFINITY;
    for (size_t i = 0; k && i < OXL_LANE_COUNT; i++)
        if (k->lanes[i].n) {
            *first = fmin(*first, k->lanes[i].t_s[0]);
            *last = fmax(*last, k->lanes[i].t_s[k->lanes[i].n - 1]);
        }
    return *last > *first;
}

/* The timing fills about half of the width: what led to it is to the left, what followed to the
 * right. */
static bool choose_axis(const struct oxl_run_result *r, const struct oxl_track *k, double w,
                        struct oxl_plot_axis *a)
{
    double first, last;
    if (!extent(k, &first, &last))
        return false;
    const double cut = k->cut_us ? seconds(k->cut_us) : NAN;
    const double lean = r->front_lean.found ? seconds(r->front_lean.t_us) : NAN;
    const double end = r->rear_lean.found ? seconds(r->rear_lean.t_us) : last;
    a->zero_s = oxl_known(lean) ? lean : oxl_known(cut) ? cut : first;
    const double timing = fmax(2, end - a->zero_s), before = fmin(14, fmax(6, timing));
    a->from_s = fmax(first, fmin(a->zero_s, oxl_known(cut) ? cut : a->zero_s) - before);
    a->to_s = r->rear_lean.found ? end + fmax(1, timing / 4) : fmin(last, end);
    if (a->to_s - a->from_s < 1)
        a->to_s = a->from_s + 1;
    a->x = LEFT;
    a->w = w - LEFT - RIGHT;
    return true;
}

/* ---- lanes ---------------------------------------------------------------------------------- */

static struct oxl_lane_view sensor_lane(const struct oxl_track *k, enum oxl_lane lane,
                                        enum oxl_sensor_kind kind, const struct oxl_profile *p,
                                        const struct oxl_plot_axis *a)
{
    const bool front = lane == OXL_LANE_FRONT, wide = kind == OXL_SENSOR_WIDE;
    struct oxl_lane_view v = {.t_s = k->lanes[lane].t_s,
                              .value = k->lanes[lane].value,
                              .n = k->lanes[lane].n,
                              .ink = front ? OXL_INK_FRONT : OXL_INK_REAR,
                              .label = wide    ? (front ? "front, lambda" : "rear, lambda")
                                       : front ? "front, V"
                                               : "rear, V",
                              .low = wide ? 0.9 : 0,
                              .high = wide ? 1.1 : 1,
                              .label_on_top = wide,
                              .ticks = wide ? OXL_TICK_LAMBDA : OXL_TICK_VOLTS,
                              .level = {wide ? p->lambda_balance : p->switch_v, NAN},
                              .band_low = NAN,
                              .band_high = NAN};
    oxl_lane_range(&v, a->from_s, a->to_s, wide ? 0.1 : 0.25);
    v.tick[0] = wide ? 1 : 0;
    v.tick[1] = wide ? v.high : p->switch_v;
    v.tick[2] = wide ? NAN : v.high;
    return v;
}

static struct oxl_lane_view trim_lane(const struct oxl_track *k, const struct oxl_profile *p,
                                      const struct oxl_plot_axis *a)
{
    const double base = k->baseline_trim_pct, at = oxl_known(base) ? base : 0;
    struct oxl_lane_view v = {.t_s = k->lanes[OXL_LANE_TRIM].t_s,
                              .value = k->lanes[OXL_LANE_TRIM].value,
                              .n = k->lanes[OXL_LANE_TRIM].n,
                              .ink = OXL_INK_TRIM,
                              .label = a->w > 120 ? "total trim, %" : "trim, %",
                              .label_on_top = true,
                              .ticks = OXL_TICK_PER_CENT,
                              .low = at + p->accept_low_pct,
                              .high = at + 1,
                              .level = {base, NAN},
                              .band_low = oxl_known(base) ? base + p->accept_low_pct : NAN,
                              .band_high = oxl_known(base) ? base + p->accept_high_pct : NAN};
    oxl_lane_range(&v, a->from_s, a->to_s, 10);
    v.tick[0] = v.low;
    v.tick[1] = v.low < 0 && v.high > 0 ? 0 : NAN;
    v.tick[2] = v.high >= 15 ? v.high : NAN; /* else too near to 0 to be read */
    return v;
}

/* ---- moments -------------------------------------------------------------------------------- */

static void time_axis(struct oxl_drawing *d, const struct oxl_plot_axis *a, double y)
{
    const double step = oxl_nice_step(a->to_s - a->from_s, (unsigned)fmax(2, a->w / 26));
    const double first = ceil((a->from_s - a->zero_s) / step);
    for (double i = first; a->zero_s + i * step <= a->to_s; i++) {
        const double x = oxl_plot_x(a, a->zero_s + i * step);
        char text[16];
        snprintf(text, sizeof text, "%.*f", step < 1 ? 1 : 0, i * step + 0.0);
        oxl_draw_line(d, OXL_INK_FRAME, x, y, x, y + 2);
        oxl_draw_text(d, fmin(x, a->x + a->w - 4), y + 8, SMALL, OXL_ANCHOR_MIDDLE, false, text);
    }
}

/* Letter, interval and line of one moment. at_x: where the letter stands. */
static void moment(struct oxl_drawing *d, const struct oxl_plot_axis *a, const struct oxl_moment *m,
                   const char *letter, double at_x, double bottom)
{
    const double x = oxl_plot_x(a, seconds(m->t_us));
    oxl_draw_line(d, OXL_INK_MARK, x, TOP - 3, x, bottom);
    oxl_draw_interval(d, OXL_INK_MARK, oxl_plot_x(a, seconds(m->low_us)),
                      oxl_plot_x(a, seconds(m->high_us)), TOP - 5, 2);
    oxl_draw_text(d, at_x, TOP - 9.5, LETTER, OXL_ANCHOR_MIDDLE, true, letter);
}

static void moments(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                    const struct oxl_run_result *r, const struct oxl_track *k, double bottom)
{
    const double xf = r->front_lean.found ? oxl_plot_x(a, seconds(r->front_lean.t_us)) : NAN;
    const double xr = r->rear_lean.found ? oxl_plot_x(a, seconds(r->rear_lean.t_us)) : NAN;
    if (k->cut_us && seconds(k->cut_us) >= a->from_s && seconds(k->cut_us) <= a->to_s) {
        const double x = oxl_plot_x(a, seconds(k->cut_us));
        oxl_draw_line(d, OXL_INK_CUT, x, TOP - 3, x, bottom);
        /* fmin with NAN gives the other one: no front-lean, no need to make way */
        oxl_draw_text(d, fmin(x, xf - 8), TOP - 9.5, LETTER, OXL_ANCHOR_MIDDLE, true, "C");
    }
    if (r->front_lean.found)
        moment(d, a, &r->front_lean, "F", xf, bottom);
    if (r->rear_lean.found)
        moment(d, a, &r->rear_lean, "R", fmax(xr, oxl_known(xf) ? xf + 8 : xr), bottom);
    else if (r->front_lean.found && !r->dropped)
        oxl_draw_text(d, a->x + a->w, TOP - 9.5, SMALL, OXL_ANCHOR_END, false, "rear did not fall");
}

static void shade(struct oxl_drawing *d, const struct oxl_plot_axis *a,
                  const struct oxl_run_result *r, double bottom)
{
    if (!r->front_lean.found)
        return;
    const double x1 = oxl_plot_x(a, seconds(r->front_lean.t_us));
    const double x2 = r->rear_lean.found ? oxl_plot_x(a, seconds(r->rear_lean.t_us)) : a->x + a->w;
    oxl_draw_rect(d, OXL_INK_SHADE, x1, TOP, fmax(0, x2 - x1), bottom - TOP);
}

/* ---- the whole ------------------------------------------------------------------------------ */

/* A narrow plot has room for the delay alone. */
static void heading(struct oxl_drawing *d, const struct oxl_run_result *r,
                    const struct oxl_span *delay, const char *name, double w)
{
    char text[OXL_FIGURE_TEXT], line[sizeof d->shapes[0].text];
    if (w > 110 || isnan(oxl_figure_shown(delay).value))
        oxl_figure_span(delay, 2, w > 150 ? "s" : "", text);
    else
        oxl_figure_number(delay->value, 2, "s", text);
    snprintf(line, sizeof line, "%.24s%s: %.36s", name, r->valid ? "" : ", not counted", text);
    const double fits = 1.55 * w / (double)strlen(line); /* bold letters are about 0.63 em wide */
    oxl_draw_text(d, 0, 7.5, fmin(w > 150 ? 7.5 : 6, fits), OXL_ANCHOR_START, true, line);
}

void oxl_plot_run(const struct oxl_run_result *run, const struct oxl_span *delay,
                  const struct oxl_track *track, const struct oxl_profile *profile,
                  const char *name, double w, double h, struct oxl_drawing *out)
{
    struct oxl_plot_axis a;
    const double bottom = h - BOTTOM, room = bottom - TOP - 2 * GAP;
    oxl_drawing_start(out, w, h, name);
    heading(out, run, delay, name, w);
    if (!choose_axis(run, track, w, &a)) {
        oxl_draw_rect(out, OXL_INK_BAND, 0, TOP, w, bottom - TOP);
        oxl_draw_text(out, w / 2, h / 2 + 6, SMALL, OXL_ANCHOR_MIDDLE, false, "no samples kept");
        return;
    }
    struct oxl_lane_view lanes[OXL_LANE_COUNT] = {
        sensor_lane(track, OXL_LANE_FRONT, track->front_kind, profile, &a),
        sensor_lane(track, OXL_LANE_REAR, track->rear_kind, profile, &a),
        trim_lane(track, profile, &a)};
    shade(out, &a, run, bottom);
    for (size_t i = 0; i < OXL_LANE_COUNT; i++) {
        lanes[i].h = room / OXL_LANE_COUNT;
        lanes[i].y = TOP + (double)i * (lanes[i].h + GAP);
        oxl_lane_back(out, &a, &lanes[i]);
    }
    moments(out, &a, run, track, bottom);
    for (size_t i = 0; i < OXL_LANE_COUNT; i++)
        oxl_lane_front(out, &a, &lanes[i]);
    time_axis(out, &a, bottom);
}

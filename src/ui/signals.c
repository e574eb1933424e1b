#include "view.h"

#include <math.h>
#include <stdio.h>

#include "oxylag/figure.h"

/* Older sensor values are not "current". */
enum { SENSOR_AGE_US = 2000000 };

/* Widens low..high to the data, in whole steps so that the scale does not tremble. */
static void widen(struct oxl_signal *s, int64_t from_us, int64_t to_us, double step)
{
    double min, max;
    if (oxl_history_range(s->history, from_us, to_us, &min, &max)) {
        s->low = fmin(s->low, step * floor(min / step));
        s->high = fmax(s->high, step * ceil(max / step));
    }
}

static void balance_text(const struct oxl_model *m, struct oxl_reading volts,
                         struct oxl_reading current, struct oxl_signal *s)
{
    double v = oxl_reading_now(m, volts, SENSOR_AGE_US),
           ma = oxl_reading_now(m, current, SENSOR_AGE_US);
    const struct oxl_profile *f = &m->record->profile;
    bool in_volts = oxl_known(v);
    if (!in_volts && !oxl_known(ma))
        return;
    snprintf(s->small[0], sizeof s->small[0], "%.8s %s",
             oxl_figure_cell(in_volts ? v : ma, 2, !in_volts).text, in_volts ? "V" : "mA");
    snprintf(s->small[1], sizeof s->small[1], "bal %.8s",
             oxl_figure_cell(in_volts ? f->balance_v : f->balance_ma, 2, false).text);
}

static void sensor(const struct oxl_model *m, bool front, int64_t from_us, int64_t to_us,
                   struct oxl_signal *s)
{
    const struct oxl_live *l = &m->live;
    enum oxl_sensor_kind kind = front ? l->pair.front_kind : l->pair.rear_kind;
    bool rich = front ? l->front_rich : l->rear_rich, lean = front ? l->front_lean : l->rear_lean;
    s->name = front ? "front" : "rear";
    s->ink = front ? OXL_INK_FRONT : OXL_INK_REAR;
    s->history = front ? &m->front : &m->rear;
    s->value = oxl_history_latest(s->history, m->around.now_us, SENSOR_AGE_US);
    s->word = !oxl_known(s->value) || rich == lean ? "" : rich ? "RICH" : "LEAN";
    if (m->has_live && kind == OXL_SENSOR_WIDE) {
        s->unit = "lambda";
        s->decimals = 3;
        s->low = 0.95;
        s->high = 1.05;
        widen(s, from_us, to_us, 0.05);
        double balance = m->record->profile.lambda_balance;
        s->levels[0] = balance;
        s->levels[1] = balance + m->record->profile.lambda_step;
        balance_text(m, front ? m->front_v : m->rear_v, front ? m->front_ma : m->rear_ma, s);
    } else {
        s->unit = "V";
        s->decimals = 2;
        s->low = 0;
        s->high = 1;
        widen(s, from_us, to_us, 0.3);
        s->levels[0] = m->record->profile.switch_v;
    }
}

static void trim(const struct oxl_model *m, int64_t from_us, int64_t to_us, struct oxl_signal *s)
{
    s->name = "trim";
    s->unit = "%";
    s->ink = OXL_INK_TRIM;
    s->history = &m->trim;
    s->value = oxl_model_trim(m);
    s->decimals = 1;
    s->with_sign = true;
    s->low = -10;
    s->high = 10;
    double baseline = m->live.baseline_pct;
    if (!oxl_known(baseline))
        baseline = m->record->baseline_trim_pct;
    s->levels[0] = baseline;
    s->levels[1] = baseline + m->live.target_pct;
    if (oxl_known(s->levels[1]))
        s->low = fmin(s->low, 10 * floor((s->levels[1] - 2) / 10));
    if (oxl_known(baseline))
        snprintf(s->small[0], sizeof s->small[0], "base %.6s",
                 oxl_figure_cell(baseline, 1, true).text);
    widen(s, from_us, to_us, 10);
}

struct oxl_signal oxl_signal_get(const struct oxl_model *m, enum oxl_signal_kind kind,
                                 int64_t from_us, int64_t to_us)
{
    struct oxl_signal s = {.word = "", .levels = {NAN, NAN, NAN}};
    if (kind == OXL_SIGNAL_TRIM)
        trim(m, from_us, to_us, &s);
    else
        sensor(m, kind == OXL_SIGNAL_FRONT, from_us, to_us, &s);
    return s;
}

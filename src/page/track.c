/* The samples around each run, kept for the plots. */
#include <string.h>

#include "oxylag/report.h"

enum { TAIL_US = 6000000 }; /* what follows a run's end, so that the plot shows it settled */

void oxl_tracks_init(struct oxl_tracks *t, unsigned bank)
{
    memset(t, 0, sizeof *t);
    t->bank = bank ? bank : 1;
    t->stft_pct = t->ltft_pct = t->baseline_trim_pct = NAN;
}

static struct oxl_track *current(struct oxl_tracks *t)
{
    size_t i = t->close_us ? t->runs_n - 1 : t->runs_n;
    return t->open && i < OXL_RECORD_MAX_RUNS ? &t->runs[i] : NULL;
}

/* Makes room: of the older half every second point goes. The newer half holds the events. */
static void thin_out(struct oxl_track *k, enum oxl_lane lane)
{
    size_t n = k->lanes[lane].n, kept = 0;
    double *t = k->lanes[lane].t_s, *v = k->lanes[lane].value;
    for (size_t i = 0; i < n; i++)
        if (i >= n / 2 || i % 2 == 0) {
            t[kept] = t[i];
            v[kept++] = v[i];
        }
    k->lanes[lane].n = kept;
}

static void add(struct oxl_track *k, enum oxl_lane lane, double t_s, double value)
{
    size_t n = k->lanes[lane].n;
    if (n && t_s <= k->lanes[lane].t_s[n - 1]) { /* of the same reply: the later one counts */
        k->lanes[lane].value[n - 1] = value;
        return;
    }
    if (n == OXL_TRACK_POINTS)
        thin_out(k, lane);
    n = k->lanes[lane].n++;
    k->lanes[lane].t_s[n] = t_s;
    k->lanes[lane].value[n] = value;
}

/* Total trim, once all of its parts are known. */
static double total_trim(struct oxl_tracks *t, const struct oxl_sample *s)
{
    if (s->channel.bank != t->bank)
        return NAN;
    if (s->channel.quantity == OXL_Q_STFT_PCT)
        t->stft_pct = s->value;
    else if (s->channel.quantity == OXL_Q_LTFT_PCT)
        t->ltft_pct = s->value;
    else
        return NAN;
    return t->stft_pct + (t->has_ltft || oxl_known(t->ltft_pct) ? t->ltft_pct : 0);
}

static void sample(struct oxl_tracks *t, const struct oxl_sample *s)
{
    const double trim = total_trim(t, s), t_s = (double)(s->sent_us + s->recv_us) / 2e6;
    if (t->close_us && s->recv_us > t->close_us)
        t->open = false;
    struct oxl_track *k = current(t);
    if (!k)
        return;
    if (oxl_known(trim))
        add(k, OXL_LANE_TRIM, t_s, trim);
    if (!oxl_known(s->value))
        return;
    if (t->pair.front_kind != OXL_SENSOR_NONE && oxl_channel_same(s->channel, t->pair.front))
        add(k, OXL_LANE_FRONT, t_s, s->value);
    else if (t->pair.rear_kind != OXL_SENSOR_NONE && oxl_channel_same(s->channel, t->pair.rear))
        add(k, OXL_LANE_REAR, t_s, s->value);
}

static void begin(struct oxl_tracks *t)
{
    t->open = true;
    t->close_us = 0;
    struct oxl_track *k = current(t);
    if (!k)
        return;
    memset(k, 0, sizeof *k);
    k->front_kind = t->pair.front_kind;
    k->rear_kind = t->pair.rear_kind;
    k->baseline_trim_pct = t->baseline_trim_pct;
}

static void run_over(struct oxl_tracks *t, int run, int64_t t_us)
{
    if (t->runs_n == OXL_RECORD_MAX_RUNS || run == t->last_run) /* said again: taken back */
        return;
    t->last_run = run;
    if (!t->open || t->close_us) /* no enrichment was seen: nothing was collected */
        begin(t);
    t->runs_n++;
    t->close_us = t_us + TAIL_US;
}

void oxl_tracks_event(struct oxl_tracks *t, const struct oxl_event *ev)
{
    switch (ev->kind) {
    case OXL_EV_STATE:
        if (ev->u.state.state == OXL_STATE_ENRICHMENT)
            begin(t);
        else if (ev->u.state.state == OXL_STATE_RELEASE && !t->close_us && current(t))
            current(t)->cut_us = ev->t_us;
        break;
    case OXL_EV_VEHICLE:
        t->pair = oxl_vehicle_pair(ev->u.vehicle, t->bank);
        t->has_ltft = oxl_supports(&ev->u.vehicle->support, t->bank == 2 ? 0x09 : 0x07);
        break;
    case OXL_EV_BASELINE:
        t->baseline_trim_pct = ev->u.baseline.trim_pct;
        break;
    case OXL_EV_RUN:
        run_over(t, ev->u.run.run, ev->t_us);
        break;
    case OXL_EV_SAMPLE:
        sample(t, &ev->u.sample);
        break;
    default:
        break;
    }
}

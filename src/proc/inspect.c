#include "inspect.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/grade.h"
#include "poll_ears.h"

#define LIVE_S     4.0                /* when the caller does not say */
#define RATE_S     3.0                /* at the end: front and rear as often as in the timing */
#define LOST_US    INT64_C(15000000)  /* without a vehicle that was there */
#define LONGEST_US INT64_C(240000000) /* the whole inspection */
#define NEVER      INT64_MAX
#define KEEP       512 /* points of a channel: more than come in the time of a look */

struct oxl_inspect {
    struct oxl_ears ears;
    struct oxl_session_config config;
    struct oxl_poll *poll;
    struct oxl_series *series;
    struct oxl_inspection found;
    int64_t started_us;
    int64_t live_since_us, lost_since_us; /* NEVER: not so */
    bool over;
    enum oxl_status outcome;
    char text[200];
};

double oxl_inspection_reading(const struct oxl_inspection *v, struct oxl_channel c)
{
    for (size_t i = 0; i < v->readings_n; i++)
        if (oxl_channel_same(v->reading[i].channel, c))
            return v->reading[i].value;
    return NAN;
}

/* ---- the end --------------------------------------------------------------------------------- */
static void end(struct oxl_inspect *i, enum oxl_status outcome, const char *text)
{
    i->over = i->ears.acted = true;
    i->outcome = outcome;
    snprintf(i->text, sizeof i->text, "%s", text);
}

static struct oxl_refresh refresh_of(const struct oxl_inspect *i, struct oxl_channel c)
{
    return oxl_find_refresh(oxl_series_trace(i->series, c));
}

static void take(struct oxl_inspect *i)
{
    struct oxl_inspection *v = &i->found;
    struct oxl_poll_stats stats;
    oxl_poll_stats(i->poll, i->ears.now_us, &stats);
    v->vehicle = *oxl_poll_vehicle(i->poll);
    v->onboard = *oxl_poll_onboard(i->poll);
    v->pair[0] = oxl_vehicle_pair(&v->vehicle, 1);
    v->pair[1] = oxl_vehicle_pair(&v->vehicle, 2);
    v->front_hz = stats.front_hz > 0 ? stats.front_hz : NAN;
    v->rear_hz = stats.rear_hz > 0 ? stats.rear_hz : NAN;
    v->round_ms = stats.round_ms;
    const struct oxl_pair *pair = &v->pair[v->bank - 1];
    double second = oxl_inspection_reading(v, oxl_channel(OXL_Q_FUEL_SYSTEM, 2, 0));
    v->front_refresh = refresh_of(i, pair->front);
    v->rear_refresh = refresh_of(i, pair->rear);
    v->trim_refresh = refresh_of(i, oxl_bank_channel(OXL_Q_STFT_PCT, v->bank, second));
}

static void judge(struct oxl_inspect *i)
{
    struct oxl_inspection *v = &i->found;
    oxl_inspect_lines(v, &i->config);
    for (size_t n = 0; n < v->checks_n; n++) {
        struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = i->ears.now_us};
        ev.u.check = v->checks[n];
        oxl_ears_say(&i->ears, &ev);
    }
}

static void finish(struct oxl_inspect *i)
{
    const struct oxl_pair *pair = &i->found.pair[i->found.bank - 1];
    char text[160] = "";
    take(i);
    judge(i);
    bool front = pair->front_kind != OXL_SENSOR_NONE, rear = pair->rear_kind != OXL_SENSOR_NONE;
    if (!front || !rear)
        snprintf(text, sizeof text,
                 "Bank %u has no %s sensor that the vehicle reports: it cannot be tested this way.",
                 i->found.bank, front ? "rear" : "front");
    end(i, front && rear ? OXL_OK : OXL_ERR_UNSUITABLE, text);
}

/* ---- what the poll says ---------------------------------------------------------------------- */
static void on_sample(void *ctx, const struct oxl_sample *s)
{
    struct oxl_inspect *i = ctx;
    struct oxl_inspection *v = &i->found;
    size_t n = 0;
    oxl_series_push(i->series, s);
    while (n < v->readings_n && !oxl_channel_same(v->reading[n].channel, s->channel))
        n++;
    if (n == OXL_INSPECT_READINGS)
        return;
    v->reading[n] = *s;
    v->readings_n += n == v->readings_n;
    if (oxl_channel_same(s->channel, oxl_channel(OXL_Q_STFT_PCT, v->bank, 0))) {
        v->trims_seen++;
        v->trim_moved = v->trim_moved || s->value != 0;
    }
}

/* What was seen before a loss is not how the engine runs now: it is looked at anew. */
static void note_lost(struct oxl_inspect *i, bool lost)
{
    if (!lost) {
        i->lost_since_us = NEVER;
        return;
    }
    i->live_since_us = NEVER;
    if (i->lost_since_us == NEVER)
        i->lost_since_us = i->ears.now_us;
}

static void on_link(void *ctx, enum oxl_link_state state, const char *text)
{
    struct oxl_inspect *i = ctx;
    oxl_ears_say_link(&i->ears, state, text);
    if (state == OXL_LINK_NO_ADAPTER)
        end(i, OXL_ERR_NO_ADAPTER, text);
    else if (state == OXL_LINK_NO_VEHICLE)
        end(i, OXL_ERR_NO_VEHICLE, text);
    if (state == OXL_LINK_READY && i->live_since_us == NEVER)
        i->live_since_us = i->ears.now_us;
    note_lost(i, state == OXL_LINK_LOST || state == OXL_LINK_CLOSED);
}

static void on_vehicle(void *ctx)
{
    struct oxl_inspect *i = ctx;
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE, .t_us = i->ears.now_us};
    ev.u.vehicle = oxl_poll_vehicle(i->poll);
    if (ev.u.vehicle->survey_done)
        oxl_ears_say(&i->ears, &ev);
}

/* ---- the outside ----------------------------------------------------------------------------- */
struct oxl_inspect *oxl_inspect_new(const struct oxl_session_config *config,
                                    const struct oxl_session_out *out)
{
    struct oxl_inspect *i = calloc(1, sizeof *i);
    if (!i)
        return NULL;
    i->config = *config;
    i->ears.out = *out;
    i->found.bank = config->bank == 2 ? 2 : 1;
    i->found.front_hz = i->found.rear_hz = i->found.round_ms = NAN;
    i->started_us = i->live_since_us = i->lost_since_us = NEVER;
    i->poll =
        oxl_ears_poll(config, true,
                      &(struct oxl_poll_out){
                          .ctx = i, .sample = on_sample, .link = on_link, .vehicle = on_vehicle});
    i->series = oxl_series_new(KEEP);
    if (i->poll && i->series)
        return i;
    oxl_inspect_free(i);
    return NULL;
}

void oxl_inspect_free(struct oxl_inspect *i)
{
    if (!i)
        return;
    oxl_poll_free(i->poll);
    oxl_series_free(i->series);
    free(i);
}

static int64_t later(int64_t from_us, int64_t by_us)
{
    return from_us == NEVER ? NEVER : from_us + by_us;
}

static int64_t looked_us(const struct oxl_inspect *i)
{
    return later(i->live_since_us, OXL_S_US(i->config.live_s > 0 ? i->config.live_s : LIVE_S));
}

static int64_t watched_us(const struct oxl_inspect *i)
{
    return later(looked_us(i), OXL_S_US(RATE_S));
}

/* Every way to the end; only a tick may take one. */
static void look_at_clock(struct oxl_inspect *i)
{
    if (i->over)
        return;
    if (i->ears.now_us >= watched_us(i))
        finish(i);
    else if (i->ears.now_us >= later(i->lost_since_us, LOST_US))
        end(i, OXL_ERR_LINK_LOST,
            "The link was lost and did not come back: check connector, adapter and ignition.");
    else if (i->ears.now_us >= later(i->started_us, LONGEST_US))
        end(i, OXL_ERR_LINK_LOST,
            "The vehicle took too long to answer: check the connector, try again.");
}

bool oxl_inspect_step(struct oxl_inspect *i, const struct oxl_input *in)
{
    if (i->over)
        return false;
    i->ears.acted = false;
    /* A clock that jumps back (it must not) may not make time run backwards in here. */
    i->ears.now_us = in->t_us > i->ears.now_us ? in->t_us : i->ears.now_us;
    if (i->started_us == NEVER)
        i->started_us = i->ears.now_us;
    /* By whatever comes first at that time, so that a replay needs no tick for it. */
    oxl_poll_focus(i->poll, i->ears.now_us >= looked_us(i) ? OXL_FOCUS_TIMING : OXL_FOCUS_ALL);
    switch (in->kind) {
    case OXL_IN_RX:
        oxl_poll_rx(i->poll, in->bytes, in->n, i->ears.now_us);
        break;
    case OXL_IN_LINK_UP:
    case OXL_IN_LINK_DOWN:
        oxl_poll_link(i->poll, in->kind == OXL_IN_LINK_UP, i->ears.now_us);
        break;
    case OXL_IN_TICK:
        oxl_poll_tick(i->poll, i->ears.now_us);
        look_at_clock(i);
        break;
    case OXL_IN_KEY:
        if (in->key == OXL_KEY_ABORT || in->key == OXL_KEY_END)
            end(i, OXL_ERR_STOPPED, "stopped before the end: nothing is known of the rest");
        break;
    case OXL_IN_NOTE:
    case OXL_IN_SAMPLES: /* a table is not inspected */
    case OXL_IN_END:
        break;
    }
    return i->ears.acted;
}

int64_t oxl_inspect_due_us(const struct oxl_inspect *i)
{
    int64_t look = i->ears.now_us < looked_us(i) ? looked_us(i) : watched_us(i);
    int64_t due = oxl_earlier_us(oxl_poll_due_us(i->poll), look);
    return oxl_earlier_us(
        due, oxl_earlier_us(later(i->lost_since_us, LOST_US), later(i->started_us, LONGEST_US)));
}

bool oxl_inspect_over(const struct oxl_inspect *i)
{
    return i->over;
}

enum oxl_status oxl_inspect_outcome(const struct oxl_inspect *i, const char **text)
{
    *text = i->text;
    return i->over ? i->outcome : OXL_ERR_STOPPED;
}

const struct oxl_inspection *oxl_inspect_found(const struct oxl_inspect *i)
{
    return &i->found;
}

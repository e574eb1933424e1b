/* Any events, live values, keys and sizes to the screen: every cell stays printable and on the
 * grid, whatever was heard. */

#include "help_fuzz.h"
#include "oxylag/ui.h"

/* Mostly what sensors say, now and then any bits at all. */
static double number(struct reader *r)
{
    static const double odd[] = {NAN, INFINITY, -INFINITY, 1e300, -1e300, 5e-324, 0, -0.0};
    uint8_t how = take(r);
    if (how < 32)
        return odd[how % 8];
    if (how < 48) {
        uint64_t bits = 0;
        for (int i = 0; i < 8; i++)
            bits = bits << 8 | take(r);
        double v;
        memcpy(&v, &bits, sizeof v);
        return v;
    }
    return (how - 100) * (take(r) + 1) / 256.0;
}

static void text(struct reader *r, char *out, size_t n)
{
    size_t len = take(r) % n;
    memset(out, 0, n);
    for (char *to = out; len > 0; len--)
        *to++ = (char)take(r);
}

static struct oxl_span span(struct reader *r)
{
    struct oxl_span s = {number(r), number(r), number(r)};
    return s;
}

static struct oxl_moment moment(struct reader *r, int64_t now_us)
{
    struct oxl_moment m = {take(r) & 1, now_us - take(r) * 10000, now_us - take(r) * 20000, now_us};
    return m;
}

static void a_run(struct reader *r, struct oxl_run_result *run, int64_t now_us)
{
    run->run = (int8_t)take(r);
    run->dropped = take(r) & 1;
    run->valid = take(r) & 1;
    run->reasons = (oxl_reasons)take(r) << (take(r) % 56);
    run->front_lean = moment(r, now_us);
    run->rear_lean = moment(r, now_us);
    run->rear_fall = moment(r, now_us);
    run->delay_s = span(r);
    run->delay_at_target_s = span(r);
    run->o2_mg = span(r);
    run->shift_pct = number(r);
    run->air_g_s = number(r);
    run->rpm = number(r);
}

static void a_result(struct reader *r, struct oxl_result *result)
{
    result->verdict = (enum oxl_verdict)(take(r) % 4);
    result->lead.figure = (enum oxl_lead_figure)(take(r) % 4);
    result->lead.span = span(r);
    result->lead.good_limit = number(r);
    result->runs = (int8_t)take(r);
    result->valid_runs = (int8_t)take(r);
    result->delay_s = span(r);
    result->delay_at_target_s = span(r);
    result->o2_mg = span(r);
    uint8_t ends = take(r);
    result->held = ends & 1;
    result->ended_early = ends & 2;
    result->runs_wanted = ends >> 6;
    result->air_g_s = number(r);
    result->spread_s = number(r);
    result->bad_limit_mg = number(r);
    result->good_limit_mg = number(r);
    result->reasons = (oxl_reasons)take(r) << (take(r) % 56);
    result->next = (oxl_reasons)take(r) << (take(r) % 56);
}

static struct oxl_test_record record;

static void an_event(struct reader *r, struct oxl_model *m, int64_t now_us)
{
    static struct oxl_vehicle vehicle;
    static struct oxl_profile profile;
    struct oxl_event ev = {.kind = (enum oxl_event_kind)(take(r) % 11), .t_us = now_us};
    switch (ev.kind) {
    case OXL_EV_STATE:
        ev.u.state.state = (enum oxl_state)(take(r) % OXL_STATE_COUNT);
        ev.u.state.run = (int8_t)take(r);
        break;
    case OXL_EV_SAMPLE:
        ev.u.sample.channel = oxl_channel((enum oxl_quantity)(take(r) % OXL_Q_COUNT),
                                          take(r) % (OXL_BANKS + 1U), take(r) % (OXL_SENSORS + 1U));
        ev.u.sample.value = number(r);
        ev.u.sample.recv_us = now_us;
        ev.u.sample.sent_us = now_us - take(r) * 1000;
        break;
    case OXL_EV_ADVICE:
        ev.u.advice.advice = (enum oxl_advice)(take(r) % OXL_ADV_COUNT);
        text(r, ev.u.advice.detail, sizeof ev.u.advice.detail);
        break;
    case OXL_EV_CHECK:
        ev.u.check.grade = (enum oxl_grade)(take(r) % 4);
        text(r, ev.u.check.id, sizeof ev.u.check.id);
        text(r, ev.u.check.found, sizeof ev.u.check.found);
        text(r, ev.u.check.advice, sizeof ev.u.check.advice);
        break;
    case OXL_EV_RUN:
        a_run(r, &ev.u.run, now_us);
        break;
    case OXL_EV_RESULT:
        a_result(r, &ev.u.result);
        break;
    case OXL_EV_LINK:
        ev.u.link.state = (enum oxl_link_state)(take(r) % (OXL_LINK_NO_VEHICLE + 1));
        text(r, ev.u.link.text, sizeof ev.u.link.text);
        break;
    case OXL_EV_VEHICLE:
        memset(&vehicle, 0, sizeof vehicle);
        text(r, vehicle.vin, sizeof vehicle.vin);
        text(r, vehicle.adapter, sizeof vehicle.adapter);
        vehicle.survey_done = take(r) & 1;
        ev.u.vehicle = &vehicle;
        break;
    case OXL_EV_PROFILE:
        oxl_profile_defaults(&profile);
        text(r, ev.u.profile.name, sizeof ev.u.profile.name);
        text(r, ev.u.profile.why, sizeof ev.u.profile.why);
        ev.u.profile.profile = &profile;
        break;
    case OXL_EV_BASELINE:
        ev.u.baseline.trim_pct = number(r);
        ev.u.baseline.rpm = number(r);
        ev.u.baseline.front_level = number(r);
        ev.u.baseline.rear_level = number(r);
        break;
    case OXL_EV_MARK:
        text(r, ev.u.mark.text, sizeof ev.u.mark.text);
        break;
    }
    oxl_test_record_event(&record, &ev);
    oxl_model_event(m, &ev);
    struct oxl_call call;
    CHECK(!oxl_model_call(m, &call) || call.words || call.cue != OXL_CUE_NONE);
    CHECK(!(oxl_model_depth(m) < 0));
}

static void live(struct reader *r, struct oxl_model *m, int64_t now_us)
{
    static struct oxl_profile profile;
    static char trouble[64];
    oxl_profile_defaults(&profile);
    struct oxl_live l = {.state = (enum oxl_state)(take(r) % OXL_STATE_COUNT),
                         .run = (int8_t)take(r),
                         .runs = (int8_t)take(r),
                         .profile = &profile};
    uint8_t bank_and_gas = take(r);
    l.bank = 1 + (bank_and_gas & 1);
    l.leak_step = bank_and_gas >> 6;
    l.gas_may_flow = bank_and_gas & 2;
    double *const values[] = {
        &l.total_trim_pct,  &l.baseline_pct, &l.shift_pct, &l.target_pct,  &l.accept_low_pct,
        &l.accept_high_pct, &l.back_off_pct, &l.slow_pct,  &l.hold_left_s, &l.heat_left_s,
        &l.baseline_left_s, &l.timing_s,     &l.front_hz,  &l.rear_hz,     &l.leak_left_s};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        *values[i] = number(r);
    l.link = (enum oxl_link_state)(take(r) % (OXL_LINK_NO_VEHICLE + 1));
    l.pair.front_kind = (enum oxl_sensor_kind)(take(r) % 3);
    l.pair.rear_kind = (enum oxl_sensor_kind)(take(r) % 3);
    text(r, trouble, sizeof trouble);
    struct oxl_surroundings around = {.now_us = now_us,
                                      .recording = take(r) & 1,
                                      .recorded_bytes = (uint64_t)take(r) << (take(r) % 56),
                                      .recording_trouble = take(r) & 1 ? trouble : NULL,
                                      .replay_rate = number(r),
                                      .paused = take(r) & 1,
                                      .valve = number(r)};
    oxl_model_live(m, &l, &around);
}

static void draw(const struct oxl_model *m, struct oxl_canvas *c, bool ascii)
{
    oxl_canvas_clear(c);
    oxl_view_draw(m, c);
    for (int row = 0; row < oxl_canvas_rows(c); row++)
        for (int col = 0; col < oxl_canvas_cols(c); col++) {
            struct oxl_cell cell = oxl_canvas_at(c, row, col);
            CHECK(cell.ch >= 0x20 && cell.ch != 0x7F && (cell.ch < 0x80 || cell.ch > 0x9F));
            CHECK(cell.ink < OXL_INK_COUNT);
            CHECK(!ascii || cell.ch < 0x7F);
        }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct reader r = {data, data + size};
    static const char *const lines[] = {"one", "\x1b[31mtwo", "a line that is longer than others"};
    struct oxl_model_config config = {
        .mode = (enum oxl_ui_mode)(take(&r) % 3), .ascii = take(&r) & 1, .record = &record};
    oxl_test_record_init(&record, NULL);
    text(&r, config.title, sizeof config.title);
    struct oxl_model *m = oxl_model_new(&config);
    struct oxl_canvas *c = oxl_canvas_new(24, 80);
    CHECK(m && c);
    oxl_model_cautions(m, lines, 3);
    int64_t now_us = 0;
    int draws = 0;
    while (r.at < r.end) {
        uint8_t op = take(&r);
        now_us += (int64_t)(op >> 4) * 40000;
        switch (op & 15) {
        case 0:
            oxl_canvas_resize(c, take(&r) % 60, take(&r) % 200);
            break;
        case 1:
            oxl_model_page(m, (enum oxl_page)(take(&r) % 4));
            break;
        case 2:
            oxl_model_turn(m, (int8_t)take(&r));
            break;
        case 3:
        case 4:
            live(&r, m, now_us);
            break;
        case 5:
            now_us += (int64_t)take(&r) << (take(&r) % 32);
            break;
        case 6:
            if (draws++ < 20)
                draw(m, c, config.ascii);
            break;
        default:
            an_event(&r, m, now_us);
            break;
        }
    }
    draw(m, c, config.ascii);
    oxl_canvas_free(c);
    oxl_model_free(m);
    return 0;
}

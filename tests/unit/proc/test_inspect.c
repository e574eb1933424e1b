/* An inspection of a scripted vehicle: what it reads, how long it looks, what it says of a trim
 * that stands still. Values by SAE J1979's scales. The simulated vehicles are inspected in the room
 * app.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_car.h"
#include "oxylag/inspect.h"
#include "unit/poll/help_adapter.h"

struct desk {
    struct fake fake;
    struct oxl_inspect *inspect;
    int64_t now_us, ready_us;
    bool still; /* the short-term trim says exactly 0 */
    unsigned checks;
};

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct desk *d = ctx;
    fake_write(&d->fake, bytes, n, t_us);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    (void)baud, (void)t_us;
    ((struct desk *)ctx)->fake.line_baud = baud;
}

static void on_reopen(void *ctx, int64_t t_us)
{
    (void)ctx, (void)t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct desk *d = ctx;
    d->checks += ev->kind == OXL_EV_CHECK;
    if (ev->kind == OXL_EV_LINK && ev->u.link.state == OXL_LINK_READY && !d->ready_us)
        d->ready_us = ev->t_us;
}

static void feed(struct desk *d, enum oxl_input_kind kind, const char *bytes, size_t n)
{
    const struct oxl_input in = {.kind = kind, .t_us = d->now_us, .bytes = bytes, .n = n};
    oxl_inspect_step(d->inspect, &in);
}

/* 80h is no trim at all; the scripted vehicle says 82h. */
static void stand_still(struct fake_chunk *c)
{
    for (size_t i = 0; i + 4 <= c->n; i++)
        if (memcmp(c->bytes + i, "0682", 4) == 0)
            c->bytes[i + 3] = '0';
}

static const struct oxl_inspection *look(struct desk *d, double live_s)
{
    const struct oxl_session_out out = {d, on_send, on_speed, on_reopen, on_event};
    struct oxl_session_config config = {.bank = 1, .live_s = live_s};
    oxl_profile_defaults(&config.profile);
    d->inspect = oxl_inspect_new(&config, &out);
    assert_non_null(d->inspect);
    feed(d, OXL_IN_LINK_UP, NULL, 0);
    while (!oxl_inspect_over(d->inspect) && d->now_us < 300000000) {
        struct fake_chunk c;
        int64_t due_us = oxl_earlier_us(fake_due_us(&d->fake), oxl_inspect_due_us(d->inspect));
        d->now_us = due_us > d->now_us ? due_us : d->now_us + 1;
        while (fake_read(&d->fake, &c, d->now_us)) {
            if (d->still)
                stand_still(&c);
            feed(d, OXL_IN_RX, c.bytes, c.n);
        }
        feed(d, OXL_IN_TICK, NULL, 0);
    }
    assert_true(oxl_inspect_over(d->inspect));
    return oxl_inspect_found(d->inspect);
}

static const struct oxl_check *line_of(const struct oxl_inspection *v, const char *id)
{
    for (size_t i = 0; i < v->checks_n; i++)
        if (strcmp(v->checks[i].id, id) == 0)
            return &v->checks[i];
    return NULL;
}

static void reads(const struct oxl_inspection *v, enum oxl_quantity q, unsigned bank, double want)
{
    double got = oxl_inspection_reading(v, oxl_channel(q, bank, 0));
    if (!(fabs(got - want) < 1e-9))
        fail_msg("quantity %d: %g is not %g", (int)q, got, want);
}

static void it_reads_every_value_once(void **state)
{
    static struct desk d;
    const char *text;
    (void)state;
    memset(&d, 0, sizeof d);
    fake_car(&d.fake);
    const struct oxl_inspection *v = look(&d, 0);
    assert_int_equal(oxl_inspect_outcome(d.inspect, &text), OXL_OK);
    reads(v, OXL_Q_COOLANT_C, 0, 0x82 - 40);
    reads(v, OXL_Q_RPM, 0, 0x0BB8 / 4.0);
    reads(v, OXL_Q_AIR_G_S, 0, 0x012C / 100.0);
    reads(v, OXL_Q_STFT_PCT, 1, (0x82 - 128) / 1.28);
    reads(v, OXL_Q_LTFT_PCT, 1, (0x82 - 128) / 1.28);
    assert_true(isnan(oxl_inspection_reading(v, oxl_channel(OXL_Q_COMMANDED_LAMBDA, 0, 0))));
    for (size_t i = 0; i < v->readings_n; i++)
        for (size_t k = 0; k < i; k++)
            assert_false(oxl_channel_same(v->reading[i].channel, v->reading[k].channel));
    assert_int_equal(d.checks, v->checks_n);
    assert_null(line_of(v, "trim-frozen"));
    assert_non_null(line_of(v, "freeze-frame"));
    for (size_t i = 0; i < v->sections_n; i++) { /* none is empty */
        size_t end = i + 1 < v->sections_n ? v->sections[i + 1].first : v->checks_n;
        assert_true(v->sections[i].first < end);
    }
    /* Each reading of the sensors is another, each of the trim the same. */
    assert_true(v->front_refresh.changes > 20 && v->trim_refresh.changes == 0);
    assert_true(v->front_hz > 5 && v->rear_hz > 5);
    oxl_inspect_free(d.inspect);
}

/* Four seconds for everything, or as many as are asked for, and three for the rate. */
static void it_looks_as_long_as_is_said(void **state)
{
    static const double live_s[] = {0, 2, 9};
    (void)state;
    for (size_t i = 0; i < sizeof live_s / sizeof live_s[0]; i++) {
        static struct desk d;
        memset(&d, 0, sizeof d);
        fake_car(&d.fake);
        look(&d, live_s[i]);
        double took_s = 1e-6 * (double)(d.now_us - d.ready_us), want_s = i ? live_s[i] + 3 : 7;
        assert_true(d.ready_us > 0 && fabs(took_s - want_s) < 0.01);
        oxl_inspect_free(d.inspect);
    }
}

static void a_trim_that_stands_still_is_said(void **state)
{
    static struct desk d;
    (void)state;
    memset(&d, 0, sizeof d);
    fake_car(&d.fake);
    d.still = true;
    const struct oxl_inspection *v = look(&d, 0);
    reads(v, OXL_Q_STFT_PCT, 1, 0);
    assert_non_null(line_of(v, "trim-frozen"));
    assert_true(v->trims_seen >= 4 && !v->trim_moved);
    oxl_inspect_free(d.inspect);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_reads_every_value_once),
        cmocka_unit_test(it_looks_as_long_as_is_said),
        cmocka_unit_test(a_trim_that_stands_still_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

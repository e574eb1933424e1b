/* The whole core under any sequence of inputs: values that no vehicle gives, bytes from nowhere,
 * silence, ports that come and go, keys at any time, clocks that leap.
 *
 * Two cores run: one hears every tick, the other only the inputs that a recording would keep. They
 * must say and send the same (session.h: an input that causes no output changes nothing that a
 * later output depends on). Every event must fit into a line, and nothing may follow the end.
 *
 * Input: a byte of settings, then operations of one byte, some with data. */
#include <math.h>

#include "help_answerer.h"
#include "help_fuzz.h"
#include "oxylag/record.h"
#include "oxylag/session.h"

enum { REPLY_US = 40000, LONGEST_US = 600000000 };

/* One core and a digest (FNV-1a) of all that came out of it. */
struct core {
    struct oxl_session *session;
    struct answerer *answerer; /* NULL: the shadow, whose requests go nowhere */
    int64_t now_us, asked_us;
    uint64_t digest, said;
    bool over;
};

static void mix(struct core *c, const void *p, size_t n)
{
    const uint8_t *b = p;
    for (size_t i = 0; i < n; i++)
        c->digest = (c->digest ^ b[i]) * 1099511628211U;
    c->said++;
}

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct core *c = ctx;
    CHECK(!c->over && t_us == c->now_us && n > 0 && bytes[n - 1] == '\r');
    /* Only reading services: never 04 or 08. */
    CHECK(n < 3 || bytes[0] != '0' || (bytes[1] != '4' && bytes[1] != '8'));
    mix(c, bytes, n);
    c->asked_us = t_us;
    if (c->answerer)
        answerer_hear(c->answerer, bytes, n);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct core *c = ctx;
    CHECK(!c->over && t_us == c->now_us);
    mix(c, &baud, sizeof baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct core *c = ctx;
    CHECK(!c->over && t_us == c->now_us);
    mix(c, "reopen", 6);
}

static void check_span(struct oxl_span v)
{
    if (oxl_known(v.value) && !(v.low <= v.value && v.value <= v.high))
        fprintf(stderr, "%g is not from %g to %g\n", v.value, v.low, v.high);
    CHECK(!oxl_known(v.value) || (v.low <= v.value && v.value <= v.high));
}

static void check_run(const struct oxl_run_result *r)
{
    check_span(r->delay_s);
    check_span(r->delay_at_target_s);
    check_span(r->o2_mg);
    CHECK(!r->dropped || !r->valid || oxl_known(r->delay_s.value));
    CHECK(!r->front_lean.found || r->front_lean.low_us <= r->front_lean.high_us);
}

static void check_result(const struct oxl_result *r)
{
    check_span(r->delay_s);
    check_span(r->o2_mg);
    CHECK(r->valid_runs >= 0 && r->valid_runs <= r->runs);
    CHECK(r->verdict == OXL_VERDICT_INCONCLUSIVE || r->valid_runs > 0);
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    static char line[OXL_RECORD_LINE_MAX];
    struct core *c = ctx;
    CHECK(!c->over && ev->t_us == c->now_us);
    if (ev->kind == OXL_EV_SAMPLE) { /* most of all events: cheaply */
        const struct oxl_sample *s = &ev->u.sample;
        CHECK(isfinite(s->value) && s->recv_us >= s->sent_us);
        mix(c, &s->value, sizeof s->value);
        mix(c, &s->recv_us, sizeof s->recv_us);
        return;
    }
    size_t n = oxl_event_json(ev, false, line, sizeof line);
    CHECK(n > 0);
    mix(c, line, n);
    if (ev->kind == OXL_EV_RUN)
        check_run(&ev->u.run);
    else if (ev->kind == OXL_EV_RESULT)
        check_result(&ev->u.result);
}

static void start(struct core *c, uint8_t settings, struct answerer *a)
{
    struct oxl_session_config config = {.bank = 1 + (settings & 1),
                                        .runs = settings >> 1 & 3,
                                        .no_identity = settings & 8,
                                        .has_speed = settings & 16};
    oxl_profile_defaults(&config.profile);
    struct oxl_session_out out = {
        .ctx = c, .send = on_send, .set_speed = on_speed, .reopen = on_reopen, .event = on_event};
    *c = (struct core){.answerer = a, .digest = 14695981039346656037U};
    c->session = oxl_session_new(&config, &out);
    CHECK(c->session);
}

static bool step(struct core *c, const struct oxl_input *in)
{
    uint64_t before = c->said;
    c->now_us = in->t_us;
    bool mattered = oxl_session_step(c->session, in);
    CHECK(mattered || c->said == before);
    if (oxl_session_over(c->session)) {
        const char *text = NULL;
        CHECK(oxl_session_outcome(c->session, &text) == OXL_OK || (text && text[0]));
        c->over = true;
    }
    return mattered;
}

struct pair {
    struct core live, shadow;
    struct answerer answerer;
    int64_t now_us;
};

static void feed(struct pair *p, struct oxl_input in)
{
    if (p->live.over)
        return;
    in.t_us = p->now_us;
    bool mattered = step(&p->live, &in);
    if (in.kind == OXL_IN_TICK && !mattered)
        return;
    CHECK(step(&p->shadow, &in) == mattered);
    CHECK(p->shadow.digest == p->live.digest && p->shadow.said == p->live.said);
}

static void tick(struct pair *p)
{
    feed(p, (struct oxl_input){.kind = OXL_IN_TICK});
}

/* A tick that is due must settle things: no core may ask for the same moment for ever. */
static void settle(struct pair *p)
{
    for (int i = 0; oxl_session_due_us(p->live.session) <= p->now_us; i++) {
        CHECK(i < 100);
        tick(p);
    }
}

static void rx(struct pair *p, const char *bytes, size_t n)
{
    feed(p, (struct oxl_input){.kind = OXL_IN_RX, .bytes = bytes, .n = n});
}

/* Time passes: answers come REPLY_US after the request, ticks when due and in between. */
static void pass(struct pair *p, int64_t us)
{
    int64_t until_us = p->now_us + us;
    while (p->now_us < until_us && !p->live.over) {
        int64_t due_us = oxl_session_due_us(p->live.session);
        int64_t next_us = p->answerer.n ? p->live.asked_us + REPLY_US : until_us;
        next_us = due_us < next_us ? due_us : next_us;
        next_us = next_us < until_us ? next_us : until_us;
        p->now_us = next_us > p->now_us ? next_us : p->now_us;
        if (p->answerer.n && p->now_us >= p->live.asked_us + REPLY_US) {
            char reply[sizeof p->answerer.reply];
            size_t n = p->answerer.n;
            memcpy(reply, p->answerer.reply, n);
            p->answerer.n = 0;
            rx(p, reply, n);
        }
        settle(p);
    }
    tick(p);
    struct oxl_live look;
    oxl_session_live(p->live.session, p->now_us, &look);
    CHECK(look.state < OXL_STATE_COUNT);
}

static void glide(struct pair *p, double seconds, double from, double to,
                  void (*set)(struct answerer *a, double v))
{
    for (int i = 1; i <= 20; i++) {
        set(&p->answerer, from + (to - from) * i / 20);
        pass(p, (int64_t)(seconds * 1e6 / 20));
    }
}

/* What a technician would do, so that the later states are reached in few bytes. */
static void pulse(struct pair *p, uint8_t how)
{
    double depth = -10 - (how & 15) * 1.5;
    pass(p, 16000000);
    answerer_rear(&p->answerer, 0.85);
    answerer_lambda(&p->answerer, 0.95);
    glide(p, 6, 0, depth, answerer_stft);
    pass(p, 4000000);
    answerer_lambda(&p->answerer, 1.0 - depth / 100);
    pass(p, (how >> 4 & 7) * 500000);
    if (how < 128)
        answerer_rear(&p->answerer, 0.1);
    glide(p, 6, depth, 0, answerer_stft);
    answerer_lambda(&p->answerer, 1);
    answerer_rear(&p->answerer, 0.7);
    pass(p, 5000000);
}

static size_t take_bytes(struct reader *r, const char **bytes)
{
    size_t n = take(r) % 48U, left = (size_t)(r->end - r->at);
    n = n < left ? n : left;
    *bytes = (const char *)r->at;
    r->at += n;
    return n;
}

static void set_value(struct pair *p, struct reader *r)
{
    static const uint8_t pids[] = {0x01, 0x03, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D,
                                   0x10, 0x13, 0x15, 0x1F, 0x24, 0x14, 0x34, 0x3C};
    uint8_t which = take(r);
    unsigned pid = pids[which & 15];
    p->answerer.mask[pid] = !(which & 64);
    for (unsigned i = 0; i < 4; i++)
        if (which & 128 || i < 2)
            p->answerer.value[pid][i] = take(r);
}

static void operate(struct pair *p, uint8_t op, struct reader *r)
{
    static const enum oxl_key keys[] = {OXL_KEY_NOW, OXL_KEY_RESTART, OXL_KEY_MARK, OXL_KEY_ABORT,
                                        OXL_KEY_NONE};
    const char *bytes;
    size_t n;
    switch (op % 12) {
    case 0:
        pass(p, (op / 12 + 1) * INT64_C(50000));
        break;
    case 1:
        pass(p, (op / 12 + 1) * INT64_C(1000000));
        break;
    case 2:
    case 3:
        set_value(p, r);
        break;
    case 4:
        n = take_bytes(r, &bytes);
        rx(p, bytes, n);
        break;
    case 5:
        feed(p, (struct oxl_input){.kind = OXL_IN_KEY, .key = keys[op / 12 % 5]});
        break;
    case 6:
        feed(p, (struct oxl_input){.kind = op / 12 % 2 ? OXL_IN_LINK_UP : OXL_IN_LINK_DOWN});
        break;
    case 7:
        n = take_bytes(r, &bytes);
        feed(p, (struct oxl_input){.kind = OXL_IN_NOTE, .bytes = bytes, .n = n});
        break;
    case 8: /* the clock leaps: the machine was asleep */
        p->now_us += INT64_C(1) << (op / 12 + 10);
        tick(p);
        break;
    case 9:
        p->answerer.mute = op / 12 % 2;
        break;
    case 10:
        pulse(p, take(r));
        break;
    default:
        p->answerer.codes = op / 12 % 2;
        break;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct pair p;
    struct reader r = {data, data + size};
    uint8_t settings = take(&r);
    p.now_us = 0;
    answerer_start(&p.answerer);
    start(&p.live, settings, &p.answerer);
    start(&p.shadow, settings, NULL);
    feed(&p, (struct oxl_input){.kind = OXL_IN_LINK_UP});
    if (settings & 32) /* past the wake and the survey */
        pass(&p, 6000000);
    while (r.at < r.end && !p.live.over && p.now_us < LONGEST_US)
        operate(&p, take(&r), &r);
    if (p.live.over) {
        const struct oxl_input late = {.kind = OXL_IN_RX, .t_us = p.now_us, .bytes = ">", .n = 1};
        CHECK(oxl_session_due_us(p.live.session) == INT64_MAX);
        CHECK(!oxl_session_step(p.live.session, &late));
    }
    oxl_session_free(p.live.session);
    oxl_session_free(p.shadow.session);
    return 0;
}

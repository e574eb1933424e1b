/* Achieved sample rate against what the simulated adapter itself can give, in virtual time:
 *   ours     the poller in its timing focus: front and rear, trims now and then
 *   limit    the adapter's own closed form for the same text: bytes on the line, its latency, the
 *            bus, the ECU's answer time, and no pause at all by the tester
 *   plain    one PID a request, no expected-reply-count digit, front and rear in turn
 * Printed, not judged: benchmarks are no timed tests. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../unit/sim/help_limit.h"
#include "oxylag/poll.h"
#include "oxylag/sim.h"

static const int64_t measure_us = 60000000;

struct bench {
    struct oxl_sim *sim;
    struct oxl_poll *poll;
    int64_t now_us;
    bool counting;
    uint64_t front, rear, requests;
    uint64_t request_chars, reply_chars;
    /* one round trip after the other: what each would take without any pause */
    double possible_s;
    size_t this_request, this_reply;
};

static void close_exchange(struct bench *b)
{
    if (b->counting && b->this_request)
        b->possible_s += 1.0 / limit_hz(oxl_sim_adapter(b->sim), (unsigned)b->this_request,
                                        (unsigned)b->this_reply);
}

/* A request that is proven goes out in two pieces, its text and, behind the echo, its CR. */
static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct bench *b = ctx;
    bool begins = bytes[0] != '\r', ends = bytes[n - 1] == '\r';
    if (begins) {
        close_exchange(b);
        b->this_request = b->this_reply = 0;
    }
    b->this_request += n;
    b->requests += b->counting && ends;
    oxl_sim_write(b->sim, bytes, n, 0, b->now_us);
}

static void on_speed(void *ctx, unsigned baud)
{
    (void)ctx, (void)baud;
}

static void on_nothing(void *ctx)
{
    (void)ctx;
}

static void on_link(void *ctx, enum oxl_link_state s, const char *text)
{
    (void)ctx, (void)s, (void)text;
}

static void on_sample(void *ctx, const struct oxl_sample *s)
{
    struct bench *b = ctx;
    struct oxl_pair pair = oxl_poll_pair(b->poll);
    if (!b->counting)
        return;
    b->front += oxl_channel_same(s->channel, pair.front);
    b->rear += oxl_channel_same(s->channel, pair.rear);
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static void run_until(struct bench *b, int64_t end_us)
{
    char buf[512];
    while (b->now_us < end_us) {
        int64_t due = least(least(oxl_sim_due_us(b->sim), oxl_poll_due_us(b->poll)), end_us);
        b->now_us = due > b->now_us ? due : b->now_us + 1;
        size_t n;
        while ((n = oxl_sim_read(b->sim, buf, sizeof buf, b->now_us)) > 0) {
            b->this_reply += n;
            oxl_poll_rx(b->poll, buf, n, b->now_us);
        }
        oxl_poll_tick(b->poll, b->now_us);
    }
}

static bool reach_ready(struct bench *b)
{
    oxl_poll_link(b->poll, true, 0);
    for (int s = 1; s < 60; s++) {
        run_until(b, b->now_us + 1000000);
        if (oxl_poll_state(b->poll) == OXL_LINK_READY)
            return true;
    }
    return false;
}

/* One PID a request, answers awaited until the prompt, nothing else. */
static double plain_loop_hz(const struct oxl_scenario *scenario, const char *front,
                            const char *rear)
{
    static const char *const init[] = {"ATZ\r",  "ATE0\r",  "ATS0\r", "ATL0\r",
                                       "ATH1\r", "ATSP0\r", "0100\r"};
    struct oxl_sim *sim = oxl_sim_new(scenario, 1, OXL_TECH_ALONE);
    int64_t now = 0, start = 0;
    uint64_t asked = 0;
    for (unsigned step = 0; now - start < measure_us || step <= 7; step++) {
        const char *request = step < 7 ? init[step] : step & 1 ? front : rear;
        if (step == 8) {
            start = now;
            asked = 0;
        }
        oxl_sim_write(sim, request, strlen(request), 0, now);
        asked++;
        for (bool prompt = false; !prompt;) {
            char c;
            int64_t due = oxl_sim_due_us(sim);
            if (due == INT64_MAX)
                break;
            now = due > now ? due : now;
            while (oxl_sim_read(sim, &c, 1, now) == 1)
                prompt = prompt || c == '>';
        }
    }
    oxl_sim_free(sim);
    return (double)asked / 2 / ((double)(now - start) / 1e6);
}

/* A link and what its adapter and vehicle can do. */
struct bench_case {
    const char *name, *ecu, *adapter;
    bool bank_2;
};

static const struct bench_case cases[] = {
    {"CAN, 115200 baud", "front = wide-current\n", "", false},
    {"  switching front", "", "", false},
    {"  bank 2", "front = wide-current\n", "", true},
    {"  bank 2, switching front", "", "", true},
    {"  no reply count", "front = wide-current\n", "reply_count = no\n", false},
    {"  switching, no reply count", "", "reply_count = no\n", false},
    {"  nor adaptive timing", "front = wide-current\n", "reply_count = no\nadaptive = no\n", false},
    {"  one PID a request", "front = wide-current\nmulti_item = no\n", "", false},
    {"  one PID, no reply count", "front = wide-current\nmulti_item = no\n", "reply_count = no\n",
     false},
    {"  one PID, neither", "front = wide-current\nmulti_item = no\n",
     "reply_count = no\nadaptive = no\n", false},
    {"CAN, 38400 baud", "front = wide-current\n", "baud = 38400\n", false},
    {"  switching front", "", "baud = 38400\n", false},
    {"  no reply count", "front = wide-current\n", "baud = 38400\nreply_count = no\n", false},
    {"CAN, wireless, 30 ms", "front = wide-current\n",
     "baud = 38400\nlatency_ms = 30\njitter_ms = 8\n", false},
    {"  switching, no reply count", "",
     "baud = 38400\nlatency_ms = 30\njitter_ms = 8\nreply_count = no\n", false},
    {"  no reply count", "front = wide-current\n",
     "baud = 38400\nlatency_ms = 30\njitter_ms = 8\nreply_count = no\n", false},
    {"K-line", "multi_item = no\nanswer_ms_min = 25\nanswer_ms_max = 35\n",
     "protocol = 3\nlatency_ms = 8\njitter_ms = 2\n", false},
    {"  slow ECU, slow adapter", "multi_item = no\nanswer_ms_min = 40\nanswer_ms_max = 55\n",
     "protocol = 3\nlatency_ms = 25\njitter_ms = 6\n", false},
    {"  no reply count", "multi_item = no\nanswer_ms_min = 25\nanswer_ms_max = 35\n",
     "protocol = 3\nlatency_ms = 8\njitter_ms = 2\nreply_count = no\n", false},
    {"  nor adaptive timing", "multi_item = no\nanswer_ms_min = 25\nanswer_ms_max = 35\n",
     "protocol = 3\nlatency_ms = 8\njitter_ms = 2\nreply_count = no\nadaptive = no\n", false},
};

static struct oxl_scenario *scenario_of(const struct bench_case *c)
{
    char text[400];
    struct oxl_scenario *scenario;
    struct oxl_error err;
    snprintf(text, sizeof text, "%s[unit]\n%s[adapter]\n%s",
             c->bank_2 ? "[plant]\nbanks = 2\n" : "", c->ecu, c->adapter);
    if (oxl_scenario_parse(text, "bench", &scenario, &err) != OXL_OK) {
        fprintf(stderr, "%s\n", err.text);
        exit(1);
    }
    return scenario;
}

static void begin(struct bench *b, const struct oxl_scenario *scenario, const struct bench_case *c)
{
    struct oxl_poll_config config = {.bank = c->bank_2 ? 2 : 1};
    struct oxl_poll_out out = {.ctx = b,
                               .send = on_send,
                               .set_speed = on_speed,
                               .reopen = on_nothing,
                               .sample = on_sample,
                               .link = on_link,
                               .vehicle = on_nothing};
    b->sim = oxl_sim_new(scenario, 1, OXL_TECH_ALONE);
    b->poll = oxl_poll_new(&config, &out);
    if (!b->sim || !b->poll || !reach_ready(b)) {
        fprintf(stderr, "%s: no link\n", c->name);
        exit(1);
    }
    oxl_poll_focus(b->poll, OXL_FOCUS_TIMING);
    run_until(b, b->now_us + 5000000);
    b->counting = true;
    b->this_request = 0;
}

static void one(const struct bench_case *c)
{
    struct oxl_scenario *scenario = scenario_of(c);
    struct bench b = {.counting = false};
    begin(&b, scenario, c);
    int64_t from = b.now_us;
    run_until(&b, b.now_us + measure_us);
    double s = (double)(b.now_us - from) / 1e6;
    struct oxl_pair pair = oxl_poll_pair(b.poll);
    char front[16], rear[16];
    snprintf(front, sizeof front, "01%02X\r", pair.front_pid);
    snprintf(rear, sizeof rear, "01%02X\r", pair.rear_pid);
    double plain = plain_loop_hz(scenario, front, rear);
    double ours = fmin((double)b.front, (double)b.rear) / s;
    printf("%-26s %8.2f %8.2f %9.2f %8.1f %8.2f %6.2f\n", c->name, (double)b.front / s,
           (double)b.rear / s, (double)b.requests / s, 100 * b.possible_s / s, plain, ours / plain);
    oxl_poll_free(b.poll);
    oxl_sim_free(b.sim);
    oxl_scenario_free(scenario);
}

int main(void)
{
    printf("%-26s %8s %8s %9s %8s %8s %6s\n", "link", "front/s", "rear/s", "requests", "% of",
           "plain/s", "gain");
    printf("%-26s %8s %8s %9s %8s %8s %6s\n", "", "", "", "a second", "limit", "", "");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        one(&cases[i]);
    return 0;
}

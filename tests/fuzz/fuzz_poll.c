/* Fuzzes the conversation with the adapter: any bytes at any time, ports that come and go. Each
 * input byte is an operation; data follow where it needs some. Checks on the way that a tick
 * which is not due calls nothing back, and that samples come only while there is live data. */

#include "help_fuzz.h"
#include "oxylag/poll.h"

struct run {
    struct oxl_poll *poll;
    int64_t now_us;
    unsigned callbacks;
};

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct run *r = ctx;
    r->callbacks++;
    if (n == 0 || bytes[n - 1] != '\r')
        abort();
    /* Only reading services: never 04 or 08. */
    if (n > 2 && bytes[0] == '0' && (bytes[1] == '4' || bytes[1] == '8'))
        abort();
}

static void on_speed(void *ctx, unsigned baud)
{
    (void)baud;
    ((struct run *)ctx)->callbacks++;
}

static void on_signal(void *ctx)
{
    ((struct run *)ctx)->callbacks++;
}

static void on_sample(void *ctx, const struct oxl_sample *s)
{
    struct run *r = ctx;
    r->callbacks++;
    if (oxl_poll_state(r->poll) != OXL_LINK_READY || s->recv_us < s->sent_us)
        abort();
}

static void on_link(void *ctx, enum oxl_link_state s, const char *text)
{
    (void)s;
    ((struct run *)ctx)->callbacks++;
    if (!text)
        abort();
}

static void tick(struct run *r, int64_t t_us)
{
    bool due = t_us >= oxl_poll_due_us(r->poll);
    unsigned before = r->callbacks;
    r->now_us = t_us;
    oxl_poll_tick(r->poll, t_us);
    if (due != (r->callbacks != before))
        abort();
}

static void step(struct run *r, uint8_t op)
{
    static const char *const words[] = {"OK\r\r>",
                                        "?\r\r>",
                                        "NO DATA\r\r>",
                                        "STOPPED\r\r>",
                                        "SEARCHING...",
                                        "A6\r\r>",
                                        "7E8064100BE3BB802\r",
                                        "7E8037F0178\r",
                                        "7E8037F0121\r\r>",
                                        "BUFFER FULL\r\r>",
                                        "\r>",
                                        "LV RESET\r\r>",
                                        "FUZZ v1.0\r\r>",
                                        "7E80741145A801546FF\r\r>"};
    int64_t due = oxl_poll_due_us(r->poll);
    const char *word = words[op % (sizeof words / sizeof *words)];
    switch (op >> 5) {
    case 0:
    case 1:
    case 2:
        r->now_us += 1000;
        oxl_poll_rx(r->poll, word, strlen(word), r->now_us);
        return;
    case 3:
        if (due != INT64_MAX)
            tick(r, due > r->now_us ? due : r->now_us);
        return;
    case 4:
        tick(r, r->now_us + (int64_t)(op & 31) * 20000);
        return;
    case 5:
        oxl_poll_link(r->poll, op & 3, r->now_us);
        return;
    default:
        oxl_poll_focus(r->poll, (enum oxl_focus)(op % 3));
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct run r = {.now_us = 1};
    const struct oxl_poll_config config = {
        .bank = 1, .has_speed = size % 2, .inspection = size % 4 >= 2};
    const struct oxl_poll_out out = {&r,        on_send, on_speed, on_signal,
                                     on_sample, on_link, on_signal};
    r.poll = oxl_poll_new(&config, &out);
    if (!r.poll)
        return 0;
    oxl_poll_link(r.poll, true, r.now_us);
    for (size_t i = 0; i < size; i++) {
        if (data[i] == 0xFF && i + 1 < size) { /* raw bytes */
            size_t n = data[i + 1] % 64;
            n = n < size - i - 2 ? n : size - i - 2;
            r.now_us += 500;
            oxl_poll_rx(r.poll, data + i + 2, n, r.now_us);
            i += 1 + n;
        } else {
            step(&r, data[i]);
        }
    }
    oxl_poll_free(r.poll);
    return 0;
}

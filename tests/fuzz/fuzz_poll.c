/* Fuzzes the conversation with the adapter: any bytes at any time, ports that come and go. Each
 * input byte is an operation; data follow where it needs some. Checks on the way that a tick
 * which is not due calls nothing back, that samples come only while there is live data, and that
 * nothing which one damaged character could turn into a changing request is ended by CR before its
 * echo has come. */

#include "../unit/poll/help_changing.h"
#include "help_fuzz.h"
#include "oxylag/poll.h"
#include "poll/poll_parts.h"

struct run {
    struct oxl_poll *poll;
    int64_t now_us;
    unsigned callbacks;
    char text[64]; /* sent without CR, all since the last one */
    size_t text_n;
    char last[64];  /* its latest piece */
    size_t matched; /* characters of it that came back, in order */
};

static bool harmed(const char *text, size_t n, bool bits)
{
    char made[80];
    for (size_t i = 0; i < n; i++) {
        memcpy(made, text, i);
        memcpy(made + i, text + i + 1, n - i - 1);
        if (line_changes(made, n - 1))
            return true;
        memcpy(made, text, i + 1);
        memcpy(made + i + 1, text + i, n - i);
        if (line_changes(made, n + 1))
            return true;
        for (unsigned bit = 0; bits && bit < 8; bit++) {
            memcpy(made, text, n);
            made[i] = (char)((unsigned char)made[i] ^ 1U << bit);
            if (line_changes(made, n))
                return true;
        }
    }
    return line_changes(text, n);
}

/* Proven, or spoilt by characters of which one came back (or so many that none is needed). */
static void end_of_parts(struct run *r)
{
    size_t spoilers = strspn(r->last, "z");
    bool spoilt = spoilers > 0 && (r->matched > 0 || spoilers >= 8);
    if (r->text_n && !spoilt && r->matched < strlen(r->last))
        abort();
    r->text_n = r->matched = 0;
    r->last[0] = '\0';
}

static void on_send(void *ctx, const char *bytes, size_t n)
{
    struct run *r = ctx;
    r->callbacks++;
    if (n == 0 || n >= sizeof r->last)
        abort();
    if (bytes[n - 1] != '\r') {
        memcpy(r->last, bytes, n);
        r->last[n] = '\0';
        r->text_n += n;
        r->matched = 0;
        return;
    }
    if (n == 1) {
        end_of_parts(r);
        return;
    }
    /* A command behind an unknown text makes it none. */
    if (r->text_n && !memchr(bytes, 'T', n) && !memchr(bytes, 'z', n))
        abort();
    r->text_n = 0;
    r->last[0] = '\0';
    if (harmed(bytes, n - 1, r->poll->echo.able))
        abort();
}

static void receive(struct run *r, const void *bytes, size_t n)
{
    const char *b = bytes;
    for (size_t i = 0; i < n; i++)
        r->matched += r->last[r->matched] && b[i] == r->last[r->matched];
    oxl_poll_rx(r->poll, bytes, n, r->now_us);
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
        if (op % 7 == 6 && r->last[0])
            receive(r, r->last, strlen(r->last));
        else
            receive(r, word, strlen(word));
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
            receive(&r, data + i + 2, n);
            i += 1 + n;
        } else {
            step(&r, data[i]);
        }
    }
    oxl_poll_free(r.poll);
    return 0;
}

#include "help_adapter.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BANNER "OBD adapter v1.0"

/* ---- the queue ---- */

static void queue(struct fake *f, const char *bytes, size_t n, int64_t t_us)
{
    if (f->n == FAKE_QUEUE || f->silent)
        return;
    struct fake_chunk *c = &f->queue[(f->head + f->n++) % FAKE_QUEUE];
    c->t_us = t_us;
    c->n = n < sizeof c->bytes ? n : sizeof c->bytes;
    memcpy(c->bytes, bytes, c->n);
}

static int64_t char_us(const struct fake *f)
{
    return f->baud ? 10000000 / f->baud : 20;
}

/* One line; it arrives when its last byte is through. Returns that time. */
int64_t fake_line(struct fake *f, const char *text, int64_t t_us)
{
    char out[80];
    int n = snprintf(out, sizeof out, "%s\r%s", text, f->linefeeds ? "\n" : "");
    t_us += n * char_us(f);
    queue(f, out, (size_t)n, t_us);
    return t_us;
}

static void prompt(struct fake *f, int64_t t_us)
{
    t_us += 2 * char_us(f) + f->prompt_late_us;
    f->busy_until_us = t_us;
    f->prompt_us = t_us;
    if (f->lose_prompt)
        f->lose_prompt = false;
    else
        queue(f, "\r>", 2, t_us);
}

void fake_say(struct fake *f, const char *text, int64_t t_us)
{
    prompt(f, fake_line(f, text, t_us));
}

int64_t fake_due_us(const struct fake *f)
{
    return f->n ? f->queue[f->head].t_us : INT64_MAX;
}

/* What was buffered: all at once, or command by command. */
static void work_off(struct fake *f, int64_t t_us)
{
    char bytes[sizeof f->held];
    size_t n = f->held_n;
    if (!n || t_us < f->deaf_until_us || t_us < f->busy_until_us)
        return;
    const char *end = memchr(f->held, '\r', n);
    if (f->queues && end)
        n = (size_t)(end - f->held) + 1;
    memcpy(bytes, f->held, n);
    memmove(f->held, f->held + n, f->held_n - n);
    f->held_n -= n;
    f->late = false;
    fake_write(f, bytes, n, t_us);
}

bool fake_read(struct fake *f, struct fake_chunk *out, int64_t t_us)
{
    if (!f->n || f->queue[f->head].t_us > t_us)
        return false;
    *out = f->queue[f->head];
    f->head = (f->head + 1) % FAKE_QUEUE;
    f->n--;
    work_off(f, out->t_us);
    return true;
}

void fake_power(struct fake *f)
{
    f->n = 0;
    f->command_n = 0;
    f->busy_until_us = f->deaf_until_us = 0;
    f->echo = f->linefeeds = f->spaces = true;
    f->headers = f->searched = f->named = f->adaptive = false;
}

void fake_car(struct fake *f)
{
    memset(f, 0, sizeof *f);
    f->hurt_at = -1;
    f->baud = 115200;
    f->protocol = 6;
    f->ecus[0] = (struct fake_ecu){
        "7E8", "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 14 15 1F 20 3C 40 4F", "1A9BB0CD0EF123456"};
    f->ecus_n = 1;
    f->latency_us = 8000;
    f->wait_us = 60000;
    f->reset_us = 600000;
    f->search_us = 900000;
    fake_power(f);
}

void fake_kline(struct fake *f)
{
    fake_car(f);
    f->protocol = 3;
    f->ecus[0].id = "10";
    f->ecus[0].pids = "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 14 15 1F";
    f->latency_us = 116000;
}

/* ---- requests ---- */

/* One-shot mishaps. True: nothing more is to be said. */
static bool mishap(struct fake *f, const uint8_t *req, unsigned *left, int64_t t_us)
{
    uint8_t negative[3] = {0x7F, req[0], 0};
    if (f->self_reset) {
        f->self_reset = false;
        fake_power(f);
        fake_say(f, BANNER, t_us + 300000);
        return true;
    }
    if (f->can_error || f->stop_word) {
        fake_say(f, f->can_error ? "CAN ERROR" : "STOPPED", t_us + 1000);
        f->can_error = f->stop_word = false;
        return true;
    }
    if (f->withheld && req[0] == 0x01 && req[1] == 0x20) {
        f->withheld--;
        negative[2] = 0x78;
        if (f->promised_first)
            prompt(f, fake_message(f, &f->ecus[0], negative, 3, left, t_us));
        else
            fake_say(f, "NO DATA", t_us + 1000);
        f->promised_first = false;
        return true;
    }
    if (!f->answer_pending && !f->answer_busy)
        return false;
    negative[2] = f->answer_busy ? 0x21 : 0x78;
    t_us = fake_message(f, &f->ecus[0], negative, 3, left, t_us);
    if (f->answer_busy || *left == 0) {
        prompt(f, t_us);
        f->answer_busy = f->answer_pending = false;
        return true;
    }
    return false;
}

static int64_t search(struct fake *f, int64_t t_us)
{
    if (f->searched)
        return t_us;
    queue(f, "SEARCHING...", 12, t_us);
    f->searched = !f->vehicle_off;
    return t_us + f->search_us;
}

/* How long it waits for more; in a hurry it gives up on some answers. */
static unsigned waits_us(const struct fake *f)
{
    return f->adaptive && f->adaptive_wait_us ? f->adaptive_wait_us : f->wait_us;
}

static bool loses_it(struct fake *f)
{
    if (!f->adaptive || !f->loses_every || ++f->since_lost <= f->loses_every)
        return false;
    f->since_lost = 0;
    return true;
}

static size_t parse(const char *hex, uint8_t *out)
{
    size_t n = 0;
    for (; hex[0] && hex[1] && n < 8; hex += 2) {
        unsigned v;
        sscanf(hex, "%2x", &v);
        out[n++] = (uint8_t)v;
    }
    return n;
}

static void data_request(struct fake *f, const char *text, int64_t t_us)
{
    uint8_t req[8];
    size_t chars = strlen(text);
    if (strspn(text, "0123456789ABCDEF") != chars || chars < 2) {
        fake_say(f, "?", t_us + 500);
        return;
    }
    size_t n = parse(text, req);
    unsigned frames = chars % 2 ? (unsigned)(text[chars - 1] - '0') : 0;
    if (n == 0 || (frames && f->count_refused)) {
        fake_say(f, "?", t_us + 500);
        return;
    }
    t_us += (int64_t)(chars + 1) * char_us(f);
    if (f->hangs_in_search && !f->searched && !f->named) {
        f->deaf_until_us = f->hang_us ? t_us + f->hang_us : INT64_MAX;
        f->busy_until_us = f->deaf_until_us;
        return;
    }
    t_us = search(f, t_us) + f->latency_us;
    if (f->vehicle_off) {
        fake_say(f, f->searched ? "NO DATA" : "UNABLE TO CONNECT", t_us + f->wait_us);
        return;
    }
    if (f->most_pids && n > 1 + f->most_pids) {
        fake_say(f, "BUFFER FULL", t_us);
        return;
    }
    unsigned left = frames && !f->count_ignored ? frames : 100, before;
    if (f->count_cuts && frames > 1)
        left = frames - 1;
    if (mishap(f, req, &left, t_us))
        return;
    if (f->answer_pending) { /* without a digit it goes on listening */
        f->answer_pending = false;
        t_us += 700000;
    }
    if (f->late_us) {
        t_us += f->late_us;
        f->late_us = 0;
        f->late = true;
    }
    before = left;
    if (!loses_it(f))
        t_us = fake_answers(f, req, n, &left, t_us);
    if (left == before)
        fake_say(f, "NO DATA", t_us + waits_us(f));
    else
        prompt(f, left ? t_us + waits_us(f) : t_us);
    if (f->late)
        f->deaf_until_us = f->busy_until_us;
}

/* ---- commands ---- */

static void setting(struct fake *f, const char *c)
{
    bool on = c[3] == '1';
    if (strncmp(c, "ATE", 3) == 0)
        f->echo = on || f->stuck_echo;
    else if (strncmp(c, "ATL", 3) == 0)
        f->linefeeds = on || f->stuck_linefeeds;
    else if (strncmp(c, "ATS0", 4) == 0)
        f->spaces = f->stuck_spaces;
    else if (strncmp(c, "ATH", 3) == 0)
        f->headers = on && !f->stuck_headers_off;
    else if (strncmp(c, "ATAT", 4) == 0)
        f->adaptive = c[4] == '2';
    else if (strncmp(c, "ATSP", 4) == 0) {
        f->searched = false;
        f->named = c[4] != '0';
    }
}

static void at_command(struct fake *f, const char *c, int64_t t_us)
{
    char name[8];
    if (f->unknown && strstr(f->unknown, c)) {
        fake_say(f, "?", t_us + 500);
    } else if (strcmp(c, "ATZ") == 0) {
        fake_power(f);
        fake_say(f, BANNER, t_us + f->reset_us);
    } else if (strcmp(c, "ATI") == 0) {
        fake_say(f, BANNER, t_us + 1000);
    } else if (strcmp(c, "ATDPN") == 0) {
        snprintf(name, sizeof name, "A%d", f->pull_down_dpn ? 0 : f->protocol);
        fake_say(f, name, t_us + 1000);
    } else {
        setting(f, c);
        fake_say(f, "OK", t_us + 1000);
    }
}

static void run_command(struct fake *f, int64_t t_us)
{
    f->command[f->command_n] = '\0';
    if (f->command_n == 0)
        snprintf(f->command, sizeof f->command, "%s", f->last);
    else
        snprintf(f->last, sizeof f->last, "%s", f->command);
    f->command_n = 0;
    if (f->log_n < FAKE_LOG) {
        f->log_us[f->log_n] = t_us;
        snprintf(f->log[f->log_n++], sizeof f->log[0], "%.23s", f->command);
    }
    f->busy_until_us = INT64_MAX;
    if (strncmp(f->command, "AT", 2) == 0) {
        at_command(f, f->command, t_us);
        return;
    }
    if (f->prompt_us)
        f->idle_us += t_us - f->prompt_us;
    if (f->command[0])
        data_request(f, f->command, t_us);
    else
        prompt(f, t_us + 500);
}

static void interrupted(struct fake *f, int64_t t_us)
{
    f->interrupts++;
    f->command_n = 0;
    f->n = 0;
    fake_say(f, "STOPPED", t_us + 1000);
}

/* What comes of a character on its way: 0, 1 or 2 of them. */
static size_t travel(struct fake *f, bool echo, char c, char out[2])
{
    out[0] = out[1] = c;
    if (f->hurt_at < 0 || f->hurt_echo != echo)
        return 1;
    bool now = f->hurt_at == 0 || (f->hurt_at == 1 && f->hurt == 10);
    if (f->hurt_at-- > 1 || !now)
        return 1;
    if (f->hurt < 8)
        out[0] = (char)((unsigned char)c ^ 1U << f->hurt);
    return f->hurt < 8 ? 1 : f->hurt == 9 ? 2 : 0;
}

static void take_char(struct fake *f, char c, int64_t t_us)
{
    char back[2];
    if (f->echo && !f->no_echo)
        queue(f, back, travel(f, true, c, back), t_us + 200);
    if (c == '\r')
        run_command(f, t_us);
    else if ((unsigned char)c > ' ' && f->command_n + 1 < sizeof f->command)
        f->command[f->command_n++] = (char)toupper((unsigned char)c);
}

void fake_write(struct fake *f, const char *bytes, size_t n, int64_t t_us)
{
    if (f->garbage)
        queue(f, "\xf8\x80 \xfe\x3b", 5, t_us + 3000);
    if (f->garbage || (f->baud && f->line_baud && f->baud != f->line_baud)) {
        if (f->line_baud < f->baud)
            queue(f, "\x80\xf0", 2, t_us + 3000);
        return;
    }
    if (t_us < f->deaf_until_us || (f->queues && t_us < f->busy_until_us)) {
        for (size_t i = 0; i < n && (f->late || f->queues) && f->held_n < sizeof f->held; i++)
            f->held[f->held_n++] = bytes[i];
        return;
    }
    for (size_t i = 0; i < n; i++) {
        if (t_us < f->busy_until_us) {
            interrupted(f, t_us);
            continue;
        }
        char in[2];
        size_t copies = travel(f, false, bytes[i], in);
        for (size_t k = 0; k < copies; k++)
            take_char(f, in[k], t_us);
    }
}

/* The same PIDs of service 01 and the same count, in whatever order. */
static bool same_request(const char *a, const char *b)
{
    size_t n = strlen(a);
    unsigned found = 0;
    if (strcmp(a, b) == 0)
        return true;
    if (n != strlen(b) || strncmp(a, "01", 2) != 0 || strncmp(b, "01", 2) != 0 ||
        (n % 2 && a[n - 1] != b[n - 1]))
        return false;
    for (size_t i = 2; i + 1 < n; i += 2)
        for (size_t k = 2; k + 1 < n; k += 2)
            found += strncmp(a + i, b + k, 2) == 0;
    return found == n / 2 - 1;
}

unsigned fake_count(const struct fake *f, const char *text, unsigned from)
{
    unsigned n = 0;
    for (unsigned i = from; i < f->log_n; i++)
        n += same_request(f->log[i], text);
    return n;
}

#include "help_answerer.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Bytes of an PID's data, SAE J1979 / ISO 15031-5. */
static size_t width(unsigned pid)
{
    static const struct {
        uint8_t from, to, bytes;
    } widths[] = {{0x00, 0x01, 4}, {0x03, 0x03, 2}, {0x0C, 0x0C, 2}, {0x10, 0x10, 2},
                  {0x14, 0x1B, 2}, {0x1F, 0x1F, 2}, {0x20, 0x20, 4}, {0x24, 0x2B, 4},
                  {0x34, 0x3B, 4}, {0x3C, 0x3F, 2}, {0x40, 0x41, 4}, {0x44, 0x44, 2},
                  {0x4F, 0x50, 4}, {0x60, 0x60, 4}};
    for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++)
        if (pid >= widths[i].from && pid <= widths[i].to)
            return widths[i].bytes;
    return 1;
}

static void set16(struct answerer *a, unsigned pid, unsigned at, double v)
{
    unsigned raw = v < 0 ? 0 : v > 65535 ? 65535 : (unsigned)v;
    a->value[pid][at] = (uint8_t)(raw >> 8);
    a->value[pid][at + 1] = (uint8_t)raw;
}

void answerer_lambda(struct answerer *a, double lambda)
{
    set16(a, 0x24, 0, lambda * 32768);
}

void answerer_rear(struct answerer *a, double volts)
{
    a->value[0x15][0] = (uint8_t)(volts * 200);
    a->value[0x15][1] = 0xFF;
}

void answerer_stft(struct answerer *a, double pct)
{
    a->value[0x06][0] = (uint8_t)(128 + pct * 1.28);
}

void answerer_start(struct answerer *a)
{
    static const uint8_t pids[] = {0x01, 0x03, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D,
                                   0x0F, 0x10, 0x13, 0x15, 0x1F, 0x20, 0x24};
    memset(a, 0, sizeof *a);
    for (size_t i = 0; i < sizeof pids; i++)
        a->mask[pids[i]] = 1;
    a->value[0x01][1] = 0x07;
    a->value[0x01][2] = 0x65;
    a->value[0x03][0] = 2;
    a->value[0x05][0] = 130;
    a->value[0x07][0] = 128;
    a->value[0x0B][0] = 35;
    set16(a, 0x0C, 0, 750 * 4);
    a->value[0x0F][0] = 60;
    set16(a, 0x10, 0, 300);
    a->value[0x13][0] = 3;
    set16(a, 0x1F, 0, 600);
    set16(a, 0x24, 2, 20000);
    answerer_lambda(a, 1);
    answerer_rear(a, 0.7);
    answerer_stft(a, 0);
}

static void say(struct answerer *a, const char *text)
{
    size_t n = strlen(text);
    if (n >= sizeof a->reply - a->n)
        return;
    memcpy(a->reply + a->n, text, n + 1);
    a->n += n;
}

static void say_frame(struct answerer *a, const uint8_t *bytes, size_t n)
{
    char text[40] = "7E8";
    for (size_t i = 0; i < n; i++)
        snprintf(text + 3 + 2 * i, 3, "%02X", bytes[i]);
    say(a, text);
    say(a, "\r");
}

/* ISO 15765-2: single frame up to seven bytes, else first frame and consecutive frames. */
static void say_message(struct answerer *a, const uint8_t *data, size_t n)
{
    uint8_t frame[8] = {(uint8_t)n};
    if (n <= 7) {
        memcpy(frame + 1, data, n);
        say_frame(a, frame, n + 1);
        return;
    }
    frame[0] = (uint8_t)(0x10 | n >> 8);
    frame[1] = (uint8_t)n;
    memcpy(frame + 2, data, 6);
    say_frame(a, frame, 8);
    for (size_t at = 6, k = 1; at < n; at += 7, k++) {
        size_t part = n - at < 7 ? n - at : 7;
        frame[0] = (uint8_t)(0x20 | (k & 15));
        memcpy(frame + 1, data + at, part);
        say_frame(a, frame, part + 1);
    }
}

static void support(const struct answerer *a, unsigned base, uint8_t out[4])
{
    memset(out, 0, 4);
    for (unsigned i = 1; i <= 32 && base + i < 256; i++)
        if (a->mask[base + i])
            out[(i - 1) / 8] |= (uint8_t)(0x80 >> (i - 1) % 8);
}

static size_t item_answer(const struct answerer *a, unsigned pid, uint8_t *out)
{
    size_t n = width(pid);
    if (pid % 0x20 == 0 && (pid == 0 || a->mask[pid]))
        support(a, pid, out + 1);
    else if (a->mask[pid])
        memcpy(out + 1, a->value[pid], n);
    else
        return 0;
    out[0] = (uint8_t)pid;
    return n + 1;
}

static void live(struct answerer *a, const char *hex)
{
    uint8_t data[64] = {0x41};
    size_t n = 1;
    for (; hex[0] && hex[1] && n + 5 < sizeof data; hex += 2) {
        const char two[] = {hex[0], hex[1], '\0'};
        n += item_answer(a, (unsigned)strtoul(two, NULL, 16) & 255, data + n);
    }
    if (n > 1)
        say_message(a, data, n);
    else
        say(a, "NO DATA\r");
}

static void answer(struct answerer *a, const char *request)
{
    static const uint8_t none[] = {0x43, 0}, one[] = {0x43, 1, 0x04, 0x20};
    if (strcmp(request, "ATZ") == 0 || strcmp(request, "ATI") == 0)
        say(a, "FUZZ v1\r");
    else if (strcmp(request, "ATDPN") == 0)
        say(a, "A6\r");
    else if (strncmp(request, "AT", 2) == 0)
        say(a, "OK\r");
    else if (strncmp(request, "01", 2) == 0)
        live(a, request + 2);
    else if (strncmp(request, "03", 2) == 0)
        say_message(a, a->codes ? one : none, a->codes ? sizeof one : sizeof none);
    else
        say(a, "NO DATA\r");
    say(a, "\r>");
}

void answerer_hear(struct answerer *a, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (bytes[i] != '\r') {
            if (a->line_n < sizeof a->line - 1)
                a->line[a->line_n++] = bytes[i];
            continue;
        }
        a->line[a->line_n] = '\0';
        /* An odd number of digits ends in the expected-reply count. */
        a->line_n = 0;
        if (!a->mute)
            answer(a, a->line);
    }
}

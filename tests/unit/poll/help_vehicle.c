/* The vehicle behind the scripted adapter: what its ECUs answer, as frames of its bus. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_adapter.h"

/* ---- the vehicle ---- */

static bool has(const char *list, unsigned pid)
{
    char text[4];
    snprintf(text, sizeof text, "%02X", pid);
    return list && strstr(list, text);
}

static size_t mask(const char *list, unsigned pid, uint8_t *out)
{
    memset(out, 0, 4);
    for (unsigned i = 1; i <= 32; i++)
        if (pid + i <= 0xFF && has(list, pid + i))
            out[(i - 1) / 8] |= (uint8_t)(0x80 >> (i - 1) % 8);
    return 4;
}

static size_t put(uint8_t *out, size_t n, const char *bytes)
{
    memcpy(out, bytes, n);
    return n;
}

static size_t pid_data(struct fake *f, const struct fake_ecu *u, unsigned pid, uint8_t *out)
{
    if (pid % 0x20 == 0)
        return pid == 0 || has(u->pids, pid) ? mask(u->pids, pid, out) : 0;
    if (!has(u->pids, pid) || has(f->no_data, pid))
        return 0;
    switch (pid) {
    case 0x01:
        return put(out, 4, "\x81\x07\x65\x04");
    case 0x03:
        return put(out, 2, "\x02\x00");
    case 0x0C:
        return put(out, 2, u == &f->ecus[0] ? "\x0B\xB8" : "\x0F\xA0");
    case 0x10:
        return put(out, 2, "\x01\x2C");
    case 0x13:
        return put(out, 1, "\x03");
    case 0x14:
    case 0x15:
    case 0x18:
    case 0x19:
        out[0] = (uint8_t)(f->counter++ % 200);
        f->taken_us[out[0]] = f->taking_us;
        out[1] = pid % 4 == 0 ? 0x80 : 0xFF;
        return 2;
    case 0x1F:
    case 0x3C:
        return put(out, 2, "\x12\x34");
    case 0x25: /* a lambda that stands still beside a voltage that moves */
        memcpy(out, "\x80\x00\x20", 3);
        out[3] = (uint8_t)f->counter++;
        return 4;
    case 0x34:
    case 0x35:
    case 0x38:
        return put(out, 4, "\x80\x00\x80\x00");
    case 0x4F:
        return put(out, 4, f->scaling ? f->scaling : "\x00\x00\x00\x00");
    case 0x66:
        return put(out, 5, "\x01\x00\x60\x00\x00");
    default:
        return put(out, 1, "\x82");
    }
}

/* ---- frames ---- */

static int64_t frame(struct fake *f, const char *id, const uint8_t *b, size_t n, int64_t t_us)
{
    char text[64] = "";
    size_t at = 0;
    const char *gap = f->spaces ? " " : "";
    if (f->headers)
        at += (size_t)snprintf(text, sizeof text, "%s%s", id, gap);
    for (size_t i = 0; i < n; i++)
        at += (size_t)snprintf(text + at, sizeof text - at, "%02X%s", b[i], gap);
    if (f->spoil)
        text[5] = '\xF0';
    f->spoil = false;
    return fake_line(f, text, t_us);
}

/* Sends one message as frames; stops when *left reaches 0. */
static int64_t can_message(struct fake *f, const struct fake_ecu *u, const uint8_t *d, size_t n,
                           unsigned *left, int64_t t_us)
{
    uint8_t b[8];
    size_t at = 0;
    if (!f->headers && n <= 7) { /* then without the protocol control byte too */
        --*left;
        return frame(f, "", d, n, t_us);
    }
    for (unsigned k = 0; at < n && *left; k++, --*left) {
        memset(b, 0xAA, sizeof b);
        size_t head = n <= 7 || k ? 1 : 2;
        size_t part = n - at < 8 - head ? n - at : 8 - head;
        b[0] = (uint8_t)(n <= 7 ? n : k ? 0x20 | (k & 15) : 0x10 | n >> 8);
        if (head == 2)
            b[1] = (uint8_t)n;
        memcpy(b + head, d + at, part);
        at += part;
        t_us = frame(f, u->id, b, f->bare ? head + part : sizeof b, t_us + 250);
    }
    return t_us;
}

static int64_t bus_message(struct fake *f, const struct fake_ecu *u, const uint8_t *d, size_t n,
                           unsigned *left, int64_t t_us)
{
    uint8_t b[16] = {0x48, 0x6B, (uint8_t)strtoul(u->id, NULL, 16)};
    unsigned sum = 0;
    if (!*left)
        return t_us;
    --*left;
    memcpy(b + 3, d, n);
    for (size_t i = 0; i < 3 + n; i++)
        sum += b[i];
    b[3 + n] = (uint8_t)sum;
    bool headers = f->headers;
    f->headers = false; /* its header is in the bytes */
    t_us = headers ? frame(f, "", b, n + 4, t_us) : frame(f, "", d, n, t_us);
    f->headers = headers;
    return t_us;
}

int64_t fake_message(struct fake *f, const struct fake_ecu *u, const uint8_t *d, size_t n,
                     unsigned *left, int64_t t_us)
{
    return f->protocol >= 6 ? can_message(f, u, d, n, left, t_us)
                            : bus_message(f, u, d, n, left, t_us);
}

static int64_t answer_live(struct fake *f, const struct fake_ecu *u, const uint8_t *req, size_t n,
                           unsigned *left, int64_t t_us)
{
    uint8_t d[64] = {0x41};
    size_t at = 1;
    f->taking_us = t_us;
    for (size_t i = 1; i < n; i++) {
        size_t len = pid_data(f, u, req[i], d + at + 1);
        if (!len)
            continue;
        d[at] = req[i];
        at += 1 + len;
        if (f->first_pid_only)
            break;
    }
    return at > 1 ? fake_message(f, u, d, at, left, t_us) : t_us;
}

static int64_t answer_vin(struct fake *f, const struct fake_ecu *u, unsigned *left, int64_t t_us)
{
    uint8_t d[20] = {0x49, 0x02, 0x01};
    if (!u->vin)
        return t_us;
    if (f->protocol >= 6) {
        memcpy(d + 3, u->vin, 17);
        return fake_message(f, u, d, 20, left, t_us);
    }
    char padded[20] = {0};
    memcpy(padded + 3, u->vin, 17);
    for (unsigned k = 0; k < 5; k++) {
        d[2] = (uint8_t)(k + 1);
        memcpy(d + 3, padded + 4 * k, 4);
        t_us = fake_message(f, u, d, 7, left, t_us + 30000);
    }
    return t_us;
}

/* Service 09 on CAN (SAE J1979): what there is, the VIN, one calibration and its verification
 * number, which are each ECU's own. Else the VIN only. */
static int64_t answer_info(struct fake *f, const struct fake_ecu *u, const uint8_t *req,
                           unsigned *left, int64_t t_us)
{
    uint8_t d[20] = {0x49, req[1], 0x01};
    if (f->protocol < 6 || req[1] == 0x02)
        return req[1] == 0x02 ? answer_vin(f, u, left, t_us) : t_us;
    switch (req[1]) {
    case 0x00:
        return fake_message(f, u, (const uint8_t *)"\x49\x00\x54\x00\x00\x00", 6, left, t_us);
    case 0x04:
        snprintf((char *)d + 3, sizeof d - 3, "CAL %-12.12s", u->id);
        d[19] = ' ';
        return fake_message(f, u, d, sizeof d - 1, left, t_us);
    case 0x06:
        memcpy(d + 3, "\x12\x34\xAB", 3);
        d[6] = (uint8_t)strtoul(u->id, NULL, 16);
        return fake_message(f, u, d, 7, left, t_us);
    default:
        return t_us;
    }
}

/* Service 02: one PID, frame 00; PID 02 names the code that stored it (SAE J1979). */
static int64_t answer_frozen(struct fake *f, const struct fake_ecu *u, const uint8_t *req,
                             unsigned *left, int64_t t_us)
{
    uint8_t d[16] = {0x42, req[1], req[2]};
    size_t n = 0;
    struct fake_ecu frozen = {u->id, f->frozen, NULL};
    if (!f->frozen)
        return t_us;
    n = req[1] == 0x02 ? put(d + 3, 2, "\x04\x20") : pid_data(f, &frozen, req[1], d + 3);
    return n ? fake_message(f, u, d, 3 + n, left, t_us) : t_us;
}

/* Service 06 on CAN (SAE J1979): a mask, or tests of the monitor, counted, between 0 and 0100. */
static int64_t answer_monitor(struct fake *f, const struct fake_ecu *u, const uint8_t *req,
                              unsigned *left, int64_t t_us)
{
    enum { RECORD = 9, MOST = 76 }; /* it sends 100 frames */
    uint8_t d[1 + RECORD * MOST] = {0x46, req[1]};
    const char *list = f->monitors[u - f->ecus];
    if (!list || (req[1] && !has(list, req[1])))
        return t_us;
    if (req[1] % 0x20 == 0)
        return fake_message(f, u, d, 2 + mask(list, req[1], d + 2), left, t_us);
    unsigned n = f->monitor_tests ? f->monitor_tests : 1;
    for (unsigned i = 0; i < n && i < MOST; i++) {
        const uint8_t record[RECORD] = {req[1], (uint8_t)(1 + i), 0x24, 0, 0x10, 0, 0, 0x01, 0};
        memcpy(d + 1 + (size_t)RECORD * i, record, RECORD);
    }
    return fake_message(f, u, d, 1 + (size_t)RECORD * n, left, t_us);
}

static int64_t answer(struct fake *f, const struct fake_ecu *u, const uint8_t *req, size_t n,
                      unsigned *left, int64_t t_us)
{
    static const uint8_t can_codes[] = {0x43, 0x01, 0x04, 0x20}, bus_none[7] = {0x43};
    uint8_t d[8];
    switch (req[0]) {
    case 0x01:
        if (f->refuse_pid && req[1] == f->refuse_pid)
            return fake_message(f, u, (const uint8_t *)"\x7F\x01\x12", 3, left, t_us);
        return answer_live(f, u, req, n, left, t_us);
    case 0x02:
        return answer_frozen(f, u, req, left, t_us);
    case 0x03:
    case 0x07:
    case 0x0A:
        if (f->protocol < 6) {
            memcpy(d, bus_none, 7);
            d[0] = (uint8_t)(req[0] + 0x40);
            return fake_message(f, u, d, 7, left, t_us);
        }
        if (req[0] == 0x03 && u == &f->ecus[0])
            return fake_message(f, u, can_codes, 4, left, t_us);
        d[0] = (uint8_t)(req[0] + 0x40);
        d[1] = 0;
        return fake_message(f, u, d, 2, left, t_us);
    case 0x06:
        return answer_monitor(f, u, req, left, t_us);
    case 0x09:
        return answer_info(f, u, req, left, t_us);
    default:
        return t_us;
    }
}

int64_t fake_answers(struct fake *f, const uint8_t *req, size_t n, unsigned *left, int64_t t_us)
{
    for (unsigned i = 0; i < f->ecus_n; i++)
        t_us = answer(f, &f->ecus[i], req, n, left, t_us);
    return t_us;
}

/* The vehicle's bus. Times: ISO 15765-4 and -2 for CAN, ISO 9141-2 / ISO 14230-2 for K-line
 * (P1 gap inside an answer, P2 before it, P3 before the next request, P4 gap inside the
 * tester's request), SAE J1850 rates.
 */
#include "sim/adapter.h"
#include "sim/ecu.h"

#include <math.h>
#include <string.h>

enum {
    P1_US = 1000,
    P2_MIN_MS = 25,
    P2_MAX_MS = 50,
    P3_US = 55000,
    P4_US = 5000,
    KLINE_BYTE_US = 962,     /* ten bits at 10400 baud */
    CAN_SEPARATION_US = 300, /* the ECU's pace between consecutive frames */
    CAN_TURN_US = 100        /* from a first frame to our flow control */
};

enum { PWM = 1, VPW = 2, ISO9141 = 3, KWP_SLOW = 4, KWP_FAST = 5 };

bool oxl_ad_is_can(unsigned protocol)
{
    return protocol >= 6 && protocol <= 9;
}

bool oxl_ad_is_can29(unsigned protocol)
{
    return protocol == 7 || protocol == 9;
}

bool oxl_ad_is_kline(unsigned protocol)
{
    return protocol >= ISO9141 && protocol <= KWP_FAST;
}

/* Eight data bytes with the mean number of stuff bits: about 125 and 145 bits. */
static int64_t can_frame_us(unsigned protocol)
{
    int64_t bits = oxl_ad_is_can29(protocol) ? 145 : 125;
    return protocol >= 8 ? bits * 4 : bits * 2;
}

static int64_t j1850_us(unsigned protocol, size_t bytes)
{
    double rate = protocol == PWM ? 41600.0 : 10400.0;
    return llround((double)bytes * 8e6 / rate);
}

static int64_t kline_us(size_t bytes, int64_t gap_us)
{
    return (int64_t)bytes * (KLINE_BYTE_US + gap_us) - gap_us;
}

/* bytes: payload; three header bytes and a checksum go with it off CAN. */
int64_t oxl_ad_bus_request_us(unsigned protocol, size_t bytes)
{
    if (oxl_ad_is_can(protocol))
        return can_frame_us(protocol);
    return oxl_ad_is_kline(protocol) ? kline_us(bytes + 4, P4_US) : j1850_us(protocol, bytes + 4);
}

int64_t oxl_ad_bus_message_us(unsigned protocol, size_t bytes)
{
    if (oxl_ad_is_can(protocol))
        return can_frame_us(protocol);
    return oxl_ad_is_kline(protocol) ? kline_us(bytes + 4, P1_US) : j1850_us(protocol, bytes + 4);
}

int64_t oxl_ad_bus_next_frame_us(unsigned protocol, bool after_first)
{
    int64_t frame = can_frame_us(protocol);
    return (after_first ? CAN_TURN_US + frame : 0) + CAN_SEPARATION_US + frame;
}

int64_t oxl_ad_bus_gap_us(unsigned protocol)
{
    return oxl_ad_is_kline(protocol) ? P3_US : 0;
}

/* 5-baud address byte, synchronisation and key bytes; or the 50 ms pulse and its exchange. */
int64_t oxl_ad_bus_init_us(unsigned protocol)
{
    return protocol == KWP_FAST ? 200000 : 2600000;
}

void oxl_ad_answer_range_ms(const struct oxl_adapter *a, double *min, double *max)
{
    *min = a->ecu.answer_ms_min;
    *max = a->ecu.answer_ms_max;
    if (oxl_ad_is_kline(a->set.protocol)) {
        *min = fmin(fmax(*min, P2_MIN_MS), P2_MAX_MS);
        *max = fmin(fmax(*max, P2_MIN_MS), P2_MAX_MS);
    }
    *max = fmax(*max, *min);
}

static int64_t answer_delay_us(struct oxl_adapter *a)
{
    double min, max;
    oxl_ad_answer_range_ms(a, &min, &max);
    return llround(1000.0 * (min + (max - min) * oxl_random_unit(&a->chance)));
}

/* ---- which ECUs hear a request ---- */

static const uint8_t ecu_address[OXL_AD_ECUS] = {0x10, 0x18};

static bool hears_can11(uint32_t header, unsigned ecu)
{
    return header == 0x7DF || header == 0x7E0 + ecu;
}

static bool hears_can29(uint32_t header, unsigned ecu)
{
    return header == 0x18DB33F1 || header == (0x18DA00F1U | (uint32_t)ecu_address[ecu] << 8);
}

/* Target byte in the middle: functional 6A (33 in ISO 14230-4), or the ECU's own address. */
static bool hears_bytes(uint32_t header, unsigned ecu)
{
    uint8_t target = (uint8_t)(header >> 8);
    return target == 0x6A || target == 0x33 || target == ecu_address[ecu];
}

static bool hears(const struct oxl_adapter *a, unsigned ecu)
{
    const struct oxl_ad_dialect *d = &a->dialect;
    if (ecu > 0 && !a->ecu.second_ecu && !a->ecu.twin_ecu)
        return false;
    if (d->header_digits == 0)
        return true;
    if (!oxl_ad_is_can(a->set.protocol))
        return d->header_digits == 6 && hears_bytes(d->header, ecu);
    if (!oxl_ad_is_can29(a->set.protocol))
        return d->header_digits == 3 && hears_can11(d->header, ecu);
    uint32_t full = d->header_digits == 6 ? 0x18000000U | d->header : d->header;
    return d->header_digits >= 6 && hears_can29(full, ecu);
}

/* What the ECUs make of the bytes on the bus: with formatting off the tester wrote the PCI
 * itself, and a wrong one is not understood. */
static size_t payload_of(const struct oxl_adapter *a, const uint8_t **bytes)
{
    *bytes = a->last;
    if (a->dialect.formatting || !oxl_ad_is_can(a->set.protocol))
        return a->last_len;
    *bytes = a->last + 1;
    size_t n = a->last[0];
    return n >= 1 && n <= 7 && n < a->last_len ? n : 0;
}

/* A ECU takes its requests in turn. Off CAN the tester's request cuts off who has not begun. */
static void ask(struct oxl_adapter *a, unsigned ecu, const uint8_t *bytes, size_t len,
                int64_t from_us)
{
    struct oxl_ad_ask *slot = NULL;
    int64_t at_us = from_us + answer_delay_us(a);
    for (size_t i = 0; i < OXL_AD_ASKS; i++) {
        struct oxl_ad_ask *k = &a->bus.ask[i];
        if (!k->waiting)
            slot = k;
        else if (k->ecu == ecu && k->at_us > at_us)
            at_us = k->at_us;
    }
    if (!slot)
        return;
    *slot = (struct oxl_ad_ask){.waiting = true, .ecu = ecu, .at_us = at_us, .len = len};
    memcpy(slot->req, bytes, len);
    if (oxl_ad_chance(a, a->ecu.late_pct))
        slot->hold_us = llround(1000.0 * a->ecu.late_ms);
}

static void note_heard(struct oxl_adapter *a, const uint8_t *bytes, size_t len)
{
    if (len == 0 || !a->ecu.answers)
        return;
    a->heard[bytes[0]]++;
    a->changing[bytes[0]] += oxl_ecu_would_change(bytes, len);
}

static uint64_t of_service(const uint64_t count[256], uint8_t service)
{
    uint64_t sum = count[service];
    for (unsigned i = 1; service == 0 && i < 256; i++)
        sum += count[i];
    return sum;
}

uint64_t oxl_adapter_heard(const struct oxl_adapter *a, uint8_t service)
{
    return of_service(a->heard, service);
}

uint64_t oxl_adapter_changing(const struct oxl_adapter *a, uint8_t service)
{
    return of_service(a->changing, service);
}

int64_t oxl_ad_bus_send(struct oxl_adapter *a, int64_t t_us)
{
    struct oxl_ad_bus *b = &a->bus;
    int64_t from = b->quiet_from_us + oxl_ad_bus_gap_us(a->set.protocol);
    if (from < t_us)
        from = t_us;
    int64_t end = from + oxl_ad_bus_request_us(a->set.protocol, a->last_len);
    const uint8_t *bytes;
    size_t len = payload_of(a, &bytes);
    b->quiet_from_us = end;
    note_heard(a, bytes, len);
    for (size_t i = 0; i < OXL_AD_ASKS && !oxl_ad_is_can(a->set.protocol); i++)
        b->ask[i].waiting = false;
    for (unsigned u = 0; u < OXL_AD_ECUS; u++)
        if (len > 0 && hears(a, u))
            ask(a, u, bytes, len, end);
    return end;
}

/* ---- answers ---- */

static void queue_frame(struct oxl_ad_bus *b, const struct oxl_ad_frame *f)
{
    if (b->frames == OXL_AD_FRAMES)
        return;
    size_t i = b->frames++;
    for (; i > 0 && b->frame[i - 1].end_us > f->end_us; i--)
        b->frame[i] = b->frame[i - 1];
    b->frame[i] = *f;
}

static struct oxl_ad_frame can_frame(const struct oxl_adapter *a, unsigned ecu, int64_t end_us)
{
    struct oxl_ad_frame f = {.end_us = end_us, .ecu = ecu, .len = 8};
    f.id = oxl_ad_is_can29(a->set.protocol) ? 0x18DAF100U | ecu_address[ecu] : 0x7E8U + ecu;
    return f;
}

/* ISO 15765-2: single frame up to seven bytes, else a first frame that waits for flow control. */
static void answer_can(struct oxl_adapter *a, unsigned ecu, const struct oxl_ecu_answer *ans,
                       int64_t t_us)
{
    struct oxl_ad_message *m = &a->bus.message[ecu];
    struct oxl_ad_frame f = can_frame(a, ecu, t_us + can_frame_us(a->set.protocol));
    if (ans->len <= 7) {
        f.data[0] = (uint8_t)ans->len;
        memcpy(f.data + 1, ans->data, ans->len);
        oxl_ad_pad(a, &f, 1 + ans->len);
    } else {
        f.first_of_many = true;
        f.data[0] = (uint8_t)(0x10U | ans->len >> 8);
        f.data[1] = (uint8_t)ans->len;
        memcpy(f.data + 2, ans->data, 6);
        memcpy(m->data, ans->data, ans->len);
        m->len = ans->len;
    }
    queue_frame(&a->bus, &f);
}

void oxl_ad_flow_control(struct oxl_adapter *a, const struct oxl_ad_frame *first)
{
    const struct oxl_ad_message *m = &a->bus.message[first->ecu];
    int64_t t_us = first->end_us;
    unsigned number = 1;
    for (size_t done = 6; done < m->len; done += 7, number++) {
        size_t n = m->len - done < 7 ? m->len - done : 7;
        t_us += oxl_ad_bus_next_frame_us(a->set.protocol, number == 1);
        struct oxl_ad_frame f = can_frame(a, first->ecu, t_us);
        f.data[0] = (uint8_t)(0x20U | (number & 15));
        memcpy(f.data + 1, m->data + done, n);
        oxl_ad_pad(a, &f, 1 + n);
        queue_frame(&a->bus, &f);
    }
}

static uint8_t sum_of(const uint8_t *bytes, size_t n)
{
    uint8_t sum = 0;
    for (size_t i = 0; i < n; i++)
        sum = (uint8_t)(sum + bytes[i]);
    return sum;
}

/* SAE J1850: polynomial 1D, start FF, inverted. */
static uint8_t crc_of(const uint8_t *bytes, size_t n)
{
    unsigned crc = 0xFF;
    for (size_t i = 0; i < n; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = crc & 0x80 ? (crc << 1 ^ 0x1D) & 0xFF : crc << 1;
    }
    return (uint8_t)~crc;
}

/* Header, payload, checksum. */
static void wrap_bytes(const struct oxl_adapter *a, unsigned ecu, const struct oxl_ecu_answer *ans,
                       struct oxl_ad_frame *f)
{
    const unsigned protocol = a->set.protocol;
    size_t n = ans->len < OXL_AD_FRAME - 4 ? ans->len : OXL_AD_FRAME - 4;
    const bool kwp = protocol == KWP_SLOW || protocol == KWP_FAST;
    f->data[0] = (uint8_t)(kwp ? 0x80U | n : protocol == PWM ? 0x41U : 0x48U);
    f->data[1] = kwp ? 0xF1 : 0x6B;
    f->data[2] = ecu_address[ecu];
    memcpy(f->data + 3, ans->data, n);
    f->data[n + 3] = oxl_ad_is_kline(protocol) ? sum_of(f->data, n + 3) : crc_of(f->data, n + 3);
    f->len = (uint8_t)(n + 4);
}

static void answer_bytes(struct oxl_adapter *a, unsigned ecu, const struct oxl_ecu_answer *ans,
                         int64_t *t_us)
{
    struct oxl_ad_frame f = {.ecu = ecu};
    wrap_bytes(a, ecu, ans, &f);
    f.end_us = *t_us + oxl_ad_bus_message_us(a->set.protocol, f.len - 4U);
    queue_frame(&a->bus, &f);
    a->bus.quiet_from_us = f.end_us;
    *t_us = f.end_us + answer_delay_us(a);
}

/* ISO 15765-4, ISO 14230-4: received, response pending; the answer follows later. */
static void say_pending(struct oxl_adapter *a, struct oxl_ad_ask *k)
{
    struct oxl_ecu_answer ans = {.data = {0x7F, k->req[0], 0x78}, .len = 3};
    int64_t t_us = k->at_us;
    if (oxl_ad_is_can(a->set.protocol))
        answer_can(a, k->ecu, &ans, t_us);
    else
        answer_bytes(a, k->ecu, &ans, &t_us);
    k->pended = true;
    k->at_us = t_us + llround(1000.0 * a->ecu.pending_ms);
}

/* What the ECU knows now is what it will say, however late. */
static void take_values(struct oxl_adapter *a, struct oxl_ad_ask *k)
{
    struct oxl_readout r;
    a->hooks.readout(a->hooks.ctx, k->at_us, &r);
    k->answers = oxl_ecu_answers(&a->ecu, &r, oxl_ad_is_can(a->set.protocol), k->req, k->len,
                                 k->answer, OXL_AD_ANSWERS);
    bool mask = k->req[0] == 0x01 && k->len == 2 && k->req[1] && k->req[1] % 0x20 == 0;
    if (mask && a->ecu.mask_losses) {
        a->ecu.mask_losses--;
        k->answers = 0;
    }
    k->ready = true;
}

static uint32_t address_of(const struct oxl_adapter *a, unsigned ecu)
{
    return oxl_ad_is_can(a->set.protocol) ? 0x7E8U + ecu : ecu_address[ecu];
}

static void send_answers(struct oxl_adapter *a, struct oxl_ad_ask *k)
{
    const bool can = oxl_ad_is_can(a->set.protocol);
    const uint32_t address = address_of(a, k->ecu);
    int64_t t_us = k->at_us;
    k->waiting = false;
    for (size_t i = 0; i < k->answers; i++) {
        if (k->answer[i].ecu != address)
            continue;
        if (can)
            answer_can(a, k->ecu, &k->answer[i], t_us);
        else
            answer_bytes(a, k->ecu, &k->answer[i], &t_us);
    }
}

/* Nobody promises what it does not have: such a request is met by silence (ISO 15031-5). */
static bool has_answer(const struct oxl_adapter *a, const struct oxl_ad_ask *k)
{
    for (size_t i = 0; i < k->answers; i++)
        if (k->answer[i].ecu == address_of(a, k->ecu))
            return true;
    return false;
}

static void ecu_answers(struct oxl_adapter *a, struct oxl_ad_ask *k)
{
    if (!k->ready)
        take_values(a, k);
    if (!k->pended && oxl_ad_chance(a, a->ecu.pending_pct) && has_answer(a, k)) {
        say_pending(a, k);
    } else if (k->hold_us > 0) {
        k->at_us += k->hold_us;
        k->hold_us = 0;
    } else {
        send_answers(a, k);
    }
}

/* ---- order of events ---- */

static int next_ask(const struct oxl_ad_bus *b)
{
    int next = -1;
    for (int i = 0; i < OXL_AD_ASKS; i++)
        if (b->ask[i].waiting && (next < 0 || b->ask[i].at_us < b->ask[next].at_us))
            next = i;
    return next;
}

int64_t oxl_ad_bus_next_us(const struct oxl_adapter *a)
{
    const struct oxl_ad_bus *b = &a->bus;
    int i = next_ask(b);
    int64_t t = i < 0 ? INT64_MAX : b->ask[i].at_us;
    return b->frames > 0 && b->frame[0].end_us < t ? b->frame[0].end_us : t;
}

/* One wire only: a second ECU waits P2 after the first one's answer. */
static bool wire_taken(const struct oxl_adapter *a, int64_t t_us)
{
    int64_t p2_us = oxl_ad_is_kline(a->set.protocol) ? P2_MIN_MS * 1000 : 0;
    return !oxl_ad_is_can(a->set.protocol) && t_us < a->bus.quiet_from_us + p2_us;
}

void oxl_ad_bus_step(struct oxl_adapter *a)
{
    struct oxl_ad_bus *b = &a->bus;
    int i = next_ask(b);
    struct oxl_ad_ask *k = i < 0 ? NULL : &b->ask[i];
    if (b->frames > 0 && (!k || b->frame[0].end_us <= k->at_us)) {
        struct oxl_ad_frame f = b->frame[0];
        b->frames--;
        memmove(b->frame, b->frame + 1, b->frames * sizeof b->frame[0]);
        oxl_ad_frame_in(a, &f);
    } else if (k && wire_taken(a, k->at_us)) {
        k->at_us = b->quiet_from_us + answer_delay_us(a);
    } else if (k) {
        ecu_answers(a, k);
    }
}

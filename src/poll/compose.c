/* What is written for a request: in which order, with or without the reply count, and whether the
 * adapter's echo has to prove it. */
#include "inside.h"

#include <string.h>

#include "safe_request.h"

/* ---- the text ---- */

static char *put_hex(char *at, uint8_t byte)
{
    static const char digits[] = "0123456789ABCDEF";
    *at++ = digits[byte >> 4];
    *at++ = digits[byte & 0x0F];
    return at;
}

static void write_text(struct oxl_exchange *ex, unsigned digit)
{
    char *at = put_hex(ex->text, ex->service);
    for (unsigned i = 0; i < ex->n; i++)
        at = put_hex(at, ex->pids[i]);
    if (digit)
        *at++ = (char)('0' + digit); /* 9 at most */
    *at = '\0';
    ex->counted = digit != 0;
}

/* ---- orders ---- */

/* Only the PIDs of service 01 may change places. */
static bool has_order(const struct oxl_exchange *ex)
{
    return ex->service == 0x01 && ex->n > 1;
}

static unsigned order_count(const struct oxl_exchange *ex)
{
    return has_order(ex) ? ex->n * (ex->n - 1) : 1;
}

/* Each PID in front once, the others behind it in turn: enough to find an order where there is
 * one, and a small part of all. Order 0 is the given one. */
static void arrange(struct oxl_exchange *ex, const uint8_t *pids, unsigned order)
{
    unsigned n = ex->n, first = has_order(ex) ? order / (n - 1) : 0;
    unsigned turn = has_order(ex) ? order % (n - 1) : 0;
    for (unsigned i = 0; i < n; i++) {
        unsigned place = i == 0 ? 0 : 1 + (i - 1 + turn) % (n - 1);
        ex->pids[i] = pids[(first + place) % n];
    }
}

/* Leaves the first order that stands, or the given one. With the same PID in front none of the
 * others does, as only that one stands next to the service. */
static bool find_order(struct oxl_exchange *ex, unsigned digit, enum oxl_threat threat, bool tails)
{
    const unsigned turns = has_order(ex) ? ex->n - 1 : 1;
    uint8_t pids[OXL_POLL_PIDS];
    memcpy(pids, ex->pids, sizeof pids);
    for (unsigned order = 0; order < order_count(ex); order++) {
        arrange(ex, pids, order);
        write_text(ex, digit);
        if (!oxl_request_stands(ex->text, threat))
            order += turns - 1 - order % turns;
        else if (!tails || oxl_request_tails_stand(ex->text))
            return true;
    }
    memcpy(ex->pids, pids, sizeof pids);
    write_text(ex, digit);
    return false;
}

/* ---- what is needed ---- */

/* An adapter without echo is believed to have a sound line until the first sign that it has not:
 * single PIDs do not stand against a wrong bit, and there would be no test at all. */
static enum oxl_threat threat_of(const struct oxl_poll *p)
{
    if (p->damage_seen)
        return OXL_THREAT_NEIGHBOURS;
    if (!p->echoes)
        return OXL_THREAT_LOSS;
    return oxl_protocol_is_can(p->vehicle.protocol) ? OXL_THREAT_BIT : OXL_THREAT_NEIGHBOURS;
}

/* Without echo: without the count, then with fewer PIDs, unless their number is what is asked. */
static bool without_proof(const struct oxl_poll *p, struct oxl_exchange *ex, unsigned digit,
                          enum oxl_threat threat)
{
    for (;; ex->n--) {
        if (find_order(ex, digit, threat, false) || find_order(ex, 0, threat, false))
            return true;
        if (!has_order(ex) || p->stage != OXL_STAGE_LIVE)
            return false;
    }
}

static bool compose_as_before(struct oxl_exchange *ex, unsigned digit);

bool oxl_poll_compose(const struct oxl_poll *p, struct oxl_exchange *ex, unsigned digit)
{
    const enum oxl_threat threat = threat_of(p);
    ex->proof = false;
    if (p->config.unproven)
        return compose_as_before(ex, digit);
    /* A shape stands against one damage; where they are frequent there may be two. */
    if (p->prove_all && p->echoes) {
        write_text(ex, digit);
        ex->proof = true;
        return true;
    }
    if (find_order(ex, digit, OXL_THREAT_NEIGHBOURS, true))
        return true;
    if (threat < OXL_THREAT_NEIGHBOURS && find_order(ex, digit, threat, true))
        return true;
    ex->proof = p->echoes;
    return p->echoes || without_proof(p, ex, digit, threat);
}

bool oxl_poll_stands(const struct oxl_poll *p, const uint8_t *pids, unsigned n, unsigned digit)
{
    struct oxl_exchange ex = {.service = 0x01, .n = n};
    memcpy(ex.pids, pids, n);
    return oxl_poll_compose(p, &ex, digit) && !ex.proof && ex.n == n;
}

bool oxl_poll_may_send(const struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n)
{
    struct oxl_exchange ex = {.service = service, .n = n};
    memcpy(ex.pids, pids, n);
    if (p->config.unproven) { /* see below */
        bool sensor = service == 0x05 && n > 1;
        uint8_t pid = sensor ? pids[1] : pids[0];
        return (pid != 0x04 && !(sensor && pid == 0x40)) ||
               (!p->line_doubted && oxl_poll_spoilt_so_far(p) == p->survey_spoilt);
    }
    return oxl_poll_compose(p, &ex, 0);
}

/* ---- as it was before requests were proven: only to replay what was recorded then ---- */

static bool is_harmless(const char *text)
{
    for (const char *c = text + 1; c[0] && c[1]; c++)
        if (c[0] == '0' && c[1] == '4')
            return false;
    return true;
}

static void rotate(struct oxl_exchange *ex)
{
    uint8_t first = ex->pids[0];
    memmove(ex->pids, ex->pids + 1, ex->n - 1);
    ex->pids[ex->n - 1] = first;
}

static bool compose_as_before(struct oxl_exchange *ex, unsigned digit)
{
    for (;; digit = 0) {
        for (unsigned i = 0; i < ex->n || i == 0; i++) {
            write_text(ex, digit);
            if (is_harmless(ex->text))
                return true;
            if (has_order(ex))
                rotate(ex);
        }
        if (digit)
            continue;
        if (!has_order(ex))
            return true;
        ex->n--;
    }
}

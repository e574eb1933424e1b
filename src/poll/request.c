/* What is written for a request: in which order, with or without the reply count, and whether the
 * adapter's echo has to prove it. */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

#include "safe_request.h"

void oxl_poll_request_command(struct oxl_poll *p, const char *command)
{
    memset(&p->request, 0, sizeof p->request);
    snprintf(p->request.text, sizeof p->request.text, "%s", command);
}

void oxl_poll_request_pids(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n)
{
    p->request = (struct oxl_poll_request){.service = service, .n = n};
    if (n)
        memcpy(p->request.pids, pids, n);
}

bool oxl_poll_request_write(struct oxl_poll *p, unsigned digit)
{
    return oxl_poll_compose(p, &p->request, digit);
}

/* ---- the text ---- */

static char *put_hex(char *at, uint8_t byte)
{
    static const char digits[] = "0123456789ABCDEF";
    *at++ = digits[byte >> 4];
    *at++ = digits[byte & 0x0F];
    return at;
}

static void write_text(struct oxl_poll_request *r, unsigned digit)
{
    char *at = put_hex(r->text, r->service);
    for (unsigned i = 0; i < r->n; i++)
        at = put_hex(at, r->pids[i]);
    if (digit)
        *at++ = (char)('0' + digit); /* 9 at most */
    *at = '\0';
    r->counted = digit != 0;
}

/* ---- orders ---- */

/* Only the PIDs of service 01 may change places. */
static bool has_order(const struct oxl_poll_request *r)
{
    return r->service == 0x01 && r->n > 1;
}

static unsigned order_count(const struct oxl_poll_request *r)
{
    return has_order(r) ? r->n * (r->n - 1) : 1;
}

/* Each PID in front once, the others behind it in turn: enough to find an order where there is
 * one, and a small part of all. Order 0 is the given one. */
static void arrange(struct oxl_poll_request *r, const uint8_t *pids, unsigned order)
{
    unsigned n = r->n, first = has_order(r) ? order / (n - 1) : 0;
    unsigned turn = has_order(r) ? order % (n - 1) : 0;
    for (unsigned i = 0; i < n; i++) {
        unsigned place = i == 0 ? 0 : 1 + (i - 1 + turn) % (n - 1);
        r->pids[i] = pids[(first + place) % n];
    }
}

/* Leaves the first order that stands, or the given one. With the same PID in front none of the
 * others does, as only that one stands next to the service. */
static bool find_order(struct oxl_poll_request *r, unsigned digit, enum oxl_threat threat,
                       bool tails)
{
    const unsigned turns = has_order(r) ? r->n - 1 : 1;
    uint8_t pids[OXL_POLL_PIDS];
    memcpy(pids, r->pids, sizeof pids);
    for (unsigned order = 0; order < order_count(r); order++) {
        arrange(r, pids, order);
        write_text(r, digit);
        if (!oxl_request_stands(r->text, threat))
            order += turns - 1 - order % turns;
        else if (!tails || oxl_request_tails_stand(r->text))
            return true;
    }
    memcpy(r->pids, pids, sizeof pids);
    write_text(r, digit);
    return false;
}

/* ---- what is needed ---- */

/* An adapter without echo is believed to have a sound line until the first sign that it has not:
 * single PIDs do not stand against a wrong bit, and there would be no test at all. */
static enum oxl_threat threat_of(const struct oxl_poll *p)
{
    if (p->echo.damage_seen)
        return OXL_THREAT_NEIGHBOURS;
    if (!p->echo.able)
        return OXL_THREAT_LOSS;
    return oxl_protocol_is_can(p->vehicle.protocol) ? OXL_THREAT_BIT : OXL_THREAT_NEIGHBOURS;
}

/* Without echo: without the count, then with fewer PIDs, unless their number is what is asked. */
static bool without_proof(const struct oxl_poll *p, struct oxl_poll_request *r, unsigned digit,
                          enum oxl_threat threat)
{
    for (;; r->n--) {
        if (find_order(r, digit, threat, false) || find_order(r, 0, threat, false))
            return true;
        if (!has_order(r) || p->stage != OXL_STAGE_LIVE)
            return false;
    }
}

static bool compose_as_before(struct oxl_poll_request *r, unsigned digit);

bool oxl_poll_compose(const struct oxl_poll *p, struct oxl_poll_request *r, unsigned digit)
{
    const enum oxl_threat threat = threat_of(p);
    r->proof = false;
    if (p->config.unproven)
        return compose_as_before(r, digit);
    /* A shape stands against one damage; where they are frequent there may be two. */
    if (p->echo.prove_all && p->echo.able) {
        write_text(r, digit);
        r->proof = true;
        return true;
    }
    if (find_order(r, digit, OXL_THREAT_NEIGHBOURS, true))
        return true;
    if (threat < OXL_THREAT_NEIGHBOURS && find_order(r, digit, threat, true))
        return true;
    r->proof = p->echo.able;
    return p->echo.able || without_proof(p, r, digit, threat);
}

bool oxl_poll_stands(const struct oxl_poll *p, const uint8_t *pids, unsigned n, unsigned digit)
{
    struct oxl_poll_request r = {.service = 0x01, .n = n};
    memcpy(r.pids, pids, n);
    return oxl_poll_compose(p, &r, digit) && !r.proof && r.n == n;
}

bool oxl_poll_may_send(const struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n)
{
    struct oxl_poll_request r = {.service = service, .n = n};
    memcpy(r.pids, pids, n);
    if (p->config.unproven) { /* see below */
        bool sensor = service == 0x05 && n > 1;
        uint8_t pid = sensor ? pids[1] : pids[0];
        return (pid != 0x04 && !(sensor && pid == 0x40)) ||
               (!p->survey.line_doubted && oxl_poll_spoilt_so_far(p) == p->survey.spoilt_before);
    }
    return oxl_poll_compose(p, &r, 0);
}

/* ---- as it was before requests were proven: only to replay what was recorded then ---- */

static bool is_harmless(const char *text)
{
    for (const char *c = text + 1; c[0] && c[1]; c++)
        if (c[0] == '0' && c[1] == '4')
            return false;
    return true;
}

static void rotate(struct oxl_poll_request *r)
{
    uint8_t first = r->pids[0];
    memmove(r->pids, r->pids + 1, r->n - 1);
    r->pids[r->n - 1] = first;
}

static bool compose_as_before(struct oxl_poll_request *r, unsigned digit)
{
    for (;; digit = 0) {
        for (unsigned i = 0; i < r->n || i == 0; i++) {
            write_text(r, digit);
            if (is_harmless(r->text))
                return true;
            if (has_order(r))
                rotate(r);
        }
        if (digit)
            continue;
        if (!has_order(r))
            return true;
        r->n--;
    }
}

#include "sim/adapter.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "oxylag/hex.h"

enum { WRONG_CAN_US = 60000 };

static void say_later(struct oxl_adapter *a, const char *text, int64_t t_us)
{
    a->job.phase = OXL_AD_SAY;
    a->job.due_us = t_us;
    snprintf(a->job.text, sizeof a->job.text, "%s", text);
}

/* Pairs of digits; an odd one at the end is the number of replies to wait for. */
static bool parse_request(struct oxl_adapter *a, const char *text)
{
    size_t digits = strlen(text);
    size_t most = a->dialect.formatting ? OXL_AD_REQUEST - 1 : OXL_AD_REQUEST;
    uint8_t value[2 * OXL_AD_REQUEST + 1];
    if (digits < 2 || digits / 2 > most)
        return false;
    for (size_t i = 0; i < digits; i++) {
        int digit = oxl_hex_digit(text[i]);
        if (digit < 0)
            return false;
        value[i] = (uint8_t)digit;
    }
    a->last_len = digits / 2;
    for (size_t i = 0; i < a->last_len; i++)
        a->last[i] = (uint8_t)(value[2 * i] * 16 + value[2 * i + 1]);
    a->last_count = digits % 2 ? value[digits - 1] : 0;
    return a->last_count == 0 || strcmp(a->set.count_fault, "refused") != 0;
}

static void enter(struct oxl_adapter *a, enum oxl_ad_phase phase, int64_t due_us)
{
    a->job.phase = phase;
    a->job.due_us = due_us;
}

/* The protocol is known; a K-line may need its initialisation first. */
static void to_bus(struct oxl_adapter *a, int64_t t_us)
{
    if (oxl_ad_is_kline(a->dialect.found) && !a->dialect.bus_ready) {
        oxl_ad_say(a, t_us + a->job.out_us, "BUS INIT: ...");
        enter(a, OXL_AD_INIT, t_us + oxl_ad_bus_init_us(a->dialect.found));
    } else {
        enter(a, OXL_AD_SEND, t_us);
    }
}

static void wrong_protocol(struct oxl_adapter *a, int64_t t_us)
{
    const unsigned p = a->dialect.protocol;
    if (oxl_ad_is_kline(p)) {
        oxl_ad_say(a, t_us + a->job.out_us, "BUS INIT: ...");
        enter(a, OXL_AD_WRONG, t_us + oxl_ad_bus_init_us(p));
    } else {
        enter(a, OXL_AD_WRONG, t_us + (oxl_ad_is_can(p) ? WRONG_CAN_US : oxl_ad_wait_us(a, 0)));
    }
}

static void start_request(struct oxl_adapter *a, int64_t t_us)
{
    struct oxl_ad_dialect *d = &a->dialect;
    const bool right = d->protocol == a->set.protocol && a->ecu.answers;
    a->job.count = a->set.reply_count ? oxl_ad_count_meant(a, a->last_count) : 0;
    a->job.got = 0;
    a->job.searched = false;
    if (d->found == 0 && d->automatic && !right) {
        if (!a->set.search_silent)
            oxl_ad_say(a, t_us + a->job.out_us, "SEARCHING...");
        enter(a, OXL_AD_SEARCH, t_us + (int64_t)(a->set.search_ms * 1000));
        return;
    }
    if (d->found == 0 && d->protocol != a->set.protocol) {
        wrong_protocol(a, t_us);
        return;
    }
    d->found = a->set.protocol;
    to_bus(a, t_us);
}

void oxl_ad_line_in(struct oxl_adapter *a, const char *text, bool bad, int64_t t_us)
{
    int64_t half_us = oxl_ad_half_latency_us(a);
    a->job.out_us = half_us;
    t_us += half_us;
    const bool command = !bad && strncmp(text, "AT", 2) == 0;
    if (command)
        oxl_ad_command(a, text + 2, t_us);
    else if (bad || (*text && !parse_request(a, text)))
        say_later(a, "?", t_us);
    else if (a->last_len > 0)
        start_request(a, t_us);
    else
        say_later(a, "", t_us); /* nothing to repeat */
}

int64_t oxl_ad_wait_us(const struct oxl_adapter *a, double longest_ms)
{
    double full_ms = 4.0 * a->dialect.timeout;
    if (!a->set.adaptive || a->dialect.adaptive == 0 || longest_ms <= 0)
        return (int64_t)(1000 * full_ms);
    double floor_ms = oxl_ad_is_kline(a->set.protocol) ? 60 : 8;
    double ms = a->dialect.adaptive == 2 ? 1.25 * longest_ms + 2 : 1.5 * longest_ms + 4;
    ms = ms < floor_ms ? floor_ms : ms;
    return (int64_t)(1000 * (ms > full_ms ? full_ms : ms));
}

/* Starts from the full wait, comes down to what the vehicle needs, slowly at last, and goes up
 * at once. */
static void learn(struct oxl_adapter *a, double ms, bool first)
{
    if (a->learned_ms <= 0)
        a->learned_ms = 4.0 * a->dialect.timeout;
    if (ms > a->learned_ms)
        a->learned_ms = ms;
    else if (first)
        a->learned_ms += (a->learned_ms > 2.5 * ms + 20 ? 0.3 : 0.03) * (ms - a->learned_ms);
}

static void end_with(struct oxl_adapter *a, const char *text, int64_t t_us)
{
    if (*text)
        oxl_ad_line(a, t_us + a->job.out_us, text);
    oxl_ad_prompt(a, t_us + a->job.out_us);
    a->job.deaf = a->job.phase < OXL_AD_SEARCH;
    a->job.phase = OXL_AD_IDLE;
}

static void listen_over(struct oxl_adapter *a, int64_t t_us)
{
    if (a->job.got > 0) {
        end_with(a, "", t_us);
        return;
    }
    a->learned_ms = fmin(1.5 * a->learned_ms, 4.0 * a->dialect.timeout);
    if (a->job.searched) {
        a->dialect.found = 0;
        a->dialect.bus_ready = false;
    }
    end_with(a, a->job.searched ? "UNABLE TO CONNECT" : "NO DATA", t_us);
}

static void search_over(struct oxl_adapter *a, int64_t t_us)
{
    oxl_ad_eol(a, t_us + a->job.out_us);
    if (!a->ecu.answers) {
        end_with(a, "UNABLE TO CONNECT", t_us);
        return;
    }
    a->job.searched = true;
    a->dialect.found = a->set.protocol;
    to_bus(a, t_us);
}

static void init_over(struct oxl_adapter *a, int64_t t_us)
{
    if (!a->ecu.answers) {
        end_with(a, "ERROR", t_us);
        return;
    }
    oxl_ad_line(a, t_us + a->job.out_us, "OK");
    a->dialect.bus_ready = true;
    enter(a, OXL_AD_SEND, t_us);
}

static void wrong_over(struct oxl_adapter *a, int64_t t_us)
{
    const unsigned p = a->dialect.protocol;
    /* The same speed with the other length of identifier is a sound bus where nobody answers. */
    const bool sound =
        oxl_ad_is_can(p) && oxl_ad_is_can(a->set.protocol) && (p >= 8) == (a->set.protocol >= 8);
    if (oxl_ad_is_kline(p))
        end_with(a, "ERROR", t_us);
    else
        end_with(a, oxl_ad_is_can(p) && !sound ? "CAN ERROR" : "NO DATA", t_us);
}

static void reset_over(struct oxl_adapter *a, int64_t t_us)
{
    oxl_ad_eol(a, t_us + a->job.out_us);
    oxl_ad_eol(a, t_us + a->job.out_us);
    end_with(a, oxl_ad_banner(), t_us);
}

void oxl_ad_phase_over(struct oxl_adapter *a, int64_t t_us)
{
    switch (a->job.phase) {
    case OXL_AD_IDLE:
        break;
    case OXL_AD_SAY:
        end_with(a, a->job.text, t_us);
        break;
    case OXL_AD_RESET:
        reset_over(a, t_us);
        break;
    case OXL_AD_SEARCH:
        search_over(a, t_us);
        break;
    case OXL_AD_WRONG:
        wrong_over(a, t_us);
        break;
    case OXL_AD_INIT:
        init_over(a, t_us);
        break;
    case OXL_AD_SEND:
        a->job.sent_us = a->job.heard_us = oxl_ad_bus_send(a, t_us);
        enter(a, OXL_AD_LISTEN, a->job.sent_us + oxl_ad_wait_us(a, a->learned_ms));
        break;
    case OXL_AD_LISTEN:
        listen_over(a, t_us);
        break;
    }
}

static bool filtered_out(const struct oxl_adapter *a, const struct oxl_ad_frame *f)
{
    return a->dialect.filter_digits > 0 && oxl_ad_is_can(a->set.protocol) &&
           f->id != a->dialect.filter;
}

/* A frame that nobody waits for is lost; one from an earlier request is taken for an answer to
 * the present one, as on a real adapter. */
void oxl_ad_frame_in(struct oxl_adapter *a, const struct oxl_ad_frame *f)
{
    struct oxl_ad_job *j = &a->job;
    if (j->phase != OXL_AD_LISTEN || f->end_us < j->sent_us || filtered_out(a, f))
        return;
    if (a->set.buffer_frames > 0 && j->got >= a->set.buffer_frames) {
        end_with(a, "BUFFER FULL", f->end_us);
        return;
    }
    oxl_ad_frame_line(a, f->end_us + j->out_us, f);
    if (f->first_of_many)
        oxl_ad_flow_control(a, f);
    if (!oxl_ad_is_can(a->set.protocol) || f->data[0] >> 4 != 2)
        learn(a, (double)(f->end_us - j->heard_us) / 1000.0, j->got == 0);
    j->heard_us = f->end_us;
    j->got++;
    if (j->count > 0 && j->got >= j->count)
        end_with(a, "", f->end_us);
    else
        j->due_us = f->end_us + oxl_ad_wait_us(a, a->learned_ms);
}

/* A character came while busy: it is lost. Requests stop, and so does the talking of their
 * answers; commands, restarts and STOPPED itself are not disturbed. */
void oxl_ad_interrupt(struct oxl_adapter *a, int64_t t_us)
{
    const bool talking = a->job.phase == OXL_AD_IDLE;
    if (a->job.phase == OXL_AD_SAY || a->job.phase == OXL_AD_RESET || (talking && a->job.deaf))
        return;
    oxl_ad_drop_unsent(a, t_us);
    a->job.out_us = 0;
    oxl_ad_eol(a, t_us);
    end_with(a, "STOPPED", t_us);
    a->job.deaf = true;
}

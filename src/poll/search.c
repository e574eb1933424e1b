/* Looking for the vehicle: choose a protocol, ask for PID 00, ask what the protocol is. */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum { STEP_CHOOSE, STEP_HEADERS, STEP_FIRST, STEP_NAME };

enum {
    COMMAND_MS = 1500,
    FIRST_MS = 6000, /* extended when the adapter says that it is searching */
    AGAIN_MS = 300,
    HEADLESS_TRIES = 3,
    GIVE_UP_MS = 20000,
    SLICE_MS = 5000,    /* between two words about a search that takes long */
    LONGEST_MS = 32000, /* from memory: a search of all protocols takes up to half a minute */
    AFTER_MS = 3000     /* is left then to ask by name */
};

static const uint8_t pid_00 = 0x00;

/* 0 is the adapter's own search; some adapters have none that works, so the common protocols are
 * also tried by name. */
static const uint8_t protocols[] = {0, 6, 0, 5, 0, 3, 8, 7, 9, 4, 2, 1};

static unsigned protocol_to_try(const struct oxl_poll *p)
{
    if (p->link.reviving && p->vehicle.protocol && p->search.at % 3 != 2)
        return p->vehicle.protocol;
    if (p->link.reviving)
        return 0;
    unsigned protocol = protocols[p->search.at % sizeof protocols];
    return p->search.hung && protocol == 0 ? OXL_PROTO_CAN11_500 : protocol;
}

static void choose_protocol(struct oxl_poll *p, int64_t t_us)
{
    char command[16];
    snprintf(command, sizeof command, "ATSP%u", protocol_to_try(p));
    p->search.step = STEP_CHOOSE;
    oxl_poll_ask(p, command, COMMAND_MS, t_us);
}

static void ask_first(struct oxl_poll *p, int64_t t_us)
{
    p->search.step = STEP_FIRST;
    oxl_poll_request(p, 1, &pid_00, 1, 0, FIRST_MS, t_us);
}

void oxl_poll_search_forget(struct oxl_poll *p)
{
    p->search.at = p->search.headless = 0;
    p->search.hung = false;
    p->search.word = OXL_WORD_NONE;
}

void oxl_poll_search_from_first(struct oxl_poll *p)
{
    p->search.at = 0;
}

void oxl_poll_search_start(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_enter(p, OXL_STAGE_SEARCH);
    p->search.named = false;
    p->search.same = true;
    /* An answer without its header is seen as such only by its own shape. */
    oxl_wire_set_protocol(p->wire, OXL_PROTO_UNKNOWN);
    if (!p->link.known) {
        oxl_poll_vehicle_forget(p);
        oxl_poll_ecus_forget(p);
        if (p->link.give_up_us == OXL_POLL_NEVER)
            oxl_poll_give_up_at(
                p, t_us + OXL_POLL_MS(p->config.give_up_ms ? p->config.give_up_ms : GIVE_UP_MS));
        oxl_poll_set_state(p, OXL_LINK_SEARCHING, "The adapter is ready; looking for the vehicle.");
    }
    choose_protocol(p, t_us);
}

void oxl_poll_search_next(struct oxl_poll *p, int64_t t_us)
{
    choose_protocol(p, t_us);
}

/* A vehicle that is known shows itself by the ECU and by the same mask. */
void oxl_poll_search_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_support seen = {{0}};
    if (!p->link.known) {
        oxl_poll_ecu_mask(p, m, pid_00);
        return;
    }
    if (m->len < 6)
        return;
    oxl_support_add(&seen, pid_00, m->data + 2);
    for (unsigned pid = 1; pid <= 0x20; pid++)
        if (oxl_supports(&seen, (uint8_t)pid) != oxl_poll_announced(p, (uint8_t)pid))
            p->search.same = false;
}

/* Reads "A6" or "6"; UNKNOWN when it is neither. */
static enum oxl_protocol protocol_number(const char *line)
{
    if (*line == 'A' || *line == 'a')
        line++;
    if (line[0] < '1' || line[0] > '9' || line[1] != '\0')
        return OXL_PROTO_UNKNOWN;
    return (enum oxl_protocol)(line[0] - '0');
}

enum oxl_protocol oxl_poll_protocol_checked(enum oxl_protocol named, uint32_t ecu)
{
    if (ecu > 0x7FF)
        return oxl_protocol_is_can29(named) ? named : OXL_PROTO_CAN29_500;
    if (ecu > 0xFF)
        return oxl_protocol_is_can(named) && !oxl_protocol_is_can29(named) ? named
                                                                           : OXL_PROTO_CAN11_500;
    return ecu && oxl_protocol_is_can(named) ? OXL_PROTO_UNKNOWN : named;
}

static const char *advice(const struct oxl_poll *p)
{
    return p->search.word == OXL_WORD_NONE ? "it does not say why" : oxl_word_text(p->search.word);
}

void oxl_poll_search_give_up(struct oxl_poll *p)
{
    char text[160];
    if (p->search.hung && p->stage != OXL_STAGE_SEARCH) {
        oxl_poll_adapter_hung(p);
        return;
    }
    snprintf(text, sizeof text,
             "The adapter answers, the vehicle does not (%s): ignition on? connector fully seated?",
             advice(p));
    oxl_poll_end(p, OXL_LINK_NO_VEHICLE, text);
}

static void failed(struct oxl_poll *p, int64_t t_us)
{
    p->search.at++;
    if (p->link.reviving && p->ex.silent)
        oxl_poll_revive_failed(p, "The adapter fell silent: is it plugged in and powered?", t_us);
    else if (p->link.reviving)
        oxl_poll_revive_failed(p, "The adapter answers, the vehicle does not: is the ignition on?",
                               t_us);
    else if (p->ex.silent) {
        p->search.hung = true;
        if (p->search.at == 1) /* it may still be searching */
            oxl_poll_give_up_at(p, t_us + OXL_POLL_MS(LONGEST_MS));
        oxl_poll_probe_start(p, t_us);
    } else
        oxl_poll_pause(p, AGAIN_MS, false, t_us);
}

/* A tick that gives more time says so, so that a recording keeps it. */
bool oxl_poll_search_waits(struct oxl_poll *p, int64_t t_us)
{
    int64_t so_far_us = t_us - p->ex.sent_us, until_us = t_us + OXL_POLL_MS(SLICE_MS + AFTER_MS);
    char text[120];
    if (p->stage != OXL_STAGE_SEARCH || so_far_us >= OXL_POLL_MS(LONGEST_MS) ||
        !(oxl_poll_said(p, OXL_WORD_SEARCHING) || oxl_poll_said(p, OXL_WORD_BUS_INIT)))
        return false;
    oxl_poll_await(p, OXL_PHASE_WAIT, t_us + OXL_POLL_MS(SLICE_MS));
    if (so_far_us < OXL_POLL_MS(SLICE_MS))
        return true;
    if (p->search.at == 0 && !p->link.reviving && p->link.give_up_us < until_us)
        oxl_poll_give_up_at(p, until_us);
    snprintf(text, sizeof text,
             "The adapter is searching for the vehicle's protocol, %d s so far: some take 30 s.",
             (int)(so_far_us / 1000000));
    oxl_poll_say_again(p, p->link.reviving ? OXL_LINK_LOST : OXL_LINK_SEARCHING, text);
    return true;
}

static bool note_reason(struct oxl_poll *p)
{
    bool any = false;
    static const enum oxl_word reasons[] = {
        OXL_WORD_NO_DATA,   OXL_WORD_UNABLE,     OXL_WORD_BUS_INIT_ERROR,
        OXL_WORD_CAN_ERROR, OXL_WORD_BUS_BUSY,   OXL_WORD_BUS_ERROR,
        OXL_WORD_FB_ERROR,  OXL_WORD_DATA_ERROR, OXL_WORD_BUFFER_FULL};
    for (size_t i = 0; i < sizeof reasons / sizeof *reasons; i++)
        if (oxl_poll_said(p, reasons[i])) {
            p->search.word = reasons[i];
            any = true;
        }
    return any;
}

/* An answer to PID 00 that begins with its own service byte: the adapter hides the headers. */
static bool headless(const struct oxl_poll *p)
{
    return strncmp(p->answer.line, "4100", 4) == 0 || strncmp(p->answer.line, "41 00", 5) == 0;
}

static void show_headers(struct oxl_poll *p, int64_t t_us)
{
    if (p->link.reviving) { /* it has lost its settings */
        oxl_poll_wake_start(p, false, t_us);
        return;
    }
    if (p->search.headless++ >= HEADLESS_TRIES) {
        oxl_poll_end(p, OXL_LINK_NO_ADAPTER,
                     "This adapter does not follow the command set (it hides which ECU speaks): "
                     "use another one.");
        return;
    }
    p->search.step = STEP_HEADERS;
    oxl_poll_ask(p, "ATH1", COMMAND_MS, t_us);
}

static void take_first(struct oxl_poll *p, int64_t t_us)
{
    bool refused = note_reason(p);
    p->search.found = p->link.known ? p->answer.n > 0 : p->ecus.n > 0;
    if (p->search.found) {
        p->search.plain_gap_us = t_us - p->answer.at_us;
    } else if (p->ex.timed_out || refused || p->search.named) {
        failed(p, t_us);
        return;
    } else if (headless(p)) {
        show_headers(p, t_us);
        return;
    }
    p->search.named = true;
    p->search.step = STEP_NAME;
    oxl_poll_ask(p, "ATDPN", COMMAND_MS, t_us);
}

static void take_protocol(struct oxl_poll *p)
{
    uint32_t ecu = p->link.known ? p->vehicle.ecu : p->ecus.n ? p->ecus.list[0].id : 0;
    enum oxl_protocol named = protocol_number(p->answer.line);
    if (named == OXL_PROTO_UNKNOWN)
        named = p->vehicle.protocol;
    oxl_poll_vehicle_protocol(p, oxl_poll_protocol_checked(named, ecu));
    oxl_wire_set_protocol(p->wire, p->vehicle.protocol);
}

static void take_name(struct oxl_poll *p, int64_t t_us)
{
    take_protocol(p);
    if (!p->search.found) {
        ask_first(p, t_us);
    } else if (!p->link.known) {
        oxl_poll_survey_start(p, t_us);
    } else if (p->search.same) {
        oxl_poll_verify_start(p, t_us);
    } else {
        oxl_poll_known(p, false);
        oxl_poll_search_start(p, t_us);
    }
}

void oxl_poll_search_finished(struct oxl_poll *p, int64_t t_us)
{
    switch (p->search.step) {
    case STEP_CHOOSE:
    case STEP_HEADERS:
        ask_first(p, t_us);
        return;
    case STEP_FIRST:
        take_first(p, t_us);
        return;
    default:
        take_name(p, t_us);
        return;
    }
}

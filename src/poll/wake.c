/* The wake script: what makes the adapter's answers short and quick. None of it is needed: the
 * wire survives echo, spaces and linefeeds, and an unknown command is simply not used. Only an
 * adapter that falls silent ends the script. Commands: common practice, no source. */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum { ROW_RESET = 0, ROW_FIRST_SETTING = 1 };

static const struct {
    const char *command;
    unsigned timeout_ms;
    bool text; /* answered by a line of its own, not by OK */
} rows[] = {
    [ROW_RESET] = {"ATZ", 2500, true},          /* a reset takes up to 2 s */
    [ROW_FIRST_SETTING] = {"ATE1", 800, false}, /* to prove requests by it (echo_proof.c) */
    {"ATL0", 800, false},
    {"ATS0", 800, false},
    {"ATH1", 800, false},
    {"ATAT1", 800, false},
    {"ATST", 800, false}, /* only where it had been tuned (adapter_timing.c) */
    {"ATI", 800, true},
};

enum { ROW_BEHIND_ECHO = 2, ROW_ADAPTIVE = 5, ROW_TIMEOUT = 6 };
enum { ROWS = sizeof rows / sizeof *rows, TRIES = 2, SILENT_ROWS = 2 };

static void ask_row(struct oxl_poll *p, int64_t t_us)
{
    char command[16];
    snprintf(command, sizeof command, "%s", rows[p->wake.row].command);
    if (p->wake.row == ROW_FIRST_SETTING && p->config.unproven)
        snprintf(command, sizeof command, "ATE0");
    if (p->wake.row == ROW_BEHIND_ECHO)
        p->wake.echoes_before = oxl_wire_stats(p->wire)->echoes;
    if (p->wake.row == ROW_ADAPTIVE && p->timing.aggressive)
        snprintf(command, sizeof command, "ATAT2");
    if (p->wake.row == ROW_TIMEOUT)
        snprintf(command, sizeof command, "ATST%02X", p->timing.timeout);
    unsigned timeout_ms = rows[p->wake.row].timeout_ms;
    if (rows[p->wake.row].text)
        oxl_poll_ask_text(p, command, timeout_ms, t_us);
    else
        oxl_poll_ask(p, command, timeout_ms, t_us);
}

void oxl_poll_wake_forget(struct oxl_poll *p)
{
    p->wake.awake = false;
}

void oxl_poll_wake_start(struct oxl_poll *p, bool reset, int64_t t_us)
{
    oxl_poll_enter(p, OXL_STAGE_WAKE);
    p->wake.row = reset ? ROW_RESET : ROW_FIRST_SETTING;
    p->wake.tries = p->wake.silent = 0;
    oxl_wire_set_protocol(p->wire, OXL_PROTO_UNKNOWN);
    if (!p->link.reviving)
        oxl_poll_set_state(p, OXL_LINK_WAKING, "An adapter answers; setting it up.");
    ask_row(p, t_us);
}

static bool answered(const struct oxl_poll *p)
{
    return p->answer.line[0] || p->ex.bare_prompt || oxl_poll_said(p, OXL_WORD_OK) ||
           oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
}

/* The adapter's name is its answer to ATI, or else its banner; what cannot be printed is blank. */
static void learn(struct oxl_poll *p)
{
    char line[OXL_POLL_LINE];
    if (!rows[p->wake.row].text)
        return;
    snprintf(line, sizeof line, "%s", p->answer.line);
    for (char *c = line; *c; c++)
        if (*c < ' ' || *c > '~')
            *c = ' ';
    if (p->wake.row == ROW_RESET)
        snprintf(p->wake.banner, sizeof p->wake.banner, "%s", line);
    else
        oxl_poll_vehicle_adapter(p, line[0] ? line : p->wake.banner);
}

static void next_row(struct oxl_poll *p, int64_t t_us)
{
    learn(p);
    p->wake.tries = 0;
    if (++p->wake.row == ROW_TIMEOUT && !p->timing.timeout)
        p->wake.row++;
    if (p->wake.row < ROWS) {
        ask_row(p, t_us);
        return;
    }
    p->wake.awake = true;
    oxl_poll_echo_learn(p, p->wake.echoes_before);
    oxl_poll_search_start(p, t_us);
}

void oxl_poll_wake_finished(struct oxl_poll *p, int64_t t_us)
{
    /* A command that is not known may have been damaged on its way: once more. */
    if (oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) && !p->wake.tries) {
        p->wake.tries++;
        ask_row(p, t_us);
    } else if (answered(p)) {
        p->wake.silent = 0;
        next_row(p, t_us);
    } else if (++p->wake.tries < TRIES) {
        ask_row(p, t_us);
    } else if (p->wake.row == ROW_RESET || (p->ex.timed_out && ++p->wake.silent >= SILENT_ROWS)) {
        oxl_poll_probe_next_speed(p, t_us);
    } else {
        next_row(p, t_us);
    }
}

/* The wake script: what makes the adapter's answers short and quick. None of it is needed: the
 * wire survives echo, spaces and linefeeds, and an unknown command is simply not used. Only an
 * adapter that falls silent ends the script. Commands: common practice, no source. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

enum { ROW_RESET = 0, ROW_FIRST_SETTING = 1 };

static const struct {
    const char *command;
    unsigned timeout_ms;
    bool text; /* answered by a line of its own, not by OK */
} rows[] = {
    [ROW_RESET] = {"ATZ", 2500, true},          /* a reset takes up to 2 s */
    [ROW_FIRST_SETTING] = {"ATE1", 800, false}, /* to prove requests by it (prove.c) */
    {"ATL0", 800, false},
    {"ATS0", 800, false},
    {"ATH1", 800, false},
    {"ATAT1", 800, false},
    {"ATST", 800, false}, /* only where it had been tuned (tune.c) */
    {"ATI", 800, true},
};

enum { ROW_BEHIND_ECHO = 2, ROW_ADAPTIVE = 5, ROW_TIMEOUT = 6 };
enum { ROWS = sizeof rows / sizeof *rows, TRIES = 2, SILENT_ROWS = 2 };

static void ask_row(struct oxl_poll *p, int64_t t_us)
{
    char command[16];
    snprintf(command, sizeof command, "%s", rows[p->wake_row].command);
    if (p->wake_row == ROW_FIRST_SETTING && p->config.unproven)
        snprintf(command, sizeof command, "ATE0");
    if (p->wake_row == ROW_BEHIND_ECHO)
        p->wake_echoes = oxl_wire_stats(p->wire)->echoes;
    if (p->wake_row == ROW_ADAPTIVE && p->tune.aggressive)
        snprintf(command, sizeof command, "ATAT2");
    if (p->wake_row == ROW_TIMEOUT)
        snprintf(command, sizeof command, "ATST%02X", p->tune.timeout);
    oxl_poll_ask(p, command, rows[p->wake_row].timeout_ms, t_us);
    p->ex.needs_text = rows[p->wake_row].text;
}

void oxl_poll_wake_start(struct oxl_poll *p, bool reset, int64_t t_us)
{
    p->stage = OXL_STAGE_WAKE;
    p->wake_row = reset ? ROW_RESET : ROW_FIRST_SETTING;
    p->wake_tries = p->wake_silent = 0;
    oxl_wire_set_protocol(p->wire, OXL_PROTO_UNKNOWN);
    if (!p->reviving)
        oxl_poll_set_state(p, OXL_LINK_WAKING, "An adapter answers; setting it up.");
    ask_row(p, t_us);
}

static bool answered(const struct oxl_poll *p)
{
    return p->ex.line[0] || p->ex.bare_prompt || oxl_poll_said(p, OXL_WORD_OK) ||
           oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
}

static void keep_line(struct oxl_poll *p, char *out, size_t n)
{
    snprintf(out, n, "%s", p->ex.line);
    for (char *c = out; *c; c++)
        if (*c < ' ' || *c > '~')
            *c = ' ';
}

static void learn(struct oxl_poll *p)
{
    if (!rows[p->wake_row].text)
        return;
    if (p->wake_row == ROW_RESET)
        keep_line(p, p->banner, sizeof p->banner);
    else if (p->ex.line[0])
        keep_line(p, p->vehicle.adapter, sizeof p->vehicle.adapter);
    else
        snprintf(p->vehicle.adapter, sizeof p->vehicle.adapter, "%s", p->banner);
}

/* Any of the commands behind ATE1 that came back; once an adapter has echoed, it can. */
static void learn_echo(struct oxl_poll *p)
{
    uint64_t echoes = oxl_wire_stats(p->wire)->echoes;
    if (p->config.unproven) {
        p->echo_habit = echoes != p->ex.echoes_before;
        return;
    }
    p->echoes = p->echoes || echoes != p->wake_echoes;
    p->echo_on = p->echoes;
    p->echo_asked_off = false;
    p->stood = 0;
}

static void next_row(struct oxl_poll *p, int64_t t_us)
{
    learn(p);
    p->wake_tries = 0;
    if (++p->wake_row == ROW_TIMEOUT && !p->tune.timeout)
        p->wake_row++;
    if (p->wake_row < ROWS) {
        ask_row(p, t_us);
        return;
    }
    p->awake = true;
    learn_echo(p);
    oxl_poll_search_start(p, t_us);
}

void oxl_poll_wake_finished(struct oxl_poll *p, int64_t t_us)
{
    /* A command that is not known may have been damaged on its way: once more. */
    if (oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) && !p->wake_tries) {
        p->wake_tries++;
        ask_row(p, t_us);
    } else if (answered(p)) {
        p->wake_silent = 0;
        next_row(p, t_us);
    } else if (++p->wake_tries < TRIES) {
        ask_row(p, t_us);
    } else if (p->wake_row == ROW_RESET || (p->ex.timed_out && ++p->wake_silent >= SILENT_ROWS)) {
        oxl_poll_probe_next_speed(p, t_us);
    } else {
        next_row(p, t_us);
    }
}

/* What a bad line, a late vehicle or a forgetful adapter does to live data: answers that are owed,
 * late, damaged or without header, and what the technician sees of it. */
#include "poll_parts.h"

enum {
    OUT_OF_STEP = 8,
    HEADLESS = 2 /* answers in a row without a header before the adapter is set up again */
};

void oxl_poll_trouble_live(struct oxl_poll *p)
{
    p->trouble.headless = 0;
    p->trouble.owed = !p->answer.n;
}

/* Of the request that is over: may an answer still come? What was spoilt or refused has come. */
static bool may_be_owed(const struct oxl_poll *p)
{
    bool damaged = oxl_poll_spoilt(p) || oxl_poll_cut_off(p) ||
                   oxl_poll_said(p, OXL_WORD_BUFFER_FULL) ||
                   oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND) || p->answer.negative;
    if (p->ex.timed_out || p->answer.n > 1 || (p->answer.pending && p->answer.n == 0))
        return true;
    return p->answer.n == 0 && !damaged;
}

void oxl_poll_note_owed(struct oxl_poll *p)
{
    p->trouble.owed = p->trouble.owed || may_be_owed(p);
}

void oxl_poll_separated(struct oxl_poll *p)
{
    p->trouble.owed = !p->answer.n || p->ex.timed_out;
}

/* Answers without a header: the adapter has lost its settings and says nothing of it. */
bool oxl_poll_lost_its_settings(struct oxl_poll *p)
{
    bool headless = oxl_poll_came_headless(p) && !p->answer.n;
    p->trouble.headless = headless ? p->trouble.headless + 1 : 0;
    return p->trouble.headless >= HEADLESS;
}

/* An adapter that buffered our attempts to wake it gives one prompt too many; each request is
 * then sent while the one before is still being answered. Silence lets it catch up. */
bool oxl_poll_out_of_step(struct oxl_poll *p)
{
    bool others = !p->answer.n && p->stats.sums.late != p->ex.late_before;
    if (others)
        p->trouble.shifted += 2;
    else if (p->trouble.shifted)
        p->trouble.shifted--;
    if (p->trouble.shifted < OUT_OF_STEP)
        return false;
    p->trouble.shifted = 0;
    p->trouble.owed = true;
    return true;
}

/* Up at once, down slowly; true when it happens at more than about 2 of 100 requests. */
static bool often(unsigned *count, bool now)
{
    enum { UP = 50, MANY = 400 };
    if (now)
        *count += UP;
    else if (*count)
        --*count;
    if (*count < MANY)
        return false;
    *count = 0;
    return true;
}

/* The test goes on, with what can be read; the technician may want to know why it is slow. */
void oxl_poll_tell_of_trouble(struct oxl_poll *p)
{
    bool damaged = often(&p->trouble.damaged, oxl_poll_spoilt(p) || p->echo.proofs > 1);
    bool late = p->stats.sums.late != p->ex.late_before || p->answer.pending;
    bool tardy = often(&p->trouble.tardy, late);
    enum { REMEMBERED = 1000 }; /* requests */
    p->trouble.bad_line = damaged ? REMEMBERED : p->trouble.bad_line - (p->trouble.bad_line > 0);
    const char *text =
        damaged ? "Answers come damaged and are left out: check connector, cable and speed."
                : "The vehicle answers late at times; those answers are left out.";
    if (p->state == OXL_LINK_READY && (damaged || tardy))
        oxl_poll_set_state(p, OXL_LINK_READY, text);
}

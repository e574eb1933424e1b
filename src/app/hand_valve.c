#include "hand_valve.h"

#include <math.h>
#include <string.h>

#include "oxylag/ui.h"

void oxl_hand_valve_start(struct oxl_hand_valve *b, bool on)
{
    memset(b, 0, sizeof *b);
    b->valve = on ? 0 : NAN;
}

static bool moved(double *valve, int key)
{
    const double coarse = 0.05, fine = 0.01;
    double v = *valve;
    if (key == OXL_TERM_RIGHT)
        v += coarse;
    else if (key == OXL_TERM_LEFT)
        v -= coarse;
    else if (key == OXL_TERM_UP)
        v += fine;
    else if (key == OXL_TERM_DOWN) /* all the way: what a hand does at the cut */
        v = 0;
    else if (key >= '0' && key <= '9')
        v = 0.1 * (key - '0');
    else
        return false;
    /* In whole per cent, so that twenty steps of five are exactly wide open. */
    *valve = fmin(1, fmax(0, round(100 * v) / 100));
    return true;
}

bool oxl_hand_valve_key(struct oxl_hand_valve *b, int key, int64_t now_us)
{
    if (isnan(b->valve) || !moved(&b->valve, key))
        return false;
    if (b->valve > 0) {
        b->was_open = true;
        b->early_us = 0;
        if (b->call_us)
            b->shut_us = 0; /* opened again after the call */
    } else if (b->call_us && !b->shut_us) {
        b->shut_us = now_us;
    } else if (!b->call_us && b->was_open) {
        b->early_us = now_us;
    }
    return true;
}

static double shut_after_s(const struct oxl_hand_valve *b)
{
    int64_t shut_us = b->shut_us ? b->shut_us : b->early_us;
    return shut_us && b->call_us ? (double)(shut_us - b->call_us) / 1e6 : NAN;
}

void oxl_hand_valve_event(struct oxl_hand_valve *b, const struct oxl_event *ev)
{
    if (ev->kind == OXL_EV_STATE && ev->u.state.state == OXL_STATE_RELEASE) {
        b->call_us = ev->t_us;
        b->shut_us = 0;
    } else if (ev->kind == OXL_EV_STATE && ev->u.state.state == OXL_STATE_BASELINE) {
        b->call_us = b->shut_us = b->early_us = 0;
        b->was_open = false;
    } else if (ev->kind == OXL_EV_RUN && b->runs_n > 0 &&
               b->runs[b->runs_n - 1].run == ev->u.run.run) {
        b->runs[b->runs_n - 1].valid = ev->u.run.valid; /* taken back */
    } else if (ev->kind == OXL_EV_RUN && b->runs_n < OXL_HAND_VALVE_RUNS) {
        b->runs[b->runs_n].run = ev->u.run.run;
        b->runs[b->runs_n].valid = ev->u.run.valid;
        b->runs[b->runs_n].shift_pct = ev->u.run.shift_pct;
        b->runs[b->runs_n++].shut_after_s = shut_after_s(b);
    }
}

void oxl_hand_valve_text(const struct oxl_hand_valve *b, const struct oxl_profile *p,
                         struct oxl_buf *out)
{
    oxl_buf_add(out, "Your hand on the valve (target %.0f %%, accepted %.0f to %.0f %%):\n",
                p->target_pct, p->accept_high_pct, p->accept_low_pct);
    for (int i = 0; i < b->runs_n; i++) {
        double shift = b->runs[i].shift_pct, after = b->runs[i].shut_after_s;
        oxl_buf_add(out, "  run %d: ", b->runs[i].run);
        if (oxl_known(shift))
            oxl_buf_add(out, "released at %.1f %%, %.1f off the target, %s", shift,
                        fabs(shift - p->target_pct),
                        oxl_depth_words(shift, p->accept_low_pct, p->accept_high_pct));
        else
            oxl_buf_add(out, "depth not known");
        if (oxl_known(after))
            oxl_buf_add(out, "; valve shut %.1f s %s the call", fabs(after),
                        after < 0 ? "before" : "after");
        oxl_buf_add(out, "%s\n", b->runs[i].valid ? "" : "; the run does not count");
    }
    if (b->runs_n == 0)
        oxl_buf_add(out, "  no run was made\n");
}

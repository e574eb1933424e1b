#include "test_loop.h"

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
    } else if (ev->kind == OXL_EV_RUN && ev->u.run.run != b->last_run && /* not one taken back */
               b->runs_n < OXL_RECORD_MAX_RUNS) {
        b->last_run = ev->u.run.run;
        b->shut_after_s[b->runs_n++] = shut_after_s(b);
    }
}

static void run_text(const struct oxl_run_result *r, double after_s, const struct oxl_profile *p,
                     struct oxl_buf *out)
{
    oxl_buf_add(out, "  run %d: ", r->run);
    if (oxl_known(r->shift_pct))
        oxl_buf_add(out, "released at %.1f %%, %.1f off the target, %s", r->shift_pct,
                    fabs(r->shift_pct - p->target_pct),
                    oxl_depth_words(r->shift_pct, p->accept_low_pct, p->accept_high_pct));
    else
        oxl_buf_add(out, "depth not known");
    if (oxl_known(after_s))
        oxl_buf_add(out, "; valve shut %.1f s %s the call", fabs(after_s),
                    after_s < 0 ? "before" : "after");
    oxl_buf_add(out, "%s\n", r->valid ? "" : "; the run does not count");
}

void oxl_hand_valve_text(const struct oxl_hand_valve *b, const struct oxl_test_record *record,
                         struct oxl_buf *out)
{
    const struct oxl_profile *p = &record->profile;
    oxl_buf_add(out, "Your hand on the valve (target %.0f %%, accepted %.0f to %.0f %%):\n",
                p->target_pct, p->accept_high_pct, p->accept_low_pct);
    for (size_t i = 0; i < record->runs_n && i < (size_t)b->runs_n; i++)
        run_text(&record->runs[i], b->shut_after_s[i], p, out);
    if (b->runs_n == 0)
        oxl_buf_add(out, "  no run was made\n");
}

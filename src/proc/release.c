/* Release: from "cut now" to front-lean. */
#include "proc.h"

static const double still_rich_after_s = 4.0;
void oxl_release_enter(struct oxl_proc *p)
{
    oxl_proc_tell(p, OXL_ADV_CUT);
}

static void find_front_lean(struct oxl_proc *p)
{
    struct oxl_lean_rule rule = oxl_proc_front_rule(p);
    struct oxl_moment m = oxl_find_release(oxl_proc_front(p), &rule, p->run.shift_start_us,
                                           p->run.cut_us, p->now_us, NULL);
    if (!m.found)
        return;
    oxl_run_front_lean(p, &m);
}

void oxl_release_data(struct oxl_proc *p, const struct oxl_sample *s)
{
    oxl_run_note_rear(p);
    if (oxl_channel_same(s->channel, p->pair.front))
        find_front_lean(p);
}

static int64_t still_rich_due(const struct oxl_proc *p)
{
    bool said = p->advice == OXL_ADV_STILL_RICH || p->advice == OXL_ADV_TRIM_FROZEN;
    return said ? INT64_MAX : p->entered_us + OXL_S_US(still_rich_after_s);
}

static int64_t release_limit_due(const struct oxl_proc *p)
{
    return p->entered_us + OXL_S_US(p->profile.release_limit_s);
}

int64_t oxl_release_due(const struct oxl_proc *p)
{
    return oxl_earlier_us(still_rich_due(p), release_limit_due(p));
}

void oxl_release_time(struct oxl_proc *p)
{
    if (p->now_us >= release_limit_due(p)) {
        oxl_run_void(p, OXL_R_NO_FRONT_LEAN);
        oxl_proc_enter(p, OXL_STATE_RECOVERY);
    } else {
        /* Trims that took nothing away leave balance behind, and no lean gas. */
        oxl_proc_tell(p, oxl_patterns_frozen_now(p) ? OXL_ADV_TRIM_FROZEN : OXL_ADV_STILL_RICH);
    }
}

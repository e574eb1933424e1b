#include "help_judge.h"

#include "help_bench.h"

const struct oxl_session_facts proven = {.rear_seen_rich = true, .rear_seen_lean = true};

struct oxl_run_result a_run(double delay, double half, double mg, double half_mg)
{
    struct oxl_run_result r = {0};
    r.valid = r.dropped = true;
    r.delay_s = (struct oxl_span){delay, delay - half, delay + half};
    r.delay_at_target_s = r.delay_s;
    r.o2_mg = (struct oxl_span){mg, mg - half_mg, mg + half_mg};
    r.air_g_s = 3;
    r.rpm = 750;
    r.x_source = OXL_XSRC_LAMBDA;
    return r;
}

struct oxl_run_result held_run(double low_s, double low_mg)
{
    struct oxl_run_result r = a_run(NAN, NAN, NAN, NAN);
    r.dropped = false;
    r.delay_s = (struct oxl_span){NAN, low_s, INFINITY};
    r.delay_at_target_s = r.delay_s;
    r.o2_mg = (struct oxl_span){NAN, low_mg, INFINITY};
    r.o2_is_lower_bound = true;
    r.reasons = OXL_REASON_BIT(OXL_R_REAR_HELD);
    return r;
}

struct oxl_result judged(const struct oxl_run_result *runs, size_t n,
                         const struct oxl_session_facts *facts)
{
    struct oxl_profile p;
    struct oxl_result out;
    test_profile(&p);
    oxl_judge(runs, n, &p, facts, &out);
    return out;
}

bool judged_has(const struct oxl_result *r, enum oxl_reason reason)
{
    return oxl_reasons_has(r->reasons, reason);
}

struct oxl_span span_class(int k, double scale, double offset)
{
    static const double spans[CLASSES][3] = {
        {1.0, 0.8, 1.2}, {1.9, 1.7, 2.3},    {4.0, 3.5, 4.5},    {6.9, 6.5, 7.5},
        {9.0, 8.5, 9.5}, {NAN, 4, INFINITY}, {NAN, 9, INFINITY}, {NAN, NAN, NAN}};
    struct oxl_span s = {spans[k][0] * scale + offset, spans[k][1] * scale + offset,
                         spans[k][2] * scale + offset};
    return s;
}

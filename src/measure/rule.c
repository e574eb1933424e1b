#include "parts.h"

/* A closed loop on a switching sensor dithers at 0.5 to 1.5 Hz (science notes, from memory), so
 * its lean half lasts up to 1 s: lean for longer than that is a release. */
static const double switching_settle_s = 1.2;
/* A wide-range front is calmer; this only matters when it stays just over the step. */
static const double wide_settle_s = 0.5;

static struct oxl_lean_rule rule_of(const struct oxl_profile *p, enum oxl_sensor_kind kind,
                                    double level, double noise)
{
    struct oxl_lean_rule r = {.kind = kind,
                              .switch_v = p->switch_v,
                              .rich_v = p->rich_v,
                              .lean_v = p->lean_v,
                              .level = level,
                              .step = p->lambda_step,
                              .noise = oxl_known(noise) ? noise : 0.0,
                              .settle_s = 0};
    return r;
}

struct oxl_lean_rule oxl_front_rule(const struct oxl_profile *profile, const struct oxl_pair *pair,
                                    double level, double noise)
{
    struct oxl_lean_rule r = rule_of(profile, pair->front_kind, level, noise);
    /* A loop at rest keeps balance: what stands farther off than a sensor's offset is no rest. */
    if (!oxl_known(level) || (pair->front_kind == OXL_SENSOR_WIDE &&
                              fabs(level - profile->lambda_balance) > 2 * profile->lambda_err))
        r.level = profile->lambda_balance;
    r.settle_s = pair->front_kind == OXL_SENSOR_WIDE ? wide_settle_s : switching_settle_s;
    return r;
}

struct oxl_lean_rule oxl_rear_rule(const struct oxl_profile *profile, const struct oxl_pair *pair,
                                   double noise)
{
    struct oxl_lean_rule r = rule_of(profile, pair->rear_kind, profile->lambda_balance, noise);
    r.settle_s = pair->rear_kind == OXL_SENSOR_WIDE ? wide_settle_s : 0;
    return r;
}

#include "sim/catalyst.h"

#include <math.h>

static double share_at(const struct oxl_catalyst *c, double temp_c)
{
    return 1 / (1 + exp(-(temp_c - c->light_off_c) / c->light_off_width_c));
}

void oxl_catalyst_init(struct oxl_catalyst *c, double temp_c, double theta)
{
    c->temp_c = temp_c;
    c->hot_share = share_at(c, temp_c);
    c->flow_share = 1;
    c->in_g = c->out_g = c->thermal_g = 0;
    for (unsigned i = 0; i < OXL_CATALYST_CELLS; i++)
        c->theta[i] = c->bulk[i] = theta;
}

double oxl_catalyst_capacity_g(const struct oxl_catalyst *c)
{
    return c->capacity_g * c->hot_share;
}

double oxl_catalyst_stored_g(const struct oxl_catalyst *c)
{
    double surface = 0, bulk = 0;
    for (unsigned i = 0; i < c->cells; i++) {
        surface += c->theta[i];
        bulk += c->bulk[i];
    }
    return oxl_catalyst_capacity_g(c) / c->cells *
           (surface * (1 - c->bulk_share) + bulk * c->bulk_share);
}

/* Sites wake and sleep with what they hold: the fill share stays, the grams move. */
void oxl_catalyst_temperature(struct oxl_catalyst *c, double temp_c)
{
    double before = oxl_catalyst_stored_g(c);
    c->temp_c = temp_c;
    c->hot_share = share_at(c, temp_c);
    c->thermal_g += oxl_catalyst_stored_g(c) - before;
}

static void exchange_with_bulk(struct oxl_catalyst *c, unsigned i, double dt_s)
{
    double moved = (c->theta[i] - c->bulk[i]) * dt_s / c->bulk_tau_s; /* of the bulk's grams */
    c->bulk[i] += moved;
    c->theta[i] -= moved * c->bulk_share / (1 - c->bulk_share);
    c->theta[i] = fmin(1, fmax(0, c->theta[i]));
}

/* The share of the gas that one cell takes up, `open` of whose sites are there for it. */
static double taken_share(const struct oxl_catalyst *c, double k, double open)
{
    if (!c->tanks)
        return -expm1(-k * open);
    double eases = open > 1e-9 ? k / (1 + c->shell * (1 / cbrt(open) - 1)) : 0;
    return eases / (1 + eases);
}

double oxl_catalyst_step(struct oxl_catalyst *c, double excess_g_s, double dt_s)
{
    double hot_g = oxl_catalyst_capacity_g(c);
    double cell_g = hot_g * (1 - c->bulk_share) / c->cells;
    double fill = c->fill_k_per_g * hot_g / c->cells * c->flow_share;
    double release = c->release_k_per_g * hot_g / c->cells * c->flow_share;
    double slips = excess_g_s < 0 ? excess_g_s * c->slip_share : 0;
    double e = excess_g_s - slips;
    c->in_g += excess_g_s * dt_s;
    for (unsigned i = 0; i < c->cells && cell_g > 1e-9; i++) {
        double theta = c->theta[i];
        double rho = e > 0 ? taken_share(c, fill, 1 - theta) : taken_share(c, release, theta);
        double taken_g = (e * rho + c->reoxidation_per_s * (1 - theta) * cell_g) * dt_s;
        taken_g = fmin((1 - theta) * cell_g, fmax(-theta * cell_g, taken_g));
        c->theta[i] = theta + taken_g / cell_g;
        e -= taken_g / dt_s;
        if (c->bulk_share > 0)
            exchange_with_bulk(c, i, dt_s);
    }
    c->out_g += (e + slips) * dt_s;
    return e + slips;
}

#include "sim/nernst.h"

#include <math.h>

static const double gas_r = 8.314462618, faraday = 96485.33212; /* CODATA 2018 */
static const double air_po2 = 0.2095, fuel_h_c = 1.87, n2_o2 = 3.773;
static const double smallest_x = 1e-6;

/* Free energies, J/mol, straight lines through the JANAF tables' 900 K values (Chase 1998,
 * from memory): H2 + O2/2 = H2O, and CO + H2O = CO2 + H2. */
static double ln_k_h2o(double kelvin)
{
    return (198083 - 54.5 * (kelvin - 900)) / (gas_r * kelvin);
}

static double ln_k_shift(double kelvin)
{
    return (6249 - 32.2 * (kelvin - 900)) / (gas_r * kelvin);
}

double oxl_nernst_volts(double po2_bar, double kelvin)
{
    return gas_r * kelvin / (4 * faraday) * log(air_po2 / po2_bar);
}

double oxl_nernst_h2_h2o(double po2_bar, double kelvin)
{
    return exp(-ln_k_h2o(kelvin)) / sqrt(po2_bar);
}

double oxl_nernst_co_co2(double po2_bar, double kelvin)
{
    return oxl_nernst_h2_h2o(po2_bar, kelvin) * exp(-ln_k_shift(kelvin));
}

/* Atom balances for one CH1.87 with s*lambda O2 and its nitrogen, at 1 bar; with the oxygen
 * pressure given they are linear in lambda and the free oxygen. */
static double lambda_of(double po2_bar, double kelvin)
{
    double s = 1 + fuel_h_c / 4;
    double co2 = 1 / (1 + oxl_nernst_co_co2(po2_bar, kelvin));
    double h2o = fuel_h_c / 2 / (1 + oxl_nernst_h2_h2o(po2_bar, kelvin));
    double bound = (co2 + 1 + h2o) / 2;
    double o2 = po2_bar * (1 + fuel_h_c / 2 + n2_o2 * bound) / (1 - po2_bar * (1 + n2_o2));
    return (bound + o2) / s;
}

static double grid_x(int i)
{
    double top = asinh(1 / smallest_x);
    return smallest_x * sinh(top * (2.0 * i / (OXL_NERNST_POINTS - 1) - 1));
}

/* Lambda rises with the oxygen pressure, so one sweep in small steps of voltage meets every grid
 * point in turn. */
void oxl_nernst_init(struct oxl_nernst *n, double kelvin)
{
    const double volts_step = 0.001, k = gas_r * kelvin / (4 * faraday);
    double v_before = 1.2, x_before = -1e9;
    int i = 0;
    for (int n_step = 0; n_step < 1200 && i < OXL_NERNST_POINTS; n_step++) {
        double v = 1.2 - n_step * volts_step;
        double x = 1 - 1 / lambda_of(air_po2 * exp(-v / k), kelvin);
        for (; i < OXL_NERNST_POINTS && grid_x(i) <= x; i++)
            n->v[i] = v + (v_before - v) * (x - grid_x(i)) / (x - x_before);
        v_before = v;
        x_before = x;
    }
    for (; i < OXL_NERNST_POINTS; i++)
        n->v[i] = 0;
}

double oxl_nernst_v(const struct oxl_nernst *n, double x)
{
    double top = asinh(1 / smallest_x);
    double at = (asinh(x / smallest_x) / top + 1) / 2 * (OXL_NERNST_POINTS - 1);
    if (at <= 0)
        return n->v[0];
    if (at >= OXL_NERNST_POINTS - 1)
        return n->v[OXL_NERNST_POINTS - 1];
    int i = (int)at;
    return n->v[i] + (n->v[i + 1] - n->v[i]) * (at - i);
}

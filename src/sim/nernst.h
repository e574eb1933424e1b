/* A zirconia sensor's voltage over the gas's oxygen excess, from thermodynamics. */
#ifndef OXL_SIM_NERNST_H
#define OXL_SIM_NERNST_H

enum { OXL_NERNST_POINTS = 513 };

/* Voltage over x = 1 - 1/lambda on a grid that is fine about x = 0. */
struct oxl_nernst {
    double v[OXL_NERNST_POINTS];
};

void oxl_nernst_init(struct oxl_nernst *n, double kelvin);
double oxl_nernst_v(const struct oxl_nernst *n, double x);

/* The two equations behind the table. po2 in bar; the reference side is air, 0.2095 bar. */
double oxl_nernst_volts(double po2_bar, double kelvin);
/* H2/H2O at equilibrium with that oxygen pressure, and the same for CO/CO2. */
double oxl_nernst_h2_h2o(double po2_bar, double kelvin);
double oxl_nernst_co_co2(double po2_bar, double kelvin);

#endif

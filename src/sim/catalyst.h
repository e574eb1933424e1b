/* The converter: plug flow through cells that store oxygen, each by the control-oriented model
 * of Brandt, Wang & Grizzle 2000 (IEEE Trans. Control Systems Technology 8(5):767-776; equation
 * from memory):
 *   dtheta/dt = w * air * (1 - 1/lambda) * rho / C,  rho falls with theta when lean and rises
 *   with it when rich.
 * In the limit of many cells and a constant lean inlet this is the adsorption front of Bohart &
 * Adams 1920 (J. Am. Chem. Soc. 42:523, from memory).
 *
 * The other model, `tanks`, has other equations: a few well-mixed tanks whose grains fill from the
 * outside in, so that oxygen has to pass the shell that is full already. Of what enters a tank
 *   f K / (1 + f K) is taken, f = 1 / (1 + shell (v^-1/3 - 1)), v the vacant share
 * (shrinking core with diffusion through a shell, Levenspiel; from memory, linear in the shell's
 * thickness), and likewise of rich gas with the filled share.
 */
#ifndef OXL_SIM_CATALYST_H
#define OXL_SIM_CATALYST_H

#include <stdbool.h>

enum { OXL_CATALYST_CELLS = 256 };

struct oxl_catalyst {
    unsigned cells;
    double capacity_g;        /* oxygen, hot */
    double fill_k_per_g;      /* e-folds of lean gas taken up by an empty converter, a gram */
    double release_k_per_g;   /* likewise of rich gas by a full one */
    bool tanks;               /* the cells are tanks, their grains have shells */
    double shell;             /* resistance of a shell over that of the film */
    double slip_share;        /* of rich gas that reacts too slowly to be taken up at all */
    double reoxidation_per_s; /* by steam and CO2, which then leave as H2 and CO */
    double light_off_c;       /* half of the capacity is there */
    double light_off_width_c;
    double bulk_share, bulk_tau_s; /* second site that only the first can fill; share 0 = none */
    double temp_c;
    double hot_share;  /* of the capacity, at temp_c */
    double flow_share; /* of both K at the present flow; 1 until it is set */
    double theta[OXL_CATALYST_CELLS], bulk[OXL_CATALYST_CELLS];
    /* Ledger, g: in - out + thermal = change of what is stored. Missing oxygen counts negative. */
    double in_g, out_g, thermal_g;
};

/* The fields above `temp_c` are set by the caller. */
void oxl_catalyst_init(struct oxl_catalyst *c, double temp_c, double theta);
void oxl_catalyst_temperature(struct oxl_catalyst *c, double temp_c);
/* Oxygen excess, g/s, in; what leaves, out. */
double oxl_catalyst_step(struct oxl_catalyst *c, double excess_g_s, double dt_s);
double oxl_catalyst_stored_g(const struct oxl_catalyst *c);
double oxl_catalyst_capacity_g(const struct oxl_catalyst *c); /* at its temperature */

#endif

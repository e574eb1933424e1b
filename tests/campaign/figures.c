/* The figures that must be reached; docs/validation.md has the same list. */
#include <math.h>

#include "campaign.h"

static bool at_least(FILE *out, const char *what, double value, double least)
{
    bool ok = value >= least; /* unknown is not reached */
    fprintf(out, "  %-62s %8.3f  at least %6.3f  %s\n", what, value, least, ok ? "yes" : "NO");
    return ok;
}

static bool at_most(FILE *out, const char *what, double value, double most)
{
    bool ok = value <= most;
    fprintf(out, "  %-62s %8.3f  at most  %6.3f  %s\n", what, value, most, ok ? "yes" : "NO");
    return ok;
}

bool figures_reached(FILE *out, const struct figures *f)
{
    bool ok = true;
    fputs("\nFigures\n", out);
    ok = at_most(out, "delay error at 8-14 Hz, wide front: median (s)", f->delay_median_10hz_s,
                 0.040) &&
         ok;
    ok = at_most(out, "  the same: 95 of 100 runs below (s)", f->delay_p95_10hz_s, 0.100) && ok;
    ok = at_least(out, "delay interval holds the truth, least of all rows", f->coverage_least,
                  0.95) &&
         ok;
    ok = at_least(out, "oxygen within 10 % + 20 mg, wide front", f->o2_within[1], 0.90) && ok;
    ok = at_least(out, "oxygen within 20 % + 30 mg, switching front", f->o2_within[0], 0.90) && ok;
    ok = at_least(out, "oxygen interval holds the truth, wide front", f->o2_covered[1], 0.95) && ok;
    ok =
        at_least(out, "oxygen interval holds the truth, switching front", f->o2_covered[0], 0.95) &&
        ok;
    ok = at_least(out, "lower bound of the mass not above the truth", f->bound_o2_held, 0.99) && ok;
    ok = at_least(out, "lower bound of delay at target not above the truth", f->bound_target_held,
                  0.99) &&
         ok;
    ok = at_least(out, "delay at target within 20 %", f->target_within, 0.90) && ok;
    ok = at_least(out, "delay-at-target interval holds the truth", f->target_covered, 0.95) && ok;
    ok = at_most(out, "sound converters called bad", (double)f->sound_called_bad, 0) && ok;
    ok = at_most(out, "dead converters called good", (double)f->dead_called_good, 0) && ok;
    return ok;
}

/* The figures that are to be reached; docs/validation.md has the same list. Each has its goal and a
 * floor: the floor is what the small campaign of the tests holds the program to, with room for the
 * chance in a few hundred runs. */
#include <math.h>

#include "campaign.h"

struct tally {
    FILE *out;
    bool ok; /* no figure is beyond its floor */
};

/* sign +1: at least; -1: at most. Unknown is never reached. */
static void figure(struct tally *t, const char *what, double value, int sign, double goal,
                   double floor)
{
    bool reached = sign * value >= sign * goal, kept = sign * value >= sign * floor;
    fprintf(t->out, "  %-58s %7.3f  %s %6.3f  %s\n", what, value,
            sign > 0 ? "at least" : "at most ", goal,
            reached ? "reached"
            : kept  ? "not reached"
                    : "BELOW ITS FLOOR");
    t->ok = t->ok && kept;
}

bool figures_reached(FILE *out, const struct figures *f)
{
    struct tally t = {out, true};
    fputs("\nFigures (quick: the ECU refreshes both sensors every 50 ms or less)\n", out);
    figure(&t, "delay error at 8 Hz or more, wide front, quick: median (s)", f->delay_median_s, -1,
           0.040, 0.040);
    figure(&t, "  the same: 95 of 100 runs below (s)", f->delay_p95_s, -1, 0.100, 0.100);
    figure(&t, "delay interval holds the truth, least of all rows", f->coverage_least, 1, 0.95,
           0.95);
    figure(&t, "oxygen within 10 % + 20 mg, wide front, quick", f->o2_within[1], 1, 0.95, 0.95);
    figure(&t, "oxygen within 20 % + 30 mg, switching front, quick", f->o2_within[0], 1, 0.95,
           0.95);
    figure(&t, "oxygen interval holds the truth, wide front", f->o2_covered[1], 1, 0.95, 0.95);
    figure(&t, "oxygen interval holds the truth, switching front", f->o2_covered[0], 1, 0.95, 0.95);
    /* One of the 14 held runs of the small fixed set (50006, its second) is 1.3 % above it; of
     * 1726 of 116000001 to 119000001 that were not looked at 0.993 and 1.000 hold. */
    figure(&t, "lower bound of the mass not above the truth", f->bound_o2_held, 1, 0.99, 0.98);
    figure(&t, "  of runs whose rear held", f->bound_o2[0], 1, 0.99, 0.92);
    figure(&t, "  of part-emptied runs", f->bound_o2[1], 1, 0.99, 0.99);
    figure(&t, "lower bound of delay at target not above the truth", f->bound_target_held, 1, 0.99,
           0.99);
    figure(&t, "  of runs whose rear held", f->bound_target[0], 1, 0.99, 0.99);
    figure(&t, "  the same, by its own kind of rear", f->bound_target_own, 1, 0.99, 0.99);
    figure(&t, "  of part-emptied runs", f->bound_target[1], 1, 0.99, 0.99);
    figure(&t, "delay at target within 20 %, quick", f->target_within, 1, 0.95, 0.93);
    /* Its small fixed set (seed 50001) holds two cars, 50024 and 50089, that miss by a little in
     * every run; of 1600 cars not looked at 0.986 (docs/validation.md). */
    figure(&t, "delay-at-target interval holds the truth", f->target_covered, 1, 0.95, 0.85);
    figure(&t, "sound converters called bad", (double)f->sound_called_bad, -1, 0, 0);
    figure(&t, "sound converters called not good", (double)f->sound_called_not_good, -1, 0, 0);
    figure(&t, "dead converters called good", (double)f->dead_called_good, -1, 0, 0);
    figure(&t, "dead converters called not bad", (double)f->dead_called_not_bad, -1, 0, 0);
    fprintf(out,
            "  dead converters called bad: %zu of %zu; sound ones called good: %zu, good or not "
            "bad: %zu of %zu\n",
            f->dead_decided, f->dead, f->sound_decided, f->sound_spared, f->sound);
    return t.ok;
}

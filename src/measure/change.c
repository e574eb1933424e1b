/* Has a signal changed while something was done to the engine, and back when it was undone? Three
 * windows, before, during, after. A drift goes the same way in both halves and cancels; noise that
 * is as slow as the windows shows as scatter of their parts. */
#include "parts.h"

enum { PARTS = 5, WINDOWS = 3 };

/* How many of its own standard errors a change must reach, and how large the smaller of its two
 * edges must be. Chosen by trial on seeded noise (tests/unit/measure/test_change.c). */
static const double errors_needed = 11.0;
static const double least_edge = 0.6;

struct parts_of {
    double mean[WINDOWS];
    double scatter; /* variance of a part about its window's own mean */
};

static bool split(struct oxl_trace t, const int64_t from_us[WINDOWS], int64_t length_us,
                  struct parts_of *out)
{
    double sum = 0;
    for (unsigned w = 0; w < WINDOWS; w++) {
        double part[PARTS];
        out->mean[w] = 0;
        for (unsigned i = 0; i < PARTS; i++) {
            int64_t a = from_us[w] + length_us * i / PARTS;
            struct oxl_window_stats s = oxl_trace_window(t, a, a + length_us / PARTS - 1);
            if (s.count == 0)
                return false;
            part[i] = s.mean;
            out->mean[w] += s.mean / PARTS;
        }
        for (unsigned i = 0; i < PARTS; i++)
            sum += square(part[i] - out->mean[w]);
    }
    out->scatter = sum / (WINDOWS * (PARTS - 1));
    return true;
}

struct oxl_change oxl_find_change(struct oxl_trace t, int64_t before_us, int64_t during_us,
                                  int64_t after_us, int64_t length_us, double least)
{
    struct oxl_change c = {false, false, NAN, NAN};
    struct parts_of p;
    const int64_t from_us[WINDOWS] = {before_us, during_us, after_us};
    if (!split(t, from_us, length_us, &p))
        return c;
    double there = p.mean[1] - p.mean[0], back = p.mean[1] - p.mean[2];
    c.known = true;
    c.by = 0.5 * (there + back);
    /* Variance of a mean of PARTS parts, and of their difference 1, -1/2, -1/2. */
    double error = sqrt(1.5 * p.scatter / PARTS);
    c.needs = fmax(least, errors_needed * error);
    double edge = there * back > 0 ? fmin(fabs(there), fabs(back)) : 0;
    c.changed = fabs(c.by) >= c.needs && edge >= least_edge * fabs(c.by);
    return c;
}

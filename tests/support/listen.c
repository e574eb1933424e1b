#include "listen.h"

#include <math.h>
#include <stdbool.h>

enum { HOP = LISTEN_HZ / 100, WINDOW = 2 * HOP };

static const struct {
    const char *what;
    double hz, then_hz; /* then_hz: a pitch that must follow within the time; 0: none */
    double seconds;
} table[] = {
    {"slow", 587, 494, 0.22},   {"hold", 880, 0, 0.32},        {"less", 784, 622, 0.28},
    {"cut", 1568, 0, 0.49},     {"front-lean", 1175, 0, 0.09}, {"rear-lean", 1319, 1760, 0.26},
    {"shut", 2093, 1047, 0.48}, {"trouble", 440, 0, 0.31},     {"tick", 2637, 0, 0.014},
};
enum { KINDS = sizeof table / sizeof table[0] };

/* The share of the window's energy that is at that pitch: 1 for a pure tone throughout. */
static double share(const int16_t *x, double hz)
{
    double w = 2 * acos(-1) * hz / LISTEN_HZ, a = 0, b = 0, energy = 0;
    for (int i = 0; i < WINDOW; i++) {
        double s = x[i] + 2 * cos(w) * a - b;
        b = a;
        a = s;
        energy += (double)x[i] * x[i];
    }
    double power = a * a + b * b - 2 * cos(w) * a * b;
    return energy < 1e4 * WINDOW / 100 ? 0 : 2 * power / (WINDOW * energy);
}

static bool is_at(const int16_t *x, double hz)
{
    const double pure = 0.75, clear = 0.4; /* a tick is shorter than a window */
    return share(x, hz) > (hz > 2600 ? clear : pure);
}

static bool follows(const int16_t *x, size_t left, double hz, double seconds)
{
    for (size_t i = 0; i + WINDOW <= left && (double)i < seconds * LISTEN_HZ; i += HOP)
        if (is_at(x + i, hz))
            return true;
    return hz == 0;
}

/* Where in the window it begins: it was silent before, or another pitch. */
static size_t onset(const int16_t *x)
{
    size_t i = 0;
    while (i + 1 < WINDOW && x[i] > -100 && x[i] < 100)
        i++;
    return i;
}

size_t listen_to(const int16_t *samples, size_t n, struct heard *out, size_t max)
{
    double until_s[KINDS] = {0};
    size_t count = 0;
    for (size_t at = 0; at + WINDOW <= n; at += HOP)
        for (int k = 0; k < KINDS && count < max; k++) {
            double t_s = (double)at / LISTEN_HZ;
            if (t_s < until_s[k] || !is_at(samples + at, table[k].hz))
                continue;
            bool whole = follows(samples + at, n - at, table[k].then_hz, table[k].seconds);
            t_s += (double)onset(samples + at) / LISTEN_HZ;
            out[count++] = (struct heard){t_s, whole ? table[k].what : "?"};
            until_s[k] = t_s + table[k].seconds + 0.005;
        }
    return count;
}

/* A small bench with a known truth for the tests of this room: gas, closed loop, pipe, a store of
 * known size, two first-order sensors, and a link that samples them. It shares nothing with
 * src/sim. */
#ifndef OXL_TEST_BENCH_H
#define OXL_TEST_BENCH_H

#include "oxylag/measure.h"

enum bench_loop { BENCH_PI, BENCH_RELAY };

struct bench {
    /* plant */
    bool switching_front;
    enum bench_loop loop;
    double rate;  /* PI: Ki = Kp per second; relay: fraction a second */
    double depth; /* gas as a fraction of the fuel */
    double on_s, off_s, tail_s;
    double start_share; /* of the store that is full at the start */
    double slip;        /* of the rich dose that passes a store that is not empty */
    double store_g, air_g_s, pipe_s, front_tau_s, rear_tau_s;
    double trim0; /* baseline total trim, fraction */
    double noise_v, noise_lambda;
    double end_s;
    /* the ECU takes each value once in so many seconds, by a clock of its own; 0: when asked */
    double refresh_front_s, refresh_rear_s, refresh_trim_s;
    /* link */
    double rate_hz;  /* samples a second of each sensor */
    double reply_s;  /* request-reply time */
    bool same_reply; /* both sensors in one answer */
    int moment;      /* 0: always at the same part of the reply time, 1: anywhere in it */
    uint32_t seed;
};

enum { BENCH_MAX = 4096 };
struct bench_run {
    struct oxl_point front[BENCH_MAX], rear[BENCH_MAX], trim[BENCH_MAX], air[BENCH_MAX];
    size_t n_front, n_rear, n_trim, n_air;
    /* truth: crossings of the noise-free sensor signals, and grams in the store at the rear's
     * breakthrough; NAN when it did not happen */
    double front_lean_s, rear_lean_s, stored_g, fed_g;
};

struct bench bench_usual(void);
void bench_go(const struct bench *b, struct bench_run *r);
/* As the procedure would hand it over: ended at the rear's drop plus a second, or when the front
 * is back at balance. The profile has the bench's own pipe and lags. */
void bench_input(const struct bench *b, const struct bench_run *r, struct oxl_profile *p,
                 struct oxl_run_input *in);
/* ... with what the run itself shows of the refreshes, as the procedure does. */
void bench_take_moments(struct oxl_run_input *in);
void test_profile(struct oxl_profile *p);

/* cmocka's own comparison is in float. */
#define assert_near(a, b, tolerance)                                                               \
    do {                                                                                           \
        double near_a = (a), near_b = (b);                                                         \
        if (!(fabs(near_a - near_b) <= (tolerance)))                                               \
            fail_msg("%s: %.10g is not %.10g", #a, near_a, near_b);                                \
    } while (0)

double random_unit(uint32_t *seed);
double random_normal(uint32_t *seed);
#endif

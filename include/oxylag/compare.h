/* Compare: two tests of the same kind, before and after a repair or of two banks. Pure.
 *
 * Only like is compared with like; what is unlike is said in words and no difference is given.
 */
#ifndef OXYLAG_COMPARE_H
#define OXYLAG_COMPARE_H

#include <stdint.h>

#include "oxylag/measure.h"
#include "oxylag/report.h"

/* Why two tests must not be compared, or what weakens it. X(id, code, forbids, sentence) */
#define OXL_UNLIKES(X)                                                                             \
    X(NO_RESULT, "no-result", true, "At least one of the tests has no result.")                    \
    X(SAME, "same-recording", true, "Both are the same recording.")                                \
    X(SIMULATED, "simulated", true, "One is simulated and the other is not.")                      \
    X(VEHICLE, "vehicle", true, "The VINs differ.")                                                \
    X(BANK, "bank", true, "They are of different banks.")                                          \
    X(SENSORS, "sensors", true, "The kinds of the oxygen sensors differ.")                         \
    X(SPEED, "engine-speed", true,                                                                 \
      "The engine speeds differ by more than the profile lets runs differ.")                       \
    X(TARGET, "target", true, "The target shifts of the trims differ.")                            \
    X(VEHICLE_UNKNOWN, "vehicle-unknown", false,                                                   \
      "The VIN of one is not known: nothing shows that it is the same vehicle.")                   \
    X(SPEED_UNKNOWN, "engine-speed-unknown", false, "The engine speed of one is not known.")       \
    X(AIR_FLOW, "air-flow", false,                                                                 \
      "The air flows differ by more than a tenth, so the times differ for that reason alone.")     \
    X(AIR_SOURCE, "air-source", false,                                                             \
      "The air flow was measured in one and estimated in the other.")                              \
    X(INLET, "inlet", false, "The gas was fed at different places.")                               \
    X(LIMITS, "limits", false, "The shop limits of the two profiles differ.")                      \
    X(ORDER, "order", false, "The first recording was made after the second.")                     \
    X(FEW_RUNS, "few-runs", false,                                                                 \
      "One of the tests has fewer than two counted runs: its own spread is not known.")

enum oxl_unlike {
#define X(id, code, forbids, sentence) OXL_UNLIKE_##id,
    OXL_UNLIKES(X)
#undef X
        OXL_UNLIKE_COUNT
};
struct oxl_unlike_row {
    const char *code, *sentence;
    bool forbids;
};
extern const struct oxl_unlike_row oxl_unlikes[OXL_UNLIKE_COUNT];

enum oxl_trend {
    OXL_CHANGE_UNKNOWN = 0, /* a figure is missing, or a bound does not decide */
    OXL_CHANGE_NOT_SHOWN,   /* no more than the intervals and the runs' own spread */
    OXL_CHANGE_ROSE,
    OXL_CHANGE_FELL
};
const char *oxl_change_name(enum oxl_trend c); /* "unknown", "not-shown", "rose", "fell" */

struct oxl_difference {
    struct oxl_span span; /* second less first; an end that nothing bounds is infinite */
    double spread;        /* the wider range of valid runs within one test, without bounds
                           * and deeper runs; NAN unknown */
    enum oxl_trend change;
};

struct oxl_comparison {
    uint32_t unlikes; /* bit set of enum oxl_unlike */
    bool allowed;     /* no unlike forbids it; else the differences are unknown */
    struct oxl_difference delay_at_target_s, o2_mg;
};

/* Second less first. The intervals belong to independent measurements, so the distances from
 * value to end add as squares; beside a bound the ends add plainly. */
struct oxl_span oxl_span_difference(const struct oxl_span *first, const struct oxl_span *second);
/* A change is shown when the interval leaves 0 out and the difference exceeds the spread. */
enum oxl_trend oxl_judge_change(const struct oxl_span *difference, double spread);

void oxl_compare(const struct oxl_test_record *first, const struct oxl_test_record *second,
                 struct oxl_comparison *out);

#endif

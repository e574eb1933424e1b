/* Runs to be judged, made by hand. */
#ifndef OXL_TEST_JUDGE_H
#define OXL_TEST_JUDGE_H

#include "oxylag/measure.h"

/* Both sensors were seen to work. */
extern const struct oxl_session_facts proven;

/* A sound run at 3 g/s: the rear dropped after delay, of mg stored. */
struct oxl_run_result a_run(double delay, double half, double mg, double half_mg);
/* The rear held: bounds from below. */
struct oxl_run_result held_run(double low_s, double low_mg);
struct oxl_result judged(const struct oxl_run_result *runs, size_t n,
                         const struct oxl_session_facts *facts);
bool judged_has(const struct oxl_result *r, enum oxl_reason reason);

/* Spans on either side of 2 and 7, across them, open above, unknown. */
enum { CLASSES = 8 };
struct oxl_span span_class(int k, double scale, double offset);

#endif

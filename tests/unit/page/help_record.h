/* Made-up records of tests: nothing in them was measured. */
#ifndef OXYLAG_TEST_HELP_RECORD_H
#define OXYLAG_TEST_HELP_RECORD_H

#include "oxylag/report.h"

/* Static storage, made anew by each call. */
struct oxl_test_record *story_low(void); /* three runs, verdict bad, everything known */
struct oxl_test_record *
story_held(void); /* simulated, rear held, no air flow, verdict inconclusive */
struct oxl_test_record *story_stopped(void); /* nothing but a reason */

#endif

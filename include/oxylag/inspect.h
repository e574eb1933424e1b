/* Inspect: the pre-check alone. Connects, asks the vehicle for everything that bears on the test,
 * watches it for a few seconds, and says line by line what is fit, what is not, and what to do.
 * Pure, with the same inputs and outputs as a session.
 */
#ifndef OXYLAG_INSPECT_H
#define OXYLAG_INSPECT_H

#include "oxylag/event.h"
#include "oxylag/onboard.h"
#include "oxylag/session.h"
#include "oxylag/status.h"

enum { OXL_INSPECT_CHECKS = 160, OXL_INSPECT_READINGS = 64, OXL_INSPECT_SECTIONS = 12 };

/* What was found. Plain data; unknown is NAN, empty or false. */
struct oxl_inspection {
    unsigned bank;
    struct oxl_vehicle vehicle;
    struct oxl_onboard onboard;
    struct oxl_pair pair[2]; /* of banks 1 and 2 */
    double front_hz, rear_hz, round_ms;
    struct oxl_refresh front_refresh, rear_refresh, trim_refresh; /* of the bank under test */
    struct oxl_sample reading[OXL_INSPECT_READINGS];              /* the latest of each channel */
    size_t readings_n;
    unsigned trims_seen; /* values of the bank's short-term trim */
    bool trim_moved;     /* ... that were not all exactly 0 */
    struct oxl_check checks[OXL_INSPECT_CHECKS];
    size_t checks_n;
    struct {
        const char *title;
        size_t first; /* check */
    } sections[OXL_INSPECT_SECTIONS];
    size_t sections_n;
    enum oxl_grade worst;
    bool code_unknown; /* a trouble code of which it is not known what it does to the test */
};
/* The latest value of a channel, NAN when none came. */
double oxl_inspection_reading(const struct oxl_inspection *v, struct oxl_channel c);

struct oxl_inspect; /* opaque; no allocation after _new */
/* Of the settings of a session those that concern it. */
struct oxl_inspect *oxl_inspect_new(const struct oxl_session_config *config,
                                    const struct oxl_session_out *out);
void oxl_inspect_free(struct oxl_inspect *i); /* NULL is accepted */

/* RX, TICK, LINK_UP and LINK_DOWN as in a session; ABORT is the only key. Events: link, vehicle,
 * and at the end every check. False when nothing came of it: such a tick need not be recorded. */
bool oxl_inspect_step(struct oxl_inspect *i, const struct oxl_input *in);
int64_t oxl_inspect_due_us(const struct oxl_inspect *i);
bool oxl_inspect_over(const struct oxl_inspect *i);
/* OXL_OK; UNSUITABLE when the bank lacks a sensor (everything was inspected all the same);
 * NO_ADAPTER, NO_VEHICLE, LINK_LOST, STOPPED (nothing to show). */
enum oxl_status oxl_inspect_outcome(const struct oxl_inspect *i, const char **text);
const struct oxl_inspection *oxl_inspect_found(const struct oxl_inspect *i); /* owned by i */

#endif

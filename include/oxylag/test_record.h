/* The record of one test: what the session said, kept. The one listener of the event stream that
 * keeps runs, checks, notes and the result; screen, page, comparison and quiz read it.
 */
#ifndef OXYLAG_TEST_RECORD_H
#define OXYLAG_TEST_RECORD_H

#include <stddef.h>

#include "oxylag/event.h"
#include "oxylag/record.h"

enum { OXL_RECORD_MAX_RUNS = 32, OXL_RECORD_MAX_CHECKS = 64, OXL_RECORD_MAX_NOTES = 64 };

/* Plain data, large: allocate it. */
struct oxl_test_record {
    struct oxl_record_header header;
    char recording_name[256]; /* "" when none */
    char sha256[65];          /* "" when none */
    bool torn;                /* the recording's last line was cut off */
    struct oxl_vehicle vehicle;
    struct oxl_profile profile;
    char profile_why[96];
    struct oxl_check checks[OXL_RECORD_MAX_CHECKS];
    size_t checks_n;
    struct oxl_run_result runs[OXL_RECORD_MAX_RUNS];
    int64_t run_t_us[OXL_RECORD_MAX_RUNS];
    size_t runs_n;
    bool has_result;
    struct oxl_result result;
    enum oxl_state last_state;
    double baseline_trim_pct;
    struct {
        int64_t t_us;
        char text[96];
    } notes[OXL_RECORD_MAX_NOTES]; /* marks, notes, overrides */
    size_t notes_n;
    char stopped_why[OXL_DETAIL]; /* when there is no result */
};
void oxl_test_record_init(struct oxl_test_record *s, const struct oxl_record_header *header);
void oxl_test_record_event(struct oxl_test_record *s, const struct oxl_event *ev);
/* The last check whose id begins so; NULL: there is none. */
const struct oxl_check *oxl_test_record_check(const struct oxl_test_record *s, const char *id);

/* What one run shows on screen and page: as judged where there is a result, else as it was
 * measured. */
static inline struct oxl_run_figures oxl_run_shown(const struct oxl_test_record *s,
                                                   const struct oxl_run_result *r)
{
    return oxl_run_as_judged(r, s->has_result ? &s->result : NULL, &s->profile);
}

#endif

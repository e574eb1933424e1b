/* Report: the repair-order page from what a session said. Pure: writes into a growing buffer.
 */
#ifndef OXYLAG_REPORT_H
#define OXYLAG_REPORT_H

#include <stddef.h>

#include "oxylag/event.h"
#include "oxylag/record.h"
#include "oxylag/session.h"
#include "oxylag/status.h"

enum { OXL_REPORT_MAX_RUNS = 32, OXL_REPORT_MAX_CHECKS = 64, OXL_REPORT_MAX_NOTES = 64 };

/* Everything a report needs, collected from the event stream. Plain data, large: allocate it. */
struct oxl_story {
    struct oxl_record_header header;
    char recording_name[256]; /* "" when none */
    char sha256[65];          /* "" when none */
    bool torn;                /* the recording's last line was cut off */
    struct oxl_vehicle vehicle;
    struct oxl_profile profile;
    char profile_why[96];
    struct oxl_check checks[OXL_REPORT_MAX_CHECKS];
    size_t checks_n;
    struct oxl_run_result runs[OXL_REPORT_MAX_RUNS];
    int64_t run_t_us[OXL_REPORT_MAX_RUNS];
    size_t runs_n;
    bool has_result;
    struct oxl_result result;
    enum oxl_state last_state;
    double baseline_trim_pct;
    struct {
        int64_t t_us;
        char text[96];
    } notes[OXL_REPORT_MAX_NOTES]; /* marks, notes, overrides */
    size_t notes_n;
    char stopped_why[160]; /* when there is no result */
};
void oxl_story_init(struct oxl_story *s, const struct oxl_record_header *header);
void oxl_story_event(struct oxl_story *s, const struct oxl_event *ev);

struct oxl_buf {
    char *data;
    size_t len, cap;
    bool failed;
}; /* owned text, NUL-terminated */
void oxl_buf_add(struct oxl_buf *b, const char *fmt, ...) OXL_PRINTF(2, 3);
void oxl_buf_free(struct oxl_buf *b);

void oxl_report_text(const struct oxl_story *s, struct oxl_buf *out);
void oxl_report_json(const struct oxl_story *s, struct oxl_buf *out);

/* CSV: header line, then one row a sample, as they come. */
void oxl_report_csv_header(struct oxl_buf *out);
void oxl_report_csv_sample(const struct oxl_sample *sample, enum oxl_state state, int run,
                           struct oxl_buf *out);

/* The cautions, one a line, shown at the start and printed in the report; deferring to the
 * vehicle's service information and local rules. Static. */
size_t oxl_cautions_count(void);
const char *oxl_caution(size_t i);

#endif

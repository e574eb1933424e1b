/* Report: the pages of a test, of two tests and of an inspection, from what a session said; and the
 * same for programs. Pure: writes into a growing buffer.
 */
#ifndef OXYLAG_REPORT_H
#define OXYLAG_REPORT_H

#include <stddef.h>

#include "oxylag/event.h"
#include "oxylag/inspect.h"
#include "oxylag/record.h"
#include "oxylag/session.h"
#include "oxylag/status.h"
#include "oxylag/test_record.h"

struct oxl_buf {
    char *data;
    size_t len, cap;
    bool failed;
}; /* owned text, NUL-terminated */
void oxl_buf_add(struct oxl_buf *b, const char *fmt, ...) OXL_PRINTF(2, 3);
void oxl_buf_put(struct oxl_buf *b, const void *bytes, size_t n);
void oxl_buf_free(struct oxl_buf *b);

/* What the plots need: the samples around each run of a test, in the order of its runs. Plain
 * data, large: allocate it. Feed it with the same events as its record, samples too. */
enum oxl_lane { OXL_LANE_FRONT, OXL_LANE_REAR, OXL_LANE_TRIM, OXL_LANE_COUNT };
enum { OXL_TRACK_POINTS = 2048 };
struct oxl_track {
    struct {
        double t_s[OXL_TRACK_POINTS], value[OXL_TRACK_POINTS]; /* t_s as events have it */
        size_t n;
    } lanes[OXL_LANE_COUNT];
    enum oxl_sensor_kind front_kind, rear_kind;
    double baseline_trim_pct; /* NAN unknown */
    int64_t cut_us;           /* "cut now" was called; 0 = not */
};
struct oxl_tracks {
    struct oxl_track runs[OXL_RECORD_MAX_RUNS];
    size_t runs_n; /* runs that are over */
    /* while collecting */
    unsigned bank;
    struct oxl_pair pair;
    bool has_ltft, open;
    int last_run; /* number of the last one that is over */
    double stft_pct, ltft_pct, baseline_trim_pct;
    int64_t close_us; /* the open one is over but for its tail; 0 = it is not over */
};
void oxl_tracks_init(struct oxl_tracks *t, unsigned bank);
void oxl_tracks_event(struct oxl_tracks *t, const struct oxl_event *ev);

/* The tests of one vehicle, the oldest first; at least one. */
struct oxl_vehicle_tests {
    const struct oxl_test_record *const *tests;
    size_t n;
};
enum { OXL_HISTORY_MAX = 100 }; /* what a table has room for */

/* One test, or two to be compared (n = 1 or 2), with the traces of its runs (NULL: none); or an
 * inspection alone; or a history alone, with its newest test. */
struct oxl_report_input {
    const struct oxl_test_record *record;
    const struct oxl_tracks *tracks;
    const struct oxl_inspection *inspection; /* then of the record the header alone counts */
    const struct oxl_vehicle_tests *history;
};
enum oxl_paper { OXL_PAPER_A4 = 0, OXL_PAPER_LETTER };
/* One printed page each. HTML has no script and needs no other file. A failure to draw or to
 * find memory sets out->failed. */
void oxl_report_html(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                     struct oxl_buf *out);
void oxl_report_pdf(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                    struct oxl_buf *out);
/* The same pages as text, 80 columns, with nothing left out; the drawings of runs excepted. */
void oxl_report_text(const struct oxl_report_input *tests, size_t n, struct oxl_buf *out);

/* One JSON object of a test; of the comparison of two, alone (docs/exports.md). */
void oxl_report_json(const struct oxl_test_record *s, struct oxl_buf *out);
void oxl_report_pair_json(const struct oxl_test_record *first, const struct oxl_test_record *second,
                          struct oxl_buf *out);

/* CSV: header line, then one row a sample, as they come. */
void oxl_report_csv_header(struct oxl_buf *out);
void oxl_report_csv_sample(const struct oxl_sample *sample, enum oxl_state state, int run,
                           const char *recording, struct oxl_buf *out);
/* A text as a field of such a row, by the same rule: quoted, and no formula. */
void oxl_report_csv_text(const char *text, struct oxl_buf *out);

/* The cautions, one a line, shown at the start and printed in the report; deferring to the
 * vehicle's service information and local rules. */
enum { OXL_CAUTIONS = 10 };
extern const char *const oxl_cautions[OXL_CAUTIONS];
/* The same in a few lines, for a page that is read after the test. */
extern const char oxl_cautions_short[];

#endif

/* The sinks of the event stream: JSON lines, plain lines, the dashboard and the record of the test
 * for the report all take the same events; none of them sends anything back to the core. */
#ifndef OXL_APP_EVENT_SINKS_H
#define OXL_APP_EVENT_SINKS_H

#include <stdbool.h>
#include <stdint.h>

#include "opts.h"
#include "output.h"
#include "oxylag/event.h"
#include "oxylag/report.h"
#include "oxylag/session.h"
#include "oxylag/sound.h"
#include "oxylag/ui.h"

struct oxl_sinks {
    bool json, samples, mask_vin, quiet, silent; /* silent: only the record of the test gets them */
    bool masked;   /* a quiz: the screen gets neither the state nor who is lean */
    bool look_due; /* something was said since the model had the live values */
    bool held;     /* a replay that stands still, or runs at another rate: no sounds but the bell */
    struct oxl_test_record *record;
    struct oxl_model *model; /* of a dashboard or of sounds, else NULL */
    struct oxl_sound *sound; /* NULL: none is wanted */
    /* dashboard; NULL when not on a terminal */
    struct oxl_term *term;
    struct oxl_model_config config;
    struct oxl_canvas *canvas;
    int64_t next_frame_us;
    struct oxl_output out; /* the lines; without a dashboard only, else there are none */
};

/* The terminal draws more than ASCII. */
bool oxl_draws_utf8(void);

/* Opens the sinks. A dashboard is drawn when stdin and stdout are terminals and neither --json
 * nor --plain was given. */
enum oxl_status oxl_sinks_open(struct oxl_sinks *s, const struct oxl_opts *o, enum oxl_ui_mode mode,
                               const char *title, const struct oxl_record_header *header,
                               struct oxl_error *err) OXL_MUST_CHECK;
/* Restores the terminal; the record of the test stays until _free. */
void oxl_sinks_close(struct oxl_sinks *s);
void oxl_sinks_free(struct oxl_sinks *s);

void oxl_sinks_event(struct oxl_sinks *s, const struct oxl_event *ev);
/* The screen gets samples only, and nothing that gives the answer away. */
void oxl_sinks_sample(struct oxl_sinks *s, const struct oxl_event *ev);
/* The live values go to the model without a drawing. */
void oxl_sinks_look(struct oxl_sinks *s, const struct oxl_session *session,
                    const struct oxl_surroundings *around);
/* Forgets all that was said; the terminal stays. False: no memory. */
bool oxl_sinks_restart(struct oxl_sinks *s, const struct oxl_record_header *header) OXL_MUST_CHECK;
/* Draws when a frame is due at wall_us (10 a second); force draws at once. */
void oxl_sinks_frame(struct oxl_sinks *s, const struct oxl_session *session,
                     const struct oxl_surroundings *around, int64_t wall_us, bool force);
/* Nobody reads the lines any more: the pipe is closed or the terminal is gone. A full disk under
 * standard output is not that: the test goes on and the program says so at its end. */
bool oxl_sinks_deserted(const struct oxl_sinks *s);
/* At the end: OXL_OK when the reader has every line, else an error that says what became of the
 * rest. */
enum oxl_status oxl_sinks_lost(struct oxl_sinks *s, struct oxl_error *err) OXL_MUST_CHECK;
/* Behind a dashboard that is gone, on standard output: what came out, what to do next, where it is
 * kept. name: of the recording, "" without one. */
void oxl_sinks_last_lines(const struct oxl_sinks *s, const char *name);
/* One plain line for an event; "" for events that say nothing to a person. */
void oxl_plain_event(const struct oxl_event *ev, const struct oxl_profile *profile,
                     struct oxl_buf *out);

/* ---- hearing.c: which sounds a command line asks for, and opening them. */
/* --sound is one of its words, and a file is written in real time only. */
enum oxl_status oxl_hearing_check(const struct oxl_opts *o, struct oxl_error *err) OXL_MUST_CHECK;
/* *out stays NULL where no sound is wanted: then there is the bell of a dashboard, or silence. A
 * device that is not there is no error. */
enum oxl_status oxl_hearing_open(const struct oxl_opts *o, bool dashboard, struct oxl_sound **out,
                                 struct oxl_error *err) OXL_MUST_CHECK;

#endif

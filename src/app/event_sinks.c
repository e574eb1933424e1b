#include "event_sinks.h"

#include <errno.h>
#include <langinfo.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "clock.h"
#include "output.h"
#include "oxylag/safe.h"

#define FRAME_US 100000

/* The kernel's own console speaks UTF-8, but its fonts have no braille cells. */
bool oxl_draws_utf8(void)
{
    const char *term = getenv("TERM");
    return strcmp(nl_langinfo(CODESET), "UTF-8") == 0 && !(term && strncmp(term, "linux", 5) == 0);
}

static enum oxl_status open_model(struct oxl_sinks *s, const struct oxl_opts *o,
                                  enum oxl_ui_mode mode, const char *title, struct oxl_error *err)
{
    struct oxl_model_config config = {
        .mode = mode, .ascii = o->ascii || !oxl_draws_utf8(), .record = s->record};
    snprintf(config.title, sizeof config.title, "%s", title);
    s->config = config;
    s->model = oxl_model_new(&config);
    return s->model ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory: try --plain");
}

static enum oxl_status open_dashboard(struct oxl_sinks *s, const struct oxl_opts *o,
                                      struct oxl_error *err)
{
    oxl_model_cautions(s->model, oxl_cautions, OXL_CAUTIONS);
    s->canvas = oxl_canvas_new(24, 80);
    if (!s->canvas)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for the dashboard: try --plain");
    oxl_signals_catch(); /* before curses finds them at their defaults */
    s->term = oxl_term_open(o->theme);
    const char *term = getenv("TERM");
    /* Going on without a screen would go on without the cautions. */
    return s->term ? OXL_OK
                   : oxl_fail(err, OXL_ERR_USAGE,
                              "the terminal \"%.40s\" is not known here: set TERM, or use --plain",
                              term ? term : "");
}

static enum oxl_status open_sink(struct oxl_sinks *s, const struct oxl_opts *o,
                                 enum oxl_ui_mode mode, const char *title, struct oxl_error *err)
{
    bool live = mode != OXL_UI_REPLAY && !o->virtual_time;
    bool lines = o->json || o->plain || !isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO);
    if (live || !lines)
        oxl_final_output_live(!lines);
    enum oxl_status st = oxl_hearing_open(o, !lines, &s->sound, err);
    if (st == OXL_OK && (!lines || s->sound))
        st = open_model(s, o, mode, title, err);
    if (st == OXL_OK && !lines)
        return open_dashboard(s, o, err);
    if (st == OXL_OK && !oxl_output_open(&s->out, o->json, live))
        st = oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    return st;
}

enum oxl_status oxl_sinks_open(struct oxl_sinks *s, const struct oxl_opts *o, enum oxl_ui_mode mode,
                               const char *title, const struct oxl_record_header *header,
                               struct oxl_error *err)
{
    memset(s, 0, sizeof *s);
    s->json = o->json;
    s->samples = o->samples;
    s->mask_vin = o->mask_vin;
    s->quiet = o->quiet;
    s->record = malloc(sizeof *s->record);
    if (!s->record)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    oxl_test_record_init(s->record, header);
    return open_sink(s, o, mode, title, err);
}

void oxl_sinks_close(struct oxl_sinks *s)
{
    const int heard_out_ms = oxl_signal_seen() ? 200 : 800;
    bool taken = oxl_term_close(s->term);
    s->term = NULL;
    oxl_sound_close(s->sound, heard_out_ms);
    s->sound = NULL;
    if (!taken || !oxl_output_done(&s->out))
        oxl_final_output_hurry();
    oxl_output_close(&s->out);
}

void oxl_sinks_free(struct oxl_sinks *s)
{
    oxl_sinks_close(s);
    oxl_model_free(s->model);
    oxl_canvas_free(s->canvas);
    free(s->record);
    memset(s, 0, sizeof *s);
}

static void say_json(struct oxl_sinks *s, const struct oxl_event *ev)
{
    static char line[OXL_RECORD_LINE_MAX];
    if (ev->kind == OXL_EV_SAMPLE && !s->samples)
        return;
    size_t n = oxl_event_json(ev, s->mask_vin, line, sizeof line - 1);
    if (!n)
        return;
    line[n] = '\n';
    oxl_output_lines(&s->out, line, n + 1, ev->t_us);
}

static void say_plain(struct oxl_sinks *s, const struct oxl_event *ev)
{
    struct oxl_buf b = {0};
    oxl_plain_event(ev, &s->record->profile, &b);
    if (b.len)
        oxl_output_lines(&s->out, b.data, b.len, ev->t_us);
    oxl_buf_free(&b);
}

/* In a quiz nothing is called: it would give the answer away. */
static void listen(struct oxl_sinks *s)
{
    struct oxl_call call;
    bool any = oxl_model_call(s->model, &call), off = s->quiet || s->masked;
    if (s->sound)
        oxl_sound_mute(s->sound, off || s->held);
    if (!any || off)
        return;
    if (s->sound && !s->held && oxl_sound_is_heard(s->sound))
        oxl_sound_call(s->sound, call.cue, call.words);
    else if (s->term)
        oxl_term_bell(s->term, call.cue, s->next_frame_us);
}

void oxl_sinks_event(struct oxl_sinks *s, const struct oxl_event *ev)
{
    oxl_test_record_event(s->record, ev);
    if (s->model) {
        oxl_model_event(s->model, ev);
        s->look_due = s->look_due || ev->kind != OXL_EV_SAMPLE;
    }
    if (s->silent || s->term)
        return;
    if (s->json)
        say_json(s, ev);
    else
        say_plain(s, ev);
}

bool oxl_sinks_deserted(const struct oxl_sinks *s)
{
    int error = oxl_output_error(&s->out);
    return error == EPIPE || error == EIO;
}

enum oxl_status oxl_sinks_lost(struct oxl_sinks *s, struct oxl_error *err)
{
    /* What was printed is judged where it is flushed, in main. */
    int error = s->out.writer ? oxl_writer_error(s->out.writer) : 0;
    if (error)
        return oxl_fail(err, OXL_ERR_IO, "standard output could not be written whole: %s",
                        strerror(error));
    if (oxl_output_done(&s->out))
        return OXL_OK;
    return oxl_fail(err, OXL_ERR_IO,
                    "the last lines were not read and are lost on standard output; a recording "
                    "has them");
}

void oxl_sinks_sample(struct oxl_sinks *s, const struct oxl_event *ev)
{
    if (s->term && (ev->kind == OXL_EV_SAMPLE || ev->kind == OXL_EV_LINK))
        oxl_model_event(s->model, ev);
}

bool oxl_sinks_restart(struct oxl_sinks *s, const struct oxl_record_header *header)
{
    oxl_test_record_init(s->record, header);
    if (!s->model)
        return true;
    enum oxl_page page = oxl_model_current_page(s->model);
    struct oxl_model *fresh = oxl_model_new(&s->config);
    if (!fresh)
        return false;
    oxl_model_free(s->model);
    s->model = fresh;
    oxl_model_page(fresh, page);
    return true;
}

void oxl_sinks_look(struct oxl_sinks *s, const struct oxl_session *session,
                    const struct oxl_surroundings *around)
{
    struct oxl_live live;
    struct oxl_surroundings seen = *around;
    if (!s->model)
        return;
    s->look_due = false;
    s->held = around->paused || (around->replay_rate > 0 && fabs(around->replay_rate - 1) > 1e-9);
    seen.bell_only = s->sound && oxl_sound_is_gone(s->sound);
    oxl_session_live(session, around->now_us, &live);
    if (s->masked) {
        live.state = OXL_STATE_TIMING; /* always the same one, with the close view */
        live.run = live.runs = 0;
        live.front_rich = live.front_lean = live.rear_rich = live.rear_lean = false;
        live.hold_left_s = live.heat_left_s = live.baseline_left_s = live.timing_s = NAN;
    }
    oxl_model_live(s->model, &live, &seen);
    listen(s);
    if (s->sound)
        oxl_sound_depth(s->sound, oxl_model_depth(s->model));
}

static void draw(struct oxl_sinks *s)
{
    int rows, cols;
    oxl_term_size(s->term, &rows, &cols);
    if (!oxl_canvas_resize(s->canvas, rows, cols))
        return;
    oxl_view_draw(s->model, s->canvas);
    oxl_term_show(s->term, s->canvas);
}

void oxl_sinks_frame(struct oxl_sinks *s, const struct oxl_session *session,
                     const struct oxl_surroundings *around, int64_t wall_us, bool force)
{
    if (!s->model)
        return;
    if (s->term)
        oxl_term_tick(s->term, wall_us);
    bool due = force || wall_us >= s->next_frame_us;
    if (session && (due || s->look_due)) /* what was said is heard at once, and drawn when due */
        oxl_sinks_look(s, session, around);
    if (!due)
        return;
    s->next_frame_us = wall_us + FRAME_US;
    if (s->term)
        draw(s);
}

void oxl_sinks_last_lines(const struct oxl_sinks *s, const char *name)
{
    const struct oxl_test_record *r = s->record;
    char figure[OXL_LEAD_TEXT], shown[512];
    const char *step = r->has_result ? oxl_result_step(&r->result, 0) : NULL;
    oxl_safe_copy(shown, sizeof shown, name);
    if (r->has_result) {
        oxl_lead_text(&r->result.lead, figure);
        printf("\nVerdict %s: %s\n", oxl_conclusion_shown(r->result.conclusion), figure);
    } else {
        printf("\nNo verdict. Kept: %zu finished run%s%s\n", r->runs_n, r->runs_n == 1 ? "" : "s",
               name[0] ? " and the recording" : "; nothing was recorded");
    }
    if (step)
        printf("Next: %s\n", step);
    if (name[0])
        printf("Recording: %s   Page: oxylag report %s\n", shown, shown);
}

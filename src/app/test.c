/* run and demo: opens everything that a test needs, in the order in which refusals are cheapest,
 * runs it, and says where the recording is. */
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "clock.h"
#include "commands.h"
#include "oxylag/safe.h"
#include "recording_writer.h"
#include "test_loop.h"

static enum oxl_status refuse_unread(struct oxl_error *err)
{
    for (size_t i = 0; i < OXL_CAUTIONS; i++)
        fprintf(stderr, "  - %s\n", oxl_cautions[i]);
    return oxl_fail(err, OXL_ERR_USAGE,
                    "read the cautions above, then say so with --accept-cautions");
}

/* A vehicle's test is always recorded; a demo when asked to. */
static enum oxl_status open_recording(struct oxl_test_loop *d, char *name, size_t n,
                                      struct oxl_error *err)
{
    const struct oxl_opts *o = d->opts;
    snprintf(name, n, "%s", o->out ? o->out : "");
    if (o->out)
        return oxl_recorder_open(name, &d->connection.recorder, err);
    return d->connection.sim ? OXL_OK
                             : oxl_recording_open_stamped(&d->connection.recorder, name, n, err);
}

static enum oxl_status write_truth(struct oxl_test_loop *d, FILE *f, struct oxl_error *err)
{
    size_t written = 0;
    if (!f)
        return OXL_OK;
    if (!d->connection.core.session) { /* nothing happened */
        fclose(f);
        (void)unlink(d->opts->truth);
        return OXL_OK;
    }
    /* The last pulse is complete only when the trims are back. */
    oxl_sim_run(d->connection.sim, d->connection.now_us + 60000000);
    oxl_truth_header(d->connection.sim, f);
    oxl_truth_rest(d->connection.sim, &written, f);
    bool bad = ferror(f) != 0;
    if (fclose(f) != 0 || bad)
        return oxl_fail(err, OXL_ERR_IO, "%s: could not be written whole: is the disk full?",
                        d->opts->truth);
    return OXL_OK;
}

/* Nobody got past the cautions. */
static enum oxl_status left(struct oxl_error *err)
{
    const char *why = oxl_signal_words();
    return oxl_fail(err, OXL_ERR_STOPPED, "%s: nothing was done",
                    why ? why : "left at the cautions");
}

/* Behind the screen, which is gone then: the page. */
static void print_page(const struct oxl_test_loop *d, const char *name)
{
    struct oxl_test_record *record = d->sinks.record;
    const struct oxl_report_input input = {.record = record};
    struct oxl_buf text = {0};
    snprintf(record->recording_name, sizeof record->recording_name, "%.*s",
             (int)sizeof record->recording_name - 1, oxl_base_name(name));
    if (d->stopped_why)
        snprintf(record->stopped_why, sizeof record->stopped_why, "%s", d->stopped_why);
    oxl_report_text(&input, 1, &text);
    if (d->opts->by_hand) {
        oxl_buf_add(&text, "\n");
        oxl_hand_valve_text(&d->hand, record, &text);
    }
    oxl_print(&text);
}

static enum oxl_status test(struct oxl_test_loop *d, const char *name, struct oxl_error *err)
{
    if (!oxl_test_loop_cautions(d))
        return left(err);
    oxl_recording_header(d->connection.recorder, &d->sinks.record->header);
    enum oxl_status st = oxl_test_loop_run(d, err);
    if (st != OXL_OK)
        oxl_connection_explain(&d->connection, err);
    oxl_name_port(d->connection.port, st == OXL_OK ? NULL : err);
    oxl_test_loop_linger(d);
    bool screen = d->sinks.term != NULL;
    oxl_sinks_close(&d->sinks);
    if (screen)
        print_page(d, name);
    return st;
}

/* All that can be refused is, before anything is sent; what is cheapest to refuse comes first. */
static enum oxl_status open_all(struct oxl_test_loop *d, char *name, size_t n, FILE **truth,
                                struct oxl_error *err)
{
    const struct oxl_opts *o = d->opts;
    struct oxl_profile profile;
    struct oxl_record_header header;
    enum oxl_status st = oxl_load_profile(o->profile, &profile, err);
    if (st == OXL_OK)
        st = oxl_pick_port(o, d->connection.port, sizeof d->connection.port, err);
    if (st == OXL_OK)
        st = oxl_connection_open(&d->connection, o, o->by_hand ? OXL_TECH_BY_HAND : OXL_TECH_GUIDED,
                                 err);
    /* From here on there is a file that a signal may not leave behind empty. */
    if (st == OXL_OK)
        oxl_signals_catch();
    if (st == OXL_OK)
        st = open_recording(d, name, n, err);
    /* Behind the recording: a name that is given to both is refused here. */
    if (st == OXL_OK && o->truth && d->connection.sim)
        st = oxl_create_file(o->truth, truth, err);
    if (st != OXL_OK)
        return st;
    oxl_recording_fill(&header, o, d->connection.port, &profile);
    header.has_speed = d->connection.link->has_speed;
    return oxl_sinks_open(&d->sinks, o, o->command == OXL_CMD_DEMO ? OXL_UI_DEMO : OXL_UI_LIVE,
                          d->connection.port, &header, err);
}

enum oxl_status oxl_cmd_test(const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_test_loop d = {.opts = o};
    char name[512] = "";
    FILE *truth = NULL;
    oxl_connection_start(&d.connection, o);
    oxl_hand_valve_start(&d.hand, o->by_hand);
    enum oxl_status st = open_all(&d, name, sizeof name, &truth, err);
    /* Behind all that can be refused for itself: the cautions are read once. */
    if (st == OXL_OK && !d.sinks.term && !o->accept_cautions)
        st = refuse_unread(err);
    bool screen = d.sinks.term != NULL;
    if (st == OXL_OK)
        st = test(&d, name, err);
    enum oxl_status truth_st = write_truth(&d, truth, st == OXL_OK ? err : NULL);
    /* Without a session nobody got past the cautions: nothing is recorded, and no file is left. */
    enum oxl_status rec = oxl_recording_close(
        d.connection.recorder, name, d.connection.core.session && !screen ? "report" : NULL, o,
        st == OXL_OK ? err : NULL);
    if (screen && d.connection.core.session)
        oxl_sinks_last_lines(&d.sinks, name);
    if (st == OXL_OK)
        st = truth_st != OXL_OK ? truth_st : rec;
    oxl_connection_close(&d.connection);
    oxl_sinks_free(&d.sinks);
    return st;
}

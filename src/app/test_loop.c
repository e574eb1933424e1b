#include "test_loop.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "clock.h"
#include "recording_writer.h"

/* PORTION: keys a round, since a pasted text or a stuck key must not hold up the rest. READER_US:
 * what a reader who pauses at the end is given to take the last lines; READS_US: after a signal. */
enum { GAP_US = 1000000, PORTION = 32, READER_US = 10000000, READS_US = 100000 };

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct oxl_test_loop *d = ctx;
    oxl_sinks_event(&d->sinks, ev);
    oxl_hand_valve_event(&d->hand, ev);
    if (d->connection.sim)
        oxl_sim_hear(d->connection.sim, ev);
    enum oxl_key key = oxl_key_by_option(d->opts, ev, &d->asked_deeper);
    if (key)
        d->ask = (int)key;
}

/* ---- keys ------------------------------------------------------------------------------------ */
static void handle_key(struct oxl_test_loop *d, int key)
{
    enum oxl_page now = oxl_model_current_page(d->sinks.model);
    if (d->connection.sim && now == OXL_PAGE_TEST &&
        oxl_hand_valve_key(&d->hand, key, d->connection.now_us))
        oxl_sim_valve(d->connection.sim, d->hand.valve, d->connection.now_us);
    else if (oxl_model_page_key(d->sinks.model, key))
        return;
    else if (key > 0 && key < 128 && strchr(" rmalnd", key))
        oxl_connection_feed(&d->connection,
                            (struct oxl_input){.kind = OXL_IN_KEY, .key = (enum oxl_key)key});
    else if (key == 's')
        d->sinks.quiet = !d->sinks.quiet;
}

/* What an option asks for goes in as the key does, so that a replay has it too. */
static void press(struct oxl_test_loop *d)
{
    struct oxl_input in = {.kind = OXL_IN_KEY, .key = (enum oxl_key)d->ask};
    d->ask = 0;
    if (in.key)
        oxl_connection_feed(&d->connection, in);
}

/* True when something was typed that the screen should answer to at once. */
static bool read_keys(struct oxl_test_loop *d)
{
    int n = 0;
    for (int key; n < PORTION && (key = oxl_term_key(d->sinks.term)) != OXL_TERM_NONE; n++)
        if (key != OXL_TERM_RESIZED)
            handle_key(d, key);
    return n > 0;
}

/* ---- the loop -------------------------------------------------------------------------------- */
static void draw(struct oxl_test_loop *d, bool force)
{
    const struct oxl_recorder *r = d->connection.recorder;
    struct oxl_surroundings a = {.now_us = d->connection.now_us,
                                 .recording = r != NULL,
                                 .recorded_bytes = r ? oxl_recorder_bytes(r) : 0,
                                 .sound = !d->sinks.quiet,
                                 .valve = d->hand.valve};
    if (r)
        (void)oxl_recorder_failed(r, &a.recording_trouble);
    oxl_sinks_frame(&d->sinks, d->connection.core.session, &a, oxl_wall_us(), force);
}

/* Why the program stood still. A clock that went on while the other one did not shows a sleep. */
static const char *why_still(int64_t gap_us, int64_t awake_us, bool stopped)
{
    if (gap_us - awake_us > gap_us / 2)
        return "the computer was asleep";
    return stopped ? "it was stopped and continued" : "it was held up";
}

/* The loop comes round ten times a second. When it did not, nobody knows when the bytes that lie
 * there came: the core gets the time that is gone before it sees them. */
static void mind_the_gap(struct oxl_test_loop *d)
{
    if (d->connection.virtual_time)
        return; /* nothing is late there, and it is over in a moment */
    int64_t wall_us = oxl_wall_us(), gap_us = wall_us - d->round_us;
    int64_t awake_us = oxl_awake_us(), ran_us = awake_us - d->awake_us;
    bool stopped = oxl_was_stopped();
    d->round_us = wall_us;
    d->awake_us = awake_us;
    if (stopped)
        oxl_term_again(d->sinks.term);
    if (gap_us < GAP_US)
        return;
    char text[96];
    snprintf(text, sizeof text, "the program stood still for %.1f s: %s", (double)gap_us / 1e6,
             why_still(gap_us, ran_us, stopped));
    oxl_connection_feed(&d->connection, (struct oxl_input){.kind = OXL_IN_TICK});
    oxl_connection_note(&d->connection, text);
}

static void stop_when_told(struct oxl_test_loop *d)
{
    if (oxl_signal_seen())
        d->stopped_why = oxl_signal_words();
    else if (oxl_sinks_deserted(&d->sinks))
        d->stopped_why = "stopped: nobody reads standard output any more";
    if (!d->stopped_why)
        return;
    oxl_connection_note(&d->connection, d->stopped_why);
    oxl_connection_feed(&d->connection, (struct oxl_input){.kind = OXL_IN_KEY, .key = OXL_KEY_END});
}

static void one_round(struct oxl_test_loop *d)
{
    oxl_connection_wait(&d->connection, d->sinks.term ? STDIN_FILENO : -1);
    mind_the_gap(d);
    stop_when_told(d);
    oxl_connection_read(&d->connection);
    press(d);
    oxl_connection_pass(&d->connection);
    oxl_output_tick(&d->sinks.out, d->connection.now_us);
    draw(d, read_keys(d));
}

/* A reader who pauses at the end is waited for, but not for ever; after a signal only as long as
 * one who reads needs. */
static void wait_for_reader(struct oxl_test_loop *d)
{
    int64_t from_us = oxl_wall_us();
    while (!oxl_output_done(&d->sinks.out) &&
           oxl_wall_us() < from_us + (oxl_signal_seen() ? READS_US : READER_US)) {
        oxl_wait(-1, 0, -1, oxl_wall_us() + 20000);
        oxl_output_tick(&d->sinks.out, d->connection.now_us);
        if (d->connection.recorder)
            oxl_recorder_tick(d->connection.recorder, oxl_wall_us());
    }
}

static void begin(struct oxl_test_loop *d)
{
    d->round_us = oxl_wall_us();
    d->awake_us = oxl_awake_us();
    if (d->sinks.term)
        oxl_model_page(d->sinks.model, OXL_PAGE_TEST);
    oxl_connection_begin(&d->connection);
    d->ask = d->opts->new_converter ? OXL_KEY_NEW : 0;
}

enum oxl_status oxl_test_loop_run(struct oxl_test_loop *d, struct oxl_error *err)
{
    d->connection.ctx = d;
    d->connection.event = on_event;
    enum oxl_status st = oxl_connection_core(&d->connection, &d->sinks.record->header, err);
    if (st != OXL_OK)
        return st;
    begin(d);
    while (!oxl_core_over(&d->connection.core))
        one_round(d);
    oxl_recording_end(d->connection.recorder, d->connection.now_us, d->stopped_why);
    if (d->connection.recorder)
        oxl_recorder_flush(d->connection.recorder);
    wait_for_reader(d);
    const char *text = "";
    st = oxl_core_outcome(&d->connection.core, &text);
    if (d->stopped_why && st == OXL_ERR_STOPPED)
        text = d->stopped_why;
    return st == OXL_OK ? oxl_sinks_lost(&d->sinks, err) : oxl_fail(err, st, "%s", text);
}

/* ---- before and after ------------------------------------------------------------------------ */
static int wait_key(struct oxl_test_loop *d)
{
    for (;;) {
        draw(d, false);
        if (oxl_signal_seen())
            return 'q';
        oxl_wait(-1, 0, STDIN_FILENO, oxl_wall_us() + 100000);
        if (oxl_was_stopped())
            oxl_term_again(d->sinks.term);
        /* The result must reach the disk while it is being read, not when it has been. */
        if (d->connection.recorder)
            oxl_recorder_tick(d->connection.recorder, oxl_wall_us());
        int key = oxl_term_key(d->sinks.term);
        if (key != OXL_TERM_NONE)
            return key;
    }
}

/* Every part has to be shown before Enter accepts; another size breaks the text anew. */
bool oxl_test_loop_cautions(struct oxl_test_loop *d)
{
    if (!d->sinks.term)
        return true;
    oxl_model_page(d->sinks.model, OXL_PAGE_CAUTIONS);
    for (;;) {
        int key = wait_key(d), rows, cols;
        bool enter = key == '\n' || key == '\r' || key == ' ';
        oxl_term_size(d->sinks.term, &rows, &cols);
        if (key == 'a' || key == 'q' || key == 27)
            return false;
        if (enter && oxl_model_cautions_read(d->sinks.model, rows, cols))
            return true;
        if (key == OXL_TERM_RESIZED)
            oxl_model_page(d->sinks.model, OXL_PAGE_CAUTIONS);
        else if (enter || key == OXL_TERM_DOWN || key == OXL_TERM_UP)
            oxl_model_turn(d->sinks.model, key == OXL_TERM_UP ? -1 : 1);
        draw(d, true);
    }
}

void oxl_test_loop_linger(struct oxl_test_loop *d)
{
    if (!d->sinks.term || oxl_signal_seen())
        return;
    draw(d, true);
    for (;;) {
        int key = wait_key(d);
        bool leave = key == 'q' || key == 'a' || key == 27 || key == '\n' || key == '\r';
        if (!oxl_model_page_key(d->sinks.model, key) && leave)
            return;
        draw(d, true);
    }
}

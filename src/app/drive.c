#include "drive.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "clock.h"

/* Back-off of attempts to open a port again. */
static const int64_t reopen_after_us[] = {500000, 1000000, 2000000, 4000000, 5000000};
enum { REOPEN_STEPS = sizeof reopen_after_us / sizeof reopen_after_us[0] };
enum { GAP_US = 1000000 };

/* ---- recording ------------------------------------------------------------------------------- */
static void record(struct oxl_drive *d, const struct oxl_line *line)
{
    static char text[OXL_RECORD_LINE_MAX];
    if (!d->recorder)
        return;
    size_t n = oxl_record_encode(line, text, sizeof text);
    if (n)
        oxl_recorder_line(d->recorder, text, n);
}

static void record_event(struct oxl_drive *d, const struct oxl_event *ev)
{
    static char text[OXL_RECORD_LINE_MAX];
    /* Samples are not kept: the raw bytes are, and give them again. */
    if (!d->recorder || ev->kind == OXL_EV_SAMPLE)
        return;
    size_t n = oxl_event_json(ev, d->opts->mask_vin, text, sizeof text);
    if (!n)
        return;
    struct oxl_line line = {.kind = OXL_LINE_EVENT, .t_us = ev->t_us, .bytes = text, .n = n};
    record(d, &line);
}

static void record_input(struct oxl_drive *d, const struct oxl_input *in)
{
    struct oxl_line line = {.t_us = in->t_us, .bytes = in->bytes, .n = in->n, .key = in->key};
    switch (in->kind) {
    case OXL_IN_RX:
        line.kind = OXL_LINE_RX;
        break;
    case OXL_IN_TICK:
        line.kind = OXL_LINE_TICK;
        break;
    case OXL_IN_KEY:
        line.kind = OXL_LINE_KEY;
        break;
    case OXL_IN_LINK_UP:
    case OXL_IN_LINK_DOWN:
        line.kind = OXL_LINE_LINK;
        line.link_up = in->kind == OXL_IN_LINK_UP;
        break;
    case OXL_IN_NOTE:
        line.kind = OXL_LINE_NOTE;
        break;
    case OXL_IN_SAMPLES:
    case OXL_IN_END:
        return; /* of imported tables only: no link brings them */
    }
    record(d, &line);
}

/* ---- what the core wants --------------------------------------------------------------------- */
static void flush_unsent(struct oxl_drive *d)
{
    if (!d->link || !d->unsent_n)
        return;
    ssize_t n = d->link->ops->write(d->link, d->unsent, d->unsent_n, d->now_us);
    if (n <= 0)
        return; /* a link that is down shows at the next read */
    d->unsent_n -= (size_t)n;
    memmove(d->unsent, d->unsent + n, d->unsent_n);
}

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct oxl_drive *d = ctx;
    struct oxl_line line = {.kind = OXL_LINE_TX, .t_us = t_us, .bytes = bytes, .n = n};
    record(d, &line);
    if (n <= sizeof d->unsent - d->unsent_n) {
        memcpy(d->unsent + d->unsent_n, bytes, n);
        d->unsent_n += n;
    }
    flush_unsent(d);
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    struct oxl_drive *d = ctx;
    struct oxl_line line = {.kind = OXL_LINE_SPEED, .t_us = t_us, .speed_baud = baud};
    record(d, &line);
    d->speed_baud = baud;
    if (d->link)
        d->link->ops->set_speed(d->link, baud);
}

static void on_reopen(void *ctx, int64_t t_us)
{
    struct oxl_drive *d = ctx;
    if (d->reopen_us == INT64_MAX)
        d->reopen_us = t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct oxl_drive *d = ctx;
    record_event(d, ev);
    oxl_show_event(&d->show, ev);
    oxl_byhand_event(&d->hand, ev);
    if (d->sim)
        oxl_sim_hear(d->sim, ev);
    enum oxl_key key = oxl_key_by_option(d->opts, ev);
    if (key)
        d->ask = (int)key;
}

static void feed(struct oxl_drive *d, struct oxl_input in)
{
    /* Raw bytes first; of ticks only those that mattered (session.h). */
    if (in.kind != OXL_IN_TICK)
        record_input(d, &in);
    bool mattered = oxl_session_step(d->session, &in);
    if (in.kind == OXL_IN_TICK && mattered)
        record_input(d, &in);
}

/* ---- the link -------------------------------------------------------------------------------- */
static void close_link(struct oxl_drive *d)
{
    if (d->link)
        d->link->ops->close(d->link);
    d->link = NULL;
    d->unsent_n = 0;
}

static void link_down(struct oxl_drive *d)
{
    close_link(d);
    d->reopen_tries = 0;
    d->reopen_us = d->now_us + reopen_after_us[0];
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_DOWN, .t_us = d->now_us});
}

struct oxl_link *oxl_drive_sim_link(const struct oxl_drive *d)
{
    struct oxl_link *link = oxl_link_sim(d->sim);
    if (link)
        oxl_link_sim_packets(link, d->opts->packet_ms * INT64_C(1000));
    return link;
}

static struct oxl_link *open_again(struct oxl_drive *d)
{
    struct oxl_link *link = NULL;
    if (d->sim)
        return oxl_sim_plugged(d->sim, d->now_us) ? oxl_drive_sim_link(d) : NULL;
    if (oxl_link_open(d->port, d->speed_baud, &link, NULL) != OXL_OK)
        return NULL;
    return link;
}

static void try_reopen(struct oxl_drive *d)
{
    if (d->now_us < d->reopen_us)
        return;
    bool was_open = d->link != NULL;
    close_link(d);
    if (was_open)
        feed(d, (struct oxl_input){.kind = OXL_IN_LINK_DOWN, .t_us = d->now_us});
    d->link = open_again(d);
    if (d->link) {
        d->reopen_us = INT64_MAX;
        d->reopen_tries = 0;
        feed(d, (struct oxl_input){.kind = OXL_IN_LINK_UP, .t_us = d->now_us});
        return;
    }
    if (d->reopen_tries < REOPEN_STEPS - 1)
        d->reopen_tries++;
    d->reopen_us = d->now_us + reopen_after_us[d->reopen_tries];
}

static void read_link(struct oxl_drive *d)
{
    char buf[1024];
    while (d->link && !oxl_session_over(d->session)) {
        ssize_t n = d->link->ops->read(d->link, buf, sizeof buf, d->now_us);
        if (n == 0)
            return;
        if (n < 0) {
            link_down(d);
            return;
        }
        feed(d, (struct oxl_input){
                    .kind = OXL_IN_RX, .t_us = d->now_us, .bytes = buf, .n = (size_t)n});
    }
}

/* ---- keys ------------------------------------------------------------------------------------ */
static void handle_key(struct oxl_drive *d, int key)
{
    enum oxl_page now = oxl_model_current_page(d->show.model);
    if (d->sim && now == OXL_PAGE_TEST && oxl_byhand_key(&d->hand, key, d->now_us))
        oxl_sim_valve(d->sim, d->hand.valve, d->now_us);
    else if (key == OXL_TERM_UP || key == OXL_TERM_DOWN)
        oxl_model_turn(d->show.model, key == OXL_TERM_UP ? -1 : 1);
    enum oxl_page page = now;
    if (key == '?')
        oxl_model_page(d->show.model, page == OXL_PAGE_HELP ? OXL_PAGE_TEST : OXL_PAGE_HELP);
    else if (page == OXL_PAGE_HELP && key >= 0)
        oxl_model_page(d->show.model, OXL_PAGE_TEST);
    else if (key > 0 && key < 128 && strchr(" rmalnd", key))
        feed(d,
             (struct oxl_input){.kind = OXL_IN_KEY, .t_us = d->now_us, .key = (enum oxl_key)key});
    else if (key == 's')
        d->show.quiet = !d->show.quiet;
}

/* What an option asks for goes in as the key does, so that a replay has it too. */
static void press(struct oxl_drive *d)
{
    struct oxl_input in = {.kind = OXL_IN_KEY, .t_us = d->now_us, .key = (enum oxl_key)d->ask};
    d->ask = 0;
    if (in.key)
        feed(d, in);
}

/* True when something was typed that the screen should answer to at once. */
static bool read_keys(struct oxl_drive *d)
{
    bool any = false;
    for (int key; (key = oxl_show_key(&d->show)) != OXL_TERM_NONE;) {
        if (key != OXL_TERM_RESIZED)
            handle_key(d, key);
        any = true;
    }
    return any;
}

/* ---- the loop -------------------------------------------------------------------------------- */
static int64_t next_due(const struct oxl_drive *d)
{
    int64_t due = oxl_earlier_us(oxl_session_due_us(d->session), d->reopen_us);
    if (d->link)
        due = oxl_earlier_us(due, d->link->ops->next_due_us(d->link));
    return due;
}

static int64_t clock_now(const struct oxl_drive *d)
{
    return (int64_t)((double)(oxl_wall_us() - d->start_us) * d->rate);
}

/* Virtual time jumps to the next thing that is due; real time waits for it. */
static void wait_next(struct oxl_drive *d)
{
    int64_t due = next_due(d);
    if (d->virtual_time) {
        /* Nothing due cannot happen while a session lives; step on rather than hang. */
        d->now_us = due == INT64_MAX ? d->now_us + 1000000 : due > d->now_us ? due : d->now_us;
        return;
    }
    int64_t wall_us = oxl_wall_us();
    int64_t until_us = wall_us + 100000; /* redraw, fsync, signals */
    if (due != INT64_MAX)
        until_us = oxl_earlier_us(until_us, d->start_us + (int64_t)((double)due / d->rate) + 1);
    int fd = d->link ? d->link->ops->fd(d->link) : -1;
    oxl_wait(fd, d->unsent_n > 0, d->show.term ? STDIN_FILENO : -1, until_us);
    d->now_us = clock_now(d);
}

static void surroundings(const struct oxl_drive *d, struct oxl_surroundings *a)
{
    memset(a, 0, sizeof *a);
    a->now_us = d->now_us;
    a->recording = d->recorder != NULL;
    a->recorded_bytes = d->recorder ? oxl_recorder_bytes(d->recorder) : 0;
    if (d->recorder && !oxl_recorder_failed(d->recorder, &a->recording_trouble))
        a->recording_trouble = NULL;
    a->sound = !d->show.quiet;
    a->valve = d->hand.valve;
}

static void draw(struct oxl_drive *d, bool force)
{
    if (!d->show.term)
        return;
    struct oxl_surroundings a;
    surroundings(d, &a);
    oxl_show_frame(&d->show, d->session, &a, oxl_wall_us(), force);
}

static void note(struct oxl_drive *d, const char *text)
{
    feed(d, (struct oxl_input){
                .kind = OXL_IN_NOTE, .t_us = d->now_us, .bytes = text, .n = strlen(text)});
}

/* The loop comes round ten times a second. When it did not, the machine slept, or the program was
 * stopped or held up, and nobody knows when the bytes that lie there came: the core hears of the
 * time that is gone before it sees them. */
static void mind_the_gap(struct oxl_drive *d)
{
    int64_t wall_us = oxl_wall_us(), gap_us = wall_us - d->round_us;
    d->round_us = wall_us;
    if (d->virtual_time || gap_us < GAP_US)
        return;
    char text[96];
    snprintf(text, sizeof text, "the program stood still for %.1f s (computer asleep, or stopped)",
             (double)gap_us / 1e6);
    feed(d, (struct oxl_input){.kind = OXL_IN_TICK, .t_us = d->now_us});
    note(d, text);
}

static void stop_when_told(struct oxl_drive *d)
{
    if (oxl_signal_seen())
        d->stopped_why = oxl_signal_words();
    else if (oxl_show_deserted(&d->show))
        d->stopped_why = "stopped: nobody reads standard output any more";
    if (!d->stopped_why)
        return;
    note(d, d->stopped_why);
    feed(d, (struct oxl_input){.kind = OXL_IN_KEY, .t_us = d->now_us, .key = OXL_KEY_ABORT});
}

static void one_round(struct oxl_drive *d)
{
    wait_next(d);
    mind_the_gap(d);
    stop_when_told(d);
    flush_unsent(d);
    read_link(d);
    press(d);
    feed(d, (struct oxl_input){.kind = OXL_IN_TICK, .t_us = d->now_us});
    try_reopen(d);
    if (d->recorder)
        oxl_recorder_tick(d->recorder, oxl_wall_us()); /* the disk knows no virtual time */
    draw(d, read_keys(d));
}

static struct oxl_session_out hooks(struct oxl_drive *d)
{
    return (struct oxl_session_out){
        .ctx = d, .send = on_send, .set_speed = on_speed, .reopen = on_reopen, .event = on_event};
}

static void begin(struct oxl_drive *d)
{
    d->start_us = d->round_us = oxl_wall_us();
    d->now_us = 0;
    d->reopen_us = INT64_MAX;
    if (d->show.term)
        oxl_model_page(d->show.model, OXL_PAGE_TEST);
    feed(d, (struct oxl_input){.kind = OXL_IN_LINK_UP, .t_us = 0});
    d->ask = d->opts->new_converter ? OXL_KEY_NEW : 0;
}

enum oxl_status oxl_drive_run(struct oxl_drive *d, struct oxl_error *err)
{
    const struct oxl_record_header *h = &d->show.story->header;
    struct oxl_session_config config = {.profile = h->profile,
                                        .profile_given = h->profile_given,
                                        .bank = h->bank,
                                        .runs = h->runs,
                                        .speed_baud = h->speed_baud,
                                        .has_speed = h->has_speed,
                                        .no_identity = h->mask_vin};
    struct oxl_session_out out = hooks(d);
    d->session = oxl_session_new(&config, &out);
    if (!d->session)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    begin(d);
    while (!oxl_session_over(d->session))
        one_round(d);
    struct oxl_line end = {.kind = OXL_LINE_END, .t_us = d->now_us};
    record(d, &end);
    const char *text = "";
    enum oxl_status st = oxl_session_outcome(d->session, &text);
    if (d->stopped_why && st == OXL_ERR_STOPPED)
        text = d->stopped_why;
    if (st != OXL_OK)
        oxl_fail(err, st, "%s", text);
    return st;
}

/* ---- before and after ------------------------------------------------------------------------ */
static int wait_key(struct oxl_drive *d)
{
    for (;;) {
        draw(d, false);
        if (oxl_signal_seen())
            return 'q';
        oxl_wait(-1, 0, STDIN_FILENO, oxl_wall_us() + 100000);
        /* The result must reach the disk while it is being read, not when it has been. */
        if (d->recorder)
            oxl_recorder_tick(d->recorder, oxl_wall_us());
        int key = oxl_show_key(&d->show);
        if (key == OXL_TERM_UP || key == OXL_TERM_DOWN)
            oxl_model_turn(d->show.model, key == OXL_TERM_UP ? -1 : 1);
        if (key == OXL_TERM_RESIZED || key == OXL_TERM_UP || key == OXL_TERM_DOWN)
            draw(d, true);
        else if (key != OXL_TERM_NONE)
            return key;
    }
}

bool oxl_drive_cautions(struct oxl_drive *d)
{
    if (!d->show.term)
        return true;
    oxl_model_page(d->show.model, OXL_PAGE_CAUTIONS);
    for (;;) {
        int key = wait_key(d);
        if (key == '\n' || key == '\r' || key == ' ')
            return true;
        if (key == 'a' || key == 'q' || key == 27)
            return false;
    }
}

void oxl_drive_linger(struct oxl_drive *d)
{
    if (!d->show.term || oxl_signal_seen())
        return;
    draw(d, true);
    for (;;) {
        int key = wait_key(d);
        enum oxl_page page = oxl_model_current_page(d->show.model);
        if (key == '?')
            oxl_model_page(d->show.model, page == OXL_PAGE_HELP ? OXL_PAGE_TEST : OXL_PAGE_HELP);
        else if (page == OXL_PAGE_HELP)
            oxl_model_page(d->show.model, OXL_PAGE_TEST);
        else if (key == 'q' || key == 'a' || key == 27 || key == '\n' || key == '\r')
            return;
    }
}

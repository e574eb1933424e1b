/* replay: a recording on the same screen, with pause, step and speed. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "clock.h"
#include "commands.h"
#include "oxylag/safe.h"
#include "player.h"

struct replay {
    struct oxl_player player;
    struct oxl_show show;
    bool paused, to_next_event, leave;
    double rate;
    int64_t now_us;  /* on the recording's clock */
    int64_t wall_us; /* when now_us was last moved on */
    unsigned events; /* said so far, samples aside */
};

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct replay *r = ctx;
    if (ev->kind == OXL_EV_STATE || ev->kind == OXL_EV_RUN || ev->kind == OXL_EV_RESULT ||
        ev->kind == OXL_EV_MARK)
        r->events++;
    oxl_show_event(&r->show, ev);
}

static void set_rate(struct replay *r, double factor)
{
    r->rate = fmin(1000, fmax(0.05, r->rate * factor));
}

static enum oxl_status step_to_event(struct replay *r, struct oxl_error *err)
{
    unsigned before = r->events;
    enum oxl_status st = OXL_OK;
    while (st == OXL_OK && r->events == before && oxl_player_due_us(&r->player) != INT64_MAX)
        st = oxl_player_step(&r->player, err);
    r->now_us = r->player.now_us;
    return st;
}

static enum oxl_status handle_key(struct replay *r, int key, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    enum oxl_page page = oxl_model_current_page(r->show.model);
    switch (key) {
    case 'p':
    case ' ':
        r->paused = !r->paused;
        break;
    case '.':
        r->paused = true;
        if (oxl_player_due_us(&r->player) != INT64_MAX)
            st = oxl_player_step(&r->player, err);
        r->now_us = r->player.now_us;
        break;
    case '+':
    case '=':
        set_rate(r, 2);
        break;
    case '-':
        set_rate(r, 0.5);
        break;
    case 'n':
        st = step_to_event(r, err);
        break;
    case '?':
        oxl_model_page(r->show.model, page == OXL_PAGE_HELP ? OXL_PAGE_TEST : OXL_PAGE_HELP);
        break;
    case 's':
        r->show.quiet = !r->show.quiet;
        break;
    case OXL_TERM_UP:
    case OXL_TERM_DOWN:
        oxl_model_turn(r->show.model, key == OXL_TERM_UP ? -1 : 1);
        break;
    case 'q':
        r->leave = true;
        break;
    default:
        break;
    }
    return st;
}

static void draw(struct replay *r, bool force)
{
    struct oxl_surroundings a = {.now_us = r->now_us,
                                 .replay_rate = r->rate,
                                 .paused = r->paused,
                                 .sound = !r->show.quiet,
                                 .valve = NAN};
    oxl_show_frame(&r->show, r->player.session, &a, oxl_wall_us(), force);
}

static enum oxl_status read_keys(struct replay *r, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    bool any = false;
    for (int key; st == OXL_OK && (key = oxl_show_key(&r->show)) != OXL_TERM_NONE; any = true)
        if (key != OXL_TERM_RESIZED)
            st = handle_key(r, key, err);
    draw(r, any);
    return st;
}

/* Moves the recording's clock on with the wall clock, and feeds what has become due. */
static enum oxl_status advance(struct replay *r, struct oxl_error *err)
{
    int64_t wall_us = oxl_wall_us();
    if (!r->paused)
        r->now_us += (int64_t)((double)(wall_us - r->wall_us) * r->rate);
    r->wall_us = wall_us;
    enum oxl_status st = OXL_OK;
    while (st == OXL_OK && oxl_player_due_us(&r->player) <= r->now_us)
        st = oxl_player_step(&r->player, err);
    return st;
}

static enum oxl_status play(struct replay *r, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    r->wall_us = oxl_wall_us();
    /* On a screen the end stays in sight until the viewer leaves. */
    while (st == OXL_OK && !r->leave && !oxl_signal_seen() && !oxl_show_deserted(&r->show) &&
           (r->show.term || oxl_player_due_us(&r->player) != INT64_MAX)) {
        int64_t due_us = oxl_player_due_us(&r->player);
        int64_t until_us = r->wall_us + 100000;
        if (due_us != INT64_MAX && !r->paused) {
            int64_t at_us = r->wall_us + (int64_t)((double)(due_us - r->now_us) / r->rate) + 1;
            until_us = at_us < until_us ? at_us : until_us;
        }
        oxl_wait(-1, 0, r->show.term ? STDIN_FILENO : -1, until_us);
        st = advance(r, err);
        if (st == OXL_OK && r->show.term)
            st = read_keys(r, err);
    }
    return st;
}

/* --from: everything before is computed, not shown (the screen keeps what it needs). */
static enum oxl_status skip_to(struct replay *r, double from_s, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    int64_t from_us = (int64_t)(from_s * 1e6);
    r->show.silent = !r->show.term;
    while (st == OXL_OK && oxl_player_due_us(&r->player) < from_us)
        st = oxl_player_step(&r->player, err);
    r->show.silent = false;
    r->now_us = from_us;
    return st;
}

static void say_comparison(const struct replay *r, const struct oxl_opts *o)
{
    const struct oxl_player *p = &r->player;
    char name[256];
    snprintf(name, sizeof name, "%.255s", p->file);
    oxl_make_safe(name, "");
    if (p->recording.torn)
        fprintf(stderr, "oxylag: %s: the last line is cut off and was left out\n", name);
    if (o->quiet || p->compared == 0 || r->leave)
        return;
    if (p->different)
        fprintf(stderr,
                "oxylag: %llu of %llu events differ from the live run (recorded by version %s)\n",
                (unsigned long long)p->different, (unsigned long long)p->compared,
                p->header.program);
    else if (!o->json)
        printf("Replay gives the same as the live run: %llu events identical.\n",
               (unsigned long long)p->compared);
}

enum oxl_status oxl_cmd_replay(const struct oxl_opts *o, struct oxl_error *err)
{
    struct replay r = {.rate = o->rate};
    enum oxl_status st = oxl_player_open(&r.player, o->files[0], &r, on_event, err);
    if (st != OXL_OK)
        return st;
    struct oxl_opts shown = *o;
    shown.mask_vin = o->mask_vin || r.player.header.mask_vin;
    shown.plain = o->plain || o->virtual_time;
    st = oxl_show_open(&r.show, &shown, OXL_UI_REPLAY, o->files[0], &r.player.header, err);
    if (st == OXL_OK && r.show.term)
        oxl_model_page(r.show.model, OXL_PAGE_TEST);
    oxl_signals_catch();
    if (st == OXL_OK)
        st = skip_to(&r, o->from_s, err);
    if (st == OXL_OK)
        st = o->virtual_time ? oxl_player_run(&r.player, err) : play(&r, err);
    oxl_show_close(&r.show);
    if (st == OXL_OK) {
        say_comparison(&r, o);
        if (!r.leave)
            st = oxl_player_outcome(&r.player, err);
    }
    oxl_show_free(&r.show);
    oxl_player_close(&r.player);
    return st;
}

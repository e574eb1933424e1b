/* A recording's row from its replay: the same core that judges a live test. */
#include <stdio.h>
#include <string.h>

#include "json_memory.h"
#include "player.h"
#include "recordings.h"

struct replaying {
    const struct oxl_player *player;
    struct oxl_past *row;
    struct oxl_past then;     /* as recorded */
    enum oxl_verdict verdict; /* that of a version which had no conclusion */
};

static void on_event(void *ctx, const struct oxl_event *ev)
{
    static char json[OXL_RECORD_LINE_MAX];
    struct replaying *r = ctx;
    if (ev->kind == OXL_EV_SAMPLE || ev->kind == OXL_EV_PROFILE)
        return;
    if (ev->kind == OXL_EV_RESULT)
        r->verdict = ev->u.result.verdict;
    size_t n = oxl_event_json(ev, r->player->header.mask_vin, json, sizeof json);
    (void)oxl_past_event(r->row, json, n);
}

/* The row has its file's name already, so the sentence need not begin with it. */
static const char *without_path(const char *why, const char *path)
{
    const size_t n = strlen(path);
    return strncmp(why, path, n) == 0 ? why + n + strspn(why + n, ": ") : why;
}

/* Another version says some things otherwise; what counts is the result. */
static bool same_result(const struct replaying *r)
{
    const char *now = r->then.lead[0] ? r->row->verdict : oxl_verdict_name(r->verdict);
    return strcmp(r->then.verdict, r->row->verdict[0] ? now : "") == 0;
}

static void finish(const struct replaying *r)
{
    const struct oxl_player *p = r->player;
    struct oxl_past *row = r->row;
    struct oxl_error why = {OXL_OK, ""};
    const bool whole = p->order.ended && !p->recording.torn;
    const bool same = p->different == 0 && !(whole && p->said_more);
    row->complete = whole;
    snprintf(row->replay, sizeof row->replay, "%s",
             same             ? "identical"
             : same_result(r) ? "same-result"
                              : "differs");
    snprintf(row->sha256, sizeof row->sha256, "%s", p->recording.sha256);
    if (!row->verdict[0] && oxl_player_outcome(p, &why) != OXL_OK)
        snprintf(row->why, sizeof row->why, "%.*s", (int)sizeof row->why - 1,
                 without_path(why.text, p->file));
}

void oxl_past_replay(void *ctx, const char *path, struct oxl_past *row)
{
    struct oxl_player p;
    struct oxl_error err = {OXL_OK, ""};
    struct replaying r = {.player = &p, .row = row};
    (void)ctx;
    oxl_json_watch();
    (void)oxl_past_read(path, &r.then);
    if (oxl_json_starved()) {
        oxl_past_unreadable(row, "there is no memory to read it");
        return;
    }
    enum oxl_status st = oxl_player_open(&p, path, &r, on_event, &err);
    if (st != OXL_OK) {
        oxl_past_unreadable(row, without_path(err.text, path));
        return;
    }
    oxl_past_header(row, &p.header);
    st = oxl_player_run(&p, &err);
    if (st == OXL_OK)
        finish(&r);
    else
        oxl_past_unreadable(row, without_path(err.text, path));
    oxl_player_close(&p);
}

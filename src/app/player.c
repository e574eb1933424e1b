#include "player.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json_memory.h"
#include "recording_writer.h"

static enum oxl_status starved(const struct oxl_player *p, struct oxl_error *err)
{
    return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", p->file);
}

static bool next_line(const char **at, const char *end, const char **line, size_t *len)
{
    if (*at >= end)
        return false;
    const char *nl = memchr(*at, '\n', (size_t)(end - *at));
    *line = *at;
    *len = (size_t)((nl ? nl : end) - *at);
    *at = nl ? nl + 1 : end;
    return true;
}

/* ---- comparing ------------------------------------------------------------------------------- */
/* The next recorded event's JSON text, as written then. */
static bool next_said(struct oxl_player *p, const char **text, size_t *len)
{
    static const char mark[] = "\"event\":{";
    const char *line;
    size_t n;
    if (p->said_at > p->passed_at && p->said_at < p->at)
        p->said_at = p->at; /* nothing was said in between */
    while (next_line(&p->said_at, p->end, &line, &n)) {
        struct oxl_line l;
        if (n < sizeof mark || !memchr(line, 'e', n))
            continue;
        enum oxl_status st = oxl_record_decode(line, n, p->scratch, &l, p->file, 0, NULL);
        if (st == OXL_OK && l.kind == OXL_LINE_EVENT) {
            *text = l.bytes;
            *len = l.n;
            return true;
        }
    }
    return false;
}

static void compare(struct oxl_player *p, const struct oxl_event *ev)
{
    static char now[OXL_RECORD_LINE_MAX];
    const char *then;
    size_t len;
    size_t n = oxl_event_json(ev, p->header.mask_vin, now, sizeof now);
    if (!n || !next_said(p, &then, &len)) {
        p->said_more = true;
        return;
    }
    p->compared++;
    if (len != n || memcmp(then, now, n) != 0)
        p->different++;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct oxl_player *p = ctx;
    if (ev->kind != OXL_EV_SAMPLE)
        compare(p, ev);
    p->event(p->ctx, ev);
}

/* ---- reading --------------------------------------------------------------------------------- */
/* A table's rows and its end are inputs only of a recording that was made from one. */
static bool is_input(const struct oxl_player *p)
{
    struct oxl_input in;
    return oxl_recorded_input(&p->next, &in) && (p->header.imported.on || in.kind < OXL_IN_SAMPLES);
}

static enum oxl_status look_ahead(struct oxl_player *p, struct oxl_error *err)
{
    const char *line;
    size_t len;
    p->have_next = false;
    while (next_line(&p->at, p->end, &line, &len)) {
        p->lineno++;
        if (len == 0)
            continue;
        enum oxl_status st =
            oxl_record_decode(line, len, p->scratch, &p->next, p->file, p->lineno, err);
        if (oxl_json_starved())
            return starved(p, err);
        if (st == OXL_OK)
            st = oxl_record_in_order(&p->order, &p->next, p->file, p->lineno, err);
        if (st != OXL_OK)
            return st;
        if (p->next.kind == OXL_LINE_EVENT)
            p->passed_at = line;
        if (p->next.kind == OXL_LINE_END)
            snprintf(p->end_why, sizeof p->end_why, "%.*s", (int)sizeof p->end_why - 1,
                     p->next.n ? p->next.bytes : "");
        if (is_input(p)) {
            p->have_next = true;
            return OXL_OK;
        }
    }
    p->at_end = true;
    return OXL_OK;
}

/* The profile that was chosen then, from the recorded event; the program's own may have changed
 * since. False: the recording ends before the choice, or it was chosen twice (other sensors were).
 */
static bool chosen_profile(struct oxl_player *p, struct oxl_profile *out)
{
    static const char mark[] = "{\"event\":\"profile\"";
    const char *said;
    size_t len;
    bool found = false, again = false;
    const char *keep = p->said_at;
    while (!again && next_said(p, &said, &len)) {
        if (len < sizeof mark || memcmp(said, mark, sizeof mark - 1) != 0)
            continue;
        again = found;
        json_t *o = json_loadb(said, len, 0, NULL);
        const char *ini = json_string_value(json_object_get(o, "ini"));
        oxl_profile_defaults(out);
        found = ini && oxl_profile_parse(ini, p->file, out, NULL) == OXL_OK;
        json_decref(o);
    }
    p->said_at = keep;
    return found && !again;
}

/* Before requests were proven by echo, echo was switched off at once: such a recording is played
 * with the requests of then, as its answers are answers to them. */
static bool was_unproven(const struct oxl_player *p)
{
    static const char mark[] = ",\"tx\":\"ATE";
    const size_t n = sizeof mark - 1;
    const char *at = p->recording.text, *line;
    size_t len;
    while (next_line(&at, p->end, &line, &len)) {
        const char *tx = memchr(line, ',', len);
        if (tx && len - (size_t)(tx - line) > n && memcmp(tx, mark, n) == 0)
            return tx[n] == '0';
    }
    return false;
}

static enum oxl_status make_core(struct oxl_player *p, struct oxl_error *err)
{
    const struct oxl_record_header *h = &p->header;
    const struct oxl_session_out out = oxl_core_without_link(p, on_event);
    struct oxl_session_config config = oxl_core_as_recorded(h);
    struct oxl_profile chosen;
    config.unproven = was_unproven(p);
    if (!h->inspection && !h->profile_given && chosen_profile(p, &chosen)) {
        config.profile = chosen;
        config.profile_fixed = true;
    }
    return oxl_json_starved() ? starved(p, err)
                              : oxl_core_open(&p->core, h->inspection, &config, &out, err);
}

/* The first input with a fresh core; the header is known. */
enum oxl_status oxl_player_rewind(struct oxl_player *p, struct oxl_error *err)
{
    const char *line;
    size_t len = 0;
    oxl_core_close(&p->core);
    p->at = p->recording.text;
    if (!next_line(&p->at, p->end, &line, &len))
        return oxl_fail(err, OXL_ERR_FORMAT, "%s: is empty: expected a recording", p->file);
    enum oxl_status st = oxl_record_decode_header(line, len, &p->header, p->file, err);
    p->lineno = 1;
    p->said_at = p->at;
    p->passed_at = p->recording.text;
    p->have_next = p->at_end = p->said_more = false;
    p->now_us = 0;
    p->compared = p->different = 0;
    p->order = (struct oxl_record_order){0};
    p->end_why[0] = '\0';
    if (st == OXL_OK)
        st = make_core(p, err);
    return st == OXL_OK ? look_ahead(p, err) : st;
}

enum oxl_status oxl_player_open(struct oxl_player *p, const char *file, void *ctx,
                                void (*event)(void *ctx, const struct oxl_event *ev),
                                struct oxl_error *err)
{
    memset(p, 0, sizeof *p);
    oxl_json_watch();
    p->file = file;
    p->ctx = ctx;
    p->event = event;
    enum oxl_status st = oxl_recording_load(file, &p->recording, err);
    if (st != OXL_OK)
        return st;
    p->end = p->recording.text + p->recording.size;
    p->scratch = malloc(OXL_RECORD_LINE_MAX + 1);
    p->bytes = malloc(OXL_RECORD_LINE_MAX + 1);
    st = p->scratch && p->bytes ? oxl_player_rewind(p, err)
                                : oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", file);
    if (st != OXL_OK)
        oxl_player_close(p);
    return st;
}

void oxl_player_close(struct oxl_player *p)
{
    oxl_core_close(&p->core);
    oxl_recording_free(&p->recording);
    free(p->scratch);
    free(p->bytes);
    memset(p, 0, sizeof *p);
}

int64_t oxl_player_due_us(const struct oxl_player *p)
{
    return p->have_next ? p->next.t_us : INT64_MAX;
}

enum oxl_status oxl_player_step(struct oxl_player *p, struct oxl_error *err)
{
    struct oxl_input in;
    (void)oxl_recorded_input(&p->next, &in);
    /* The scratch buffer that in.bytes points at is used again by the comparison, so the bytes
     * are taken out first. */
    if (in.n && in.bytes) {
        memcpy(p->bytes, in.bytes, in.n);
        in.bytes = p->bytes;
    }
    p->now_us = in.t_us;
    oxl_core_step(&p->core, &in);
    if (oxl_json_starved())
        return starved(p, err);
    return look_ahead(p, err);
}

enum oxl_status oxl_player_run(struct oxl_player *p, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    while (st == OXL_OK && p->have_next) {
        st = oxl_player_step(p, err);
        if (p->progress)
            oxl_progress(p->progress, (size_t)(p->at - p->recording.text), p->recording.size);
    }
    if (p->progress)
        oxl_progress_end(p->progress);
    return st;
}

/* A recording that stops short. What it holds is only vouched for as far as it was compared. */
static enum oxl_status cut_short(const struct oxl_player *p, struct oxl_error *err)
{
    struct oxl_live live;
    oxl_session_live(p->core.session, p->now_us, &live);
    if (p->different)
        return oxl_fail(err, OXL_ERR_STOPPED,
                        "%s: the recording ends in state %s, before a result, and %llu of %llu "
                        "events differ from the live run: do not rely on it",
                        p->file, oxl_state_name(live.state), (unsigned long long)p->different,
                        (unsigned long long)p->compared);
    return oxl_fail(err, OXL_ERR_STOPPED,
                    "%s: the recording ends in state %s, before a result: nothing is wrong with "
                    "what it holds",
                    p->file, oxl_state_name(live.state));
}

enum oxl_status oxl_player_outcome(const struct oxl_player *p, struct oxl_error *err)
{
    const char *text = "";
    if (!oxl_core_over(&p->core))
        return p->core.session
                   ? cut_short(p, err)
                   : oxl_fail(err, OXL_ERR_STOPPED,
                              "%s: the recording ends before the inspection does", p->file);
    enum oxl_status st = oxl_core_outcome(&p->core, &text);
    /* The core only knows that it was stopped, not by what. */
    if (st == OXL_ERR_STOPPED && p->end_why[0])
        text = p->end_why;
    return st == OXL_OK ? st : oxl_fail(err, st, "%s", text);
}

/* report: plays each recording silently and prints what is left of it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "player.h"

struct telling {
    struct oxl_story *story;
    struct oxl_buf *csv; /* NULL: no samples wanted */
    enum oxl_state state;
    int run;
};

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct telling *t = ctx;
    if (ev->kind == OXL_EV_STATE) {
        t->state = ev->u.state.state;
        t->run = ev->u.state.run;
    }
    if (t->csv && ev->kind == OXL_EV_SAMPLE)
        oxl_report_csv_sample(&ev->u.sample, t->state, t->run, t->csv);
    oxl_story_event(t->story, ev);
}

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static void finish_story(struct oxl_story *s, const struct oxl_player *p)
{
    struct oxl_error why;
    snprintf(s->recording_name, sizeof s->recording_name, "%s", base_name(p->file));
    snprintf(s->sha256, sizeof s->sha256, "%s", p->recording.sha256);
    s->torn = p->recording.torn;
    if (oxl_player_outcome(p, &why) != OXL_OK)
        snprintf(s->stopped_why, sizeof s->stopped_why, "%.*s", (int)sizeof s->stopped_why - 1,
                 why.text);
}

static enum oxl_status tell(const struct oxl_opts *o, const char *file, struct oxl_buf *out,
                            struct oxl_error *err)
{
    struct oxl_story *story = malloc(sizeof *story);
    struct telling t = {.story = story, .csv = o->format == OXL_FORMAT_CSV ? out : NULL};
    struct oxl_player p;
    if (!story)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    enum oxl_status st = oxl_player_open(&p, file, &t, on_event, err);
    if (st == OXL_OK) {
        oxl_story_init(story, &p.header);
        story->header.mask_vin = story->header.mask_vin || o->mask_vin;
        st = oxl_player_run(&p, err);
        finish_story(story, &p);
        if (st == OXL_OK && o->format == OXL_FORMAT_TEXT)
            oxl_report_text(story, out);
        else if (st == OXL_OK && o->format == OXL_FORMAT_JSON)
            oxl_report_json(story, out);
        oxl_player_close(&p);
    }
    free(story);
    return st;
}

static enum oxl_status deliver(const struct oxl_opts *o, const struct oxl_buf *text,
                               struct oxl_error *err)
{
    FILE *f = stdout;
    enum oxl_status st = o->out ? oxl_create_file(o->out, &f, err) : OXL_OK;
    if (st != OXL_OK)
        return st;
    bool ok = text->len == 0 || fwrite(text->data, 1, text->len, f) == text->len;
    ok = fflush(f) == 0 && ok;
    if (o->out)
        ok = fclose(f) == 0 && ok;
    return ok ? OXL_OK
              : oxl_fail(err, OXL_ERR_IO, "%s: could not be written whole: is the disk full?",
                         o->out ? o->out : "standard output");
}

enum oxl_status oxl_cmd_report(const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_buf out = {0};
    enum oxl_status st = OXL_OK;
    if (o->format == OXL_FORMAT_CSV)
        oxl_report_csv_header(&out);
    for (size_t i = 0; i < o->files_n && st == OXL_OK; i++)
        st = tell(o, o->files[i], &out, err);
    if (st == OXL_OK && out.failed)
        st = oxl_fail(err, OXL_ERR_NOMEM, "no memory for the report");
    if (st == OXL_OK)
        st = deliver(o, &out, err);
    oxl_buf_free(&out);
    return st;
}

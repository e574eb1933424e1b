/* report: plays each recording silently and prints what is left of it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "player.h"
#include "report.h"

struct loaded {
    struct oxl_test_record record;
    struct oxl_tracks tracks;
    struct oxl_inspection inspection;
    bool inspected;      /* then it is an inspection, and no test */
    struct oxl_buf *csv; /* NULL: no samples wanted */
    const char *name;
    enum oxl_state state;
    int run;
};

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct loaded *t = ctx;
    if (ev->kind == OXL_EV_STATE) {
        t->state = ev->u.state.state;
        t->run = ev->u.state.run;
    }
    if (t->csv && ev->kind == OXL_EV_SAMPLE)
        oxl_report_csv_sample(&ev->u.sample, t->state, t->run, t->name, t->csv);
    oxl_test_record_event(&t->record, ev);
    oxl_tracks_event(&t->tracks, ev);
}

static void finish_record(struct oxl_test_record *s, const struct oxl_player *p)
{
    struct oxl_error why;
    snprintf(s->recording_name, sizeof s->recording_name, "%s", oxl_base_name(p->file));
    snprintf(s->sha256, sizeof s->sha256, "%s", p->recording.sha256);
    s->torn = p->recording.torn;
    if (oxl_player_outcome(p, &why) != OXL_OK)
        snprintf(s->stopped_why, sizeof s->stopped_why, "%.*s", (int)sizeof s->stopped_why - 1,
                 why.text);
}

/* Also where the vehicle does not suit the test everything was inspected. */
static enum oxl_status take_inspection(struct loaded *t, const struct oxl_player *p,
                                       struct oxl_error *err)
{
    enum oxl_status st = oxl_player_outcome(p, err);
    if (st != OXL_OK && st != OXL_ERR_UNSUITABLE)
        return st;
    t->inspection = *oxl_inspect_found(p->core.inspect);
    return OXL_OK;
}

/* Replays one recording to its end. */
static enum oxl_status load(const struct oxl_opts *o, const char *file, struct oxl_buf *csv,
                            struct loaded *t, struct oxl_error *err)
{
    struct oxl_progress progress;
    struct oxl_player p;
    t->csv = csv;
    t->name = oxl_base_name(file);
    t->state = OXL_STATE_PRECHECK;
    t->run = 0;
    enum oxl_status st = oxl_player_open(&p, file, t, on_event, err);
    if (st != OXL_OK)
        return st;
    t->inspected = p.header.inspection;
    if (t->inspected && (o->files_n > 1 || csv || o->format == OXL_FORMAT_JSON)) {
        oxl_player_close(&p);
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s is an inspection and holds no test: alone it makes a page; oxylag "
                        "replay --json gives its objects",
                        file);
    }
    oxl_test_record_init(&t->record, &p.header);
    oxl_tracks_init(&t->tracks, p.header.bank);
    t->record.header.mask_vin = t->record.header.mask_vin || o->mask_vin;
    oxl_progress_start(&progress, "reading", o->quiet);
    p.progress = &progress;
    st = oxl_player_run(&p, err);
    if (st == OXL_OK && t->inspected)
        st = take_inspection(t, &p, err);
    finish_record(&t->record, &p);
    oxl_player_close(&p);
    return st;
}

static struct oxl_report_input input_of(const struct loaded *t)
{
    return (struct oxl_report_input){&t->record, &t->tracks, t->inspected ? &t->inspection : NULL,
                                     NULL};
}

/* Text and JSON follow one another, so that any number of recordings may be given. */
static void add_text(const struct oxl_opts *o, const struct loaded *t, struct oxl_buf *out)
{
    const struct oxl_report_input input = input_of(t);
    if (o->format == OXL_FORMAT_TEXT)
        oxl_report_text(&input, 1, out);
    else if (o->format == OXL_FORMAT_JSON)
        oxl_report_json(&t->record, out);
}

struct drawing {
    const struct oxl_opts *opts;
    const struct oxl_report_input *inputs;
    size_t n;
};

static void draw_page(void *ctx, struct oxl_buf *out)
{
    const struct drawing *d = ctx;
    if (d->opts->format == OXL_FORMAT_HTML)
        oxl_report_html(d->inputs, d->n, d->opts->paper, out);
    else
        oxl_report_pdf(d->inputs, d->n, d->opts->paper, out);
}

/* What sets the text ends the process when memory is refused (glib), falls over it (fontconfig), or
 * goes on and sets a word wrong. So it works apart, and twice: two pages of the same test are the
 * same byte for byte, unless something was amiss. */
void oxl_report_page(const struct oxl_opts *o, const struct oxl_report_input *inputs, size_t n,
                     struct oxl_buf *out)
{
    struct drawing d = {o, inputs, n};
    struct oxl_buf again = {0};
    const size_t from = out->len;
    if (o->format == OXL_FORMAT_TEXT) {
        oxl_report_text(inputs, n, out);
        return;
    }
    oxl_in_child_process(draw_page, &d, out);
    if (!out->failed)
        oxl_in_child_process(draw_page, &d, &again);
    out->failed = out->failed || again.failed || again.len != out->len - from || !again.data ||
                  memcmp(again.data, out->data + from, again.len) != 0;
    oxl_buf_free(&again);
}

enum oxl_status oxl_report_record(const struct oxl_opts *o, const char *file,
                                  struct oxl_test_record *out, struct oxl_error *err)
{
    struct loaded *t = calloc(1, sizeof *t);
    if (!t)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", file);
    enum oxl_status st = load(o, file, NULL, t, err);
    *out = t->record;
    free(t);
    return st;
}

/* What is said of the recordings together. */
static void add_pages(const struct oxl_opts *o, const struct loaded *tests, size_t n,
                      struct oxl_buf *out)
{
    const struct oxl_report_input inputs[2] = {input_of(&tests[0]), input_of(&tests[1])};
    if (o->format == OXL_FORMAT_JSON && n == 2)
        oxl_report_pair_json(inputs[0].record, inputs[1].record, out);
    else if (o->format != OXL_FORMAT_JSON && (n == 2 || o->format != OXL_FORMAT_TEXT))
        oxl_report_page(o, inputs, n, out);
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
    if (o->out && !ok)
        (void)unlink(o->out); /* half a page is none, and its name would be taken */
    return ok ? OXL_OK
              : oxl_fail(err, OXL_ERR_IO, "%s: could not be written whole: is the disk full?",
                         o->out ? o->out : "standard output");
}

/* Two recordings stay in memory together, to be compared; of more each is set by itself. */
static enum oxl_status make(const struct oxl_opts *o, struct loaded *tests, struct oxl_buf *out,
                            struct oxl_error *err)
{
    const bool pair = o->files_n <= 2 && o->format != OXL_FORMAT_CSV;
    struct oxl_buf each = {0};
    enum oxl_status st = OXL_OK;
    if (o->format == OXL_FORMAT_CSV)
        oxl_report_csv_header(out);
    for (size_t i = 0; i < o->files_n && st == OXL_OK; i++) {
        struct loaded *t = &tests[pair ? i : 0];
        st = load(o, o->files[i], o->format == OXL_FORMAT_CSV ? out : NULL, t, err);
        if (st == OXL_OK)
            add_text(o, t, pair ? &each : out);
    }
    if (o->format == OXL_FORMAT_JSON)
        oxl_buf_put(out, each.data, each.len);
    if (st == OXL_OK && pair)
        add_pages(o, tests, o->files_n, out);
    if (o->format != OXL_FORMAT_JSON)
        oxl_buf_put(out, each.data, each.len);
    out->failed = out->failed || each.failed;
    oxl_buf_free(&each);
    return st;
}

enum oxl_status oxl_report_make(const struct oxl_opts *o, struct oxl_buf *out,
                                struct oxl_error *err)
{
    struct loaded *tests = calloc(2, sizeof *tests);
    if (!tests)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    enum oxl_status st = o->history ? oxl_report_history(o, out, err) : make(o, tests, out, err);
    free(tests);
    if (st == OXL_OK && out->failed)
        st = oxl_fail(
            err, OXL_ERR_NOMEM,
            "the report could not be made: no memory, or no font; close other programs, or take "
            "--format text");
    return st;
}

enum oxl_status oxl_cmd_report(const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_buf out = {0};
    if (o->format == OXL_FORMAT_PDF && !o->out && isatty(STDOUT_FILENO))
        return oxl_fail(err, OXL_ERR_USAGE, "a PDF is no text for a terminal: give --out FILE.pdf");
    enum oxl_status st = oxl_report_make(o, &out, err);
    if (st == OXL_OK)
        st = deliver(o, &out, err);
    oxl_buf_free(&out);
    return st;
}

/* import: makes a recording from a table of samples, through the same core as a test. */
#include <stdio.h>
#include <stdlib.h>

#include "commands.h"
#include "core.h"
#include "link/input_file.h"
#include "oxylag/import.h"
#include "oxylag/record.h"
#include "progress.h"
#include "recording_writer.h"

enum { TABLE_MAX_BYTES = 256 << 20 };

struct importing {
    const struct oxl_opts *opts;
    struct oxl_session *session;
    struct oxl_recorder *recorder;
    struct oxl_sinks sinks;
    struct oxl_progress progress;
};

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct importing *m = ctx;
    oxl_sinks_event(&m->sinks, ev);
    oxl_recording_event(m->recorder, ev, false);
}

/* What became due before the next row. */
static void tick_until(struct importing *m, int64_t t_us)
{
    int64_t due_us;
    while ((due_us = oxl_session_due_us(m->session)) <= t_us) {
        struct oxl_input in = {.kind = OXL_IN_TICK, .t_us = due_us};
        if (!oxl_session_step(m->session, &in))
            return; /* a due tick that does nothing would be due for ever */
        oxl_recording_input(m->recorder, &in);
    }
}

static void feed_rows(struct importing *m, const struct oxl_import_table *t)
{
    const size_t n = t->about.channels_n;
    int64_t t_us = 0;
    for (size_t i = 0; i < t->rows && !oxl_session_over(m->session); i++) {
        t_us = t->t_us[i];
        struct oxl_input in = {
            .kind = OXL_IN_SAMPLES, .t_us = t_us, .values = t->values + i * n, .n = n};
        tick_until(m, t_us);
        oxl_recording_input(m->recorder, &in);
        oxl_session_step(m->session, &in);
        oxl_progress(&m->progress, i, t->rows);
    }
    struct oxl_input in = {.kind = OXL_IN_END, .t_us = t_us};
    oxl_session_step(m->session, &in);
    oxl_recording_end(m->recorder, t_us, NULL);
    oxl_progress_end(&m->progress);
}

static void fill_header(const struct importing *m, const struct oxl_import_table *t,
                        const char *text, size_t text_n, const struct oxl_profile *profile,
                        struct oxl_record_header *h)
{
    const struct oxl_opts *o = m->opts;
    oxl_recording_fill(h, o, "none", profile);
    h->imported = t->about;
    snprintf(h->imported.table, sizeof h->imported.table, "%s", oxl_base_name(o->files[0]));
    oxl_sha256(text, text_n, h->imported.table_sha256);
}

static void say_table(const struct importing *m, const struct oxl_import_table *t)
{
    const struct oxl_imported *a = &t->about;
    if (m->opts->json || m->opts->quiet)
        return;
    printf("%s: %zu rows, %.1f s, rows %.0f ms apart; a front value stands for %.0f ms, a rear "
           "value for %.0f ms\n",
           m->opts->files[0], t->rows, (double)t->t_us[t->rows - 1] / 1e6, (double)a->row_us / 1e3,
           (double)a->step_us[0] / 1e3, (double)a->step_us[1] / 1e3);
    if (t->closing_lines)
        printf("Left out below the last row, as text: %zu lines.\n", t->closing_lines);
    if (a->resampled)
        printf("The values were interpolated onto an even grid: no time can be taken from them.\n");
}

static enum oxl_status open_core(struct importing *m, const struct oxl_record_header *h,
                                 struct oxl_error *err)
{
    const struct oxl_session_config config = oxl_core_as_recorded(h);
    const struct oxl_session_out out = oxl_core_without_link(m, on_event);
    struct oxl_opts shown = *m->opts;
    shown.plain = true; /* there is nothing to watch */
    m->session = oxl_session_new(&config, &out);
    if (!m->session)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    return oxl_sinks_open(&m->sinks, &shown, OXL_UI_REPLAY, m->opts->files[0], h, err);
}

static enum oxl_status run(struct importing *m, const struct oxl_import_table *t,
                           const struct oxl_record_header *h, const char *name,
                           struct oxl_error *err)
{
    enum oxl_status st = open_core(m, h, err);
    if (st != OXL_OK)
        return st;
    st = oxl_recorder_open(name, &m->recorder, err);
    if (st != OXL_OK)
        return st;
    oxl_recording_header(m->recorder, h);
    feed_rows(m, t);
    const char *why = "";
    st = oxl_recording_close(m->recorder, name, "report", m->opts, err);
    if (st == OXL_OK && oxl_session_outcome(m->session, &why) != OXL_OK)
        st = oxl_fail(err, oxl_session_outcome(m->session, &why), "%s", why);
    return st;
}

enum oxl_status oxl_cmd_import(const struct oxl_opts *o, struct oxl_error *err)
{
    struct importing m = {.opts = o};
    struct oxl_import_spec spec = {
        .columns = o->columns, .separator = o->separator, .bank = o->bank ? o->bank : 1};
    struct oxl_record_header header;
    struct oxl_profile profile;
    struct oxl_import_table *table = NULL;
    char *text = NULL, name[512];
    size_t text_n = 0;
    snprintf(name, sizeof name, "%s%s", o->out ? o->out : oxl_base_name(o->files[0]),
             o->out ? "" : ".jsonl");
    enum oxl_status st = oxl_load_profile(o->profile, &profile, err);
    if (st == OXL_OK)
        st = oxl_read_bytes(o->files[0], TABLE_MAX_BYTES, &text, &text_n, err);
    if (st == OXL_OK)
        st = oxl_table_read(text, text_n, &spec, o->files[0], &table, err);
    if (st == OXL_OK) {
        oxl_progress_start(&m.progress, "importing", o->quiet);
        fill_header(&m, table, text, text_n, &profile, &header);
        say_table(&m, table);
        st = run(&m, table, &header, name, err);
    }
    oxl_session_free(m.session);
    oxl_sinks_free(&m.sinks);
    oxl_table_free(table);
    free(text);
    return st;
}

/* run and demo: opens everything that a test needs, in the order in which refusals are cheapest,
 * runs it, and says where the recording is. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "clock.h"
#include "commands.h"
#include "drive.h"
#include "tape.h"

static enum oxl_status refuse_unread(struct oxl_error *err)
{
    for (size_t i = 0; i < oxl_cautions_count(); i++)
        fprintf(stderr, "  - %s\n", oxl_caution(i));
    return oxl_fail(err, OXL_ERR_USAGE,
                    "read the cautions above, then say so with --accept-cautions");
}

static enum oxl_status need_acceptance(const struct oxl_opts *o, struct oxl_error *err)
{
    bool screen = !o->json && !o->plain && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO);
    return o->accept_cautions || screen ? OXL_OK : refuse_unread(err);
}

enum oxl_status oxl_pick_port(const struct oxl_opts *o, char *out, size_t n, struct oxl_error *err)
{
    if (o->command == OXL_CMD_DEMO) {
        snprintf(out, n, "sim:%s", o->scenario ? o->scenario : "good");
        return OXL_OK;
    }
    if (o->port) {
        if (strlen(o->port) >= n)
            return oxl_fail(err, OXL_ERR_USAGE, "--port: the name is too long");
        snprintf(out, n, "%s", o->port);
        return OXL_OK;
    }
    static struct oxl_port_info ports[8];
    size_t found = oxl_ports(ports, 8);
    if (found != 1)
        return oxl_fail(err, OXL_ERR_USAGE,
                        found ? "there are several ports: pick one with --port (see: oxylag ports)"
                              : "no serial port found: plug the adapter in, or give --port");
    snprintf(out, n, "%s", ports[0].path);
    return OXL_OK;
}

/* A vehicle's test is always recorded; a demo when asked to. */
static enum oxl_status open_recording(struct oxl_drive *d, char *name, size_t n,
                                      struct oxl_error *err)
{
    const struct oxl_opts *o = d->opts;
    name[0] = '\0';
    if (o->out && strlen(o->out) >= n)
        return oxl_fail(err, OXL_ERR_USAGE, "--out: the name is too long");
    if (o->out) {
        snprintf(name, n, "%s", o->out);
    } else if (!d->plug.sim) {
        char stamp[24];
        oxl_wall_stamp(stamp);
        snprintf(name, n, "oxylag-%s.jsonl", stamp);
    }
    return name[0] ? oxl_recorder_open(name, &d->recorder, err) : OXL_OK;
}

static enum oxl_status write_truth(struct oxl_drive *d, FILE *f, struct oxl_error *err)
{
    char line[1024];
    if (!f)
        return OXL_OK;
    /* The last pulse is complete only when the trims are back. */
    oxl_sim_run(d->plug.sim, d->plug.now_us + 60000000);
    if (oxl_sim_truth_header(d->plug.sim, line, sizeof line))
        fputs(line, f);
    for (size_t i = 0; i < oxl_sim_truth_count(d->plug.sim); i++) {
        struct oxl_truth t;
        if (oxl_sim_truth(d->plug.sim, i, &t) && oxl_sim_truth_json(&t, line, sizeof line))
            fputs(line, f);
    }
    bool bad = ferror(f) != 0;
    if (fclose(f) != 0 || bad)
        return oxl_fail(err, OXL_ERR_IO, "%s: could not be written whole: is the disk full?",
                        d->opts->truth);
    return OXL_OK;
}

static void close_all(struct oxl_drive *d)
{
    oxl_session_free(d->session);
    oxl_plug_close(&d->plug);
    oxl_show_free(&d->show);
}

static enum oxl_status test(struct oxl_drive *d, const char *name, struct oxl_error *err)
{
    if (!oxl_drive_cautions(d))
        return oxl_fail(err, OXL_ERR_STOPPED, "left at the cautions: nothing was done");
    oxl_tape_header(d->recorder, &d->show.story->header);
    enum oxl_status st = oxl_drive_run(d, err);
    oxl_drive_linger(d);
    bool had_screen = d->show.term != NULL;
    oxl_show_close(&d->show);
    if (had_screen) {
        struct oxl_buf text = {0};
        snprintf(d->show.story->recording_name, sizeof d->show.story->recording_name, "%.*s",
                 (int)sizeof d->show.story->recording_name - 1, name);
        oxl_report_text(d->show.story, &text);
        if (d->opts->by_hand) {
            oxl_buf_add(&text, "\n");
            oxl_byhand_text(&d->hand, &d->show.story->profile, &text);
        }
        if (text.data)
            fputs(text.data, stdout);
        oxl_buf_free(&text);
    }
    return st;
}

enum oxl_status oxl_cmd_test(const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_drive d = {.opts = o};
    oxl_plug_start(&d.plug, o);
    struct oxl_profile profile;
    struct oxl_record_header header;
    char name[512] = "";
    FILE *truth = NULL;
    oxl_byhand_start(&d.hand, o->by_hand);
    enum oxl_status st = need_acceptance(o, err);
    if (st == OXL_OK)
        st = oxl_load_profile(o->profile, &profile, err);
    if (st == OXL_OK)
        st = oxl_pick_port(o, d.plug.port, sizeof d.plug.port, err);
    if (st == OXL_OK)
        st = oxl_plug_open(&d.plug, o, o->by_hand ? OXL_TECH_BY_HAND : OXL_TECH_GUIDED, err);
    if (st == OXL_OK && o->truth && d.plug.sim)
        st = oxl_create_file(o->truth, &truth, err);
    if (st == OXL_OK)
        st = open_recording(&d, name, sizeof name, err);
    if (st == OXL_OK) {
        oxl_tape_fill(&header, o, d.plug.port, &profile);
        header.has_speed = d.plug.link->has_speed;
        st = oxl_show_open(&d.show, o, o->command == OXL_CMD_DEMO ? OXL_UI_DEMO : OXL_UI_LIVE,
                           d.plug.port, &header, err);
    }
    /* A terminal that cannot draw shows no cautions either. */
    if (st == OXL_OK && !d.show.term && !o->accept_cautions)
        st = refuse_unread(err);
    if (st == OXL_OK) {
        oxl_signals_catch();
        st = test(&d, name, err);
        enum oxl_status told = write_truth(&d, truth, st == OXL_OK ? err : NULL);
        /* Without a session nobody got past the cautions: the file is empty. */
        enum oxl_status rec = oxl_tape_close(d.recorder, name, d.session ? "report" : NULL, o,
                                             st == OXL_OK ? err : NULL);
        if (st == OXL_OK)
            st = told != OXL_OK ? told : rec;
    }
    close_all(&d);
    return st;
}

#include "recording_writer.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "clock.h"
#include "oxylag/safe.h"
#include "record/event_parts.h"

static void copy(char *out, size_t n, const char *text)
{
    snprintf(out, n, "%.*s", (int)n - 1, text ? text : "");
}

void oxl_recording_fill(struct oxl_record_header *h, const struct oxl_opts *o, const char *port,
                        const struct oxl_profile *profile)
{
    memset(h, 0, sizeof *h);
    h->version = OXL_RECORD_VERSION;
    copy(h->program, sizeof h->program, OXL_VERSION);
    oxl_wall_iso(h->started);
    copy(h->port, sizeof h->port, port);
    h->simulated = strncmp(port, "sim:", 4) == 0;
    if (h->simulated) {
        copy(h->scenario, sizeof h->scenario, port + 4);
        h->seed = o->seed;
    }
    copy(h->order, sizeof h->order, o->order);
    copy(h->inlet, sizeof h->inlet, o->inlet);
    copy(h->note, sizeof h->note, o->note);
    copy(h->technician, sizeof h->technician, o->technician);
    copy(h->plate, sizeof h->plate, oxl_owner_shown(o->plate ? o->plate : "", o->mask_vin));
    copy(h->vehicle, sizeof h->vehicle, oxl_owner_shown(o->vehicle ? o->vehicle : "", o->mask_vin));
    copy(h->odometer, sizeof h->odometer, o->odometer);
    h->mask_vin = o->mask_vin;
    h->bank = o->bank ? o->bank : 1;
    h->runs = o->runs;
    h->speed_baud = o->speed_baud;
    h->profile_given = o->profile != NULL;
    h->profile = *profile;
}

void oxl_recording_header(struct oxl_recorder *r, const struct oxl_record_header *h)
{
    static char line[OXL_RECORD_LINE_MAX];
    size_t n = r ? oxl_record_encode_header(h, line, sizeof line) : 0;
    if (n)
        oxl_recorder_line(r, line, n);
}

static void put(struct oxl_recorder *r, const struct oxl_line *line)
{
    static char text[OXL_RECORD_LINE_MAX];
    size_t n = r ? oxl_record_encode(line, text, sizeof text) : 0;
    if (n)
        oxl_recorder_line(r, text, n);
}

void oxl_recording_sent(struct oxl_recorder *r, const char *bytes, size_t n, int64_t t_us)
{
    put(r, &(struct oxl_line){.kind = OXL_LINE_TX, .t_us = t_us, .bytes = bytes, .n = n});
}

void oxl_recording_speed(struct oxl_recorder *r, unsigned baud, int64_t t_us)
{
    put(r, &(struct oxl_line){.kind = OXL_LINE_SPEED, .t_us = t_us, .speed_baud = baud});
}

void oxl_recording_end(struct oxl_recorder *r, int64_t t_us, const char *why)
{
    put(r, &(struct oxl_line){
               .kind = OXL_LINE_END, .t_us = t_us, .bytes = why, .n = why ? strlen(why) : 0});
}

void oxl_recording_event(struct oxl_recorder *r, const struct oxl_event *ev, bool mask_vin)
{
    static char text[OXL_RECORD_LINE_MAX];
    /* Samples are not kept: the raw bytes are, and give them again. */
    if (!r || ev->kind == OXL_EV_SAMPLE)
        return;
    size_t n = oxl_event_json(ev, mask_vin, text, sizeof text);
    if (!n)
        return;
    struct oxl_line line = {.kind = OXL_LINE_EVENT, .t_us = ev->t_us, .bytes = text, .n = n};
    put(r, &line);
}

/* Two inputs share the kind LINK. */
static const enum oxl_line_kind kinds[] = {
    [OXL_IN_RX] = OXL_LINE_RX,           [OXL_IN_TICK] = OXL_LINE_TICK,
    [OXL_IN_KEY] = OXL_LINE_KEY,         [OXL_IN_LINK_UP] = OXL_LINE_LINK,
    [OXL_IN_LINK_DOWN] = OXL_LINE_LINK,  [OXL_IN_NOTE] = OXL_LINE_NOTE,
    [OXL_IN_SAMPLES] = OXL_LINE_SAMPLES, [OXL_IN_END] = OXL_LINE_END,
};

void oxl_recording_input(struct oxl_recorder *r, const struct oxl_input *in)
{
    struct oxl_line line = {.kind = kinds[in->kind],
                            .t_us = in->t_us,
                            .bytes = in->bytes,
                            .n = in->n,
                            .key = in->key,
                            .link_up = in->kind == OXL_IN_LINK_UP};
    if (in->values)
        memcpy(line.values, in->values, in->n * sizeof *in->values);
    put(r, &line);
}

bool oxl_recorded_input(const struct oxl_line *l, struct oxl_input *in)
{
    enum oxl_input_kind k = OXL_IN_RX;
    while (k <= OXL_IN_END && kinds[k] != l->kind)
        k++;
    *in = (struct oxl_input){.kind = k == OXL_IN_LINK_UP && !l->link_up ? OXL_IN_LINK_DOWN : k,
                             .t_us = l->t_us,
                             .bytes = l->bytes,
                             .n = l->n,
                             .key = l->key,
                             .values = l->values};
    return k <= OXL_IN_END;
}

static bool is_taken(const char *name)
{
    struct stat st;
    return lstat(name, &st) == 0;
}

/* Two tests that begin in the same second (two bays, one folder) are both recorded. */
enum oxl_status oxl_recording_open_stamped(struct oxl_recorder **out, char *name, size_t n,
                                           struct oxl_error *err)
{
    enum { TRIES = 99 };
    char stamp[24], number[8] = "";
    enum oxl_status st = OXL_ERR_IO;
    oxl_wall_stamp(stamp);
    for (int i = 1; i <= TRIES; i++) {
        if (i > 1)
            snprintf(number, sizeof number, "-%d", i);
        snprintf(name, n, "oxylag-%s%s.jsonl", stamp, number);
        if (is_taken(name))
            continue;
        st = oxl_recorder_open(name, out, err);
        /* The other one may have made the name in between; else no name will do. */
        if (st == OXL_OK || !is_taken(name))
            return st;
    }
    return oxl_fail(err, OXL_ERR_IO, "%s cannot be recorded to: name a file with --out", name);
}

enum oxl_status oxl_recording_close(struct oxl_recorder *r, const char *name, const char *next,
                                    const struct oxl_opts *o, struct oxl_error *err)
{
    if (!r)
        return OXL_OK;
    const char *why = NULL;
    char shown[512];
    oxl_safe_copy(shown, sizeof shown, name);
    bool failed = oxl_recorder_failed(r, &why);
    enum oxl_status early = OXL_OK;
    const char *todo = "make room on the disk and test again; what it holds is kept";
    if (failed && err)
        early = oxl_fail(err, OXL_ERR_IO, "%s: recording stopped early: %s: %s", shown, why, todo);
    else if (failed)
        fprintf(stderr, "oxylag: %s: recording stopped early: %s: %s\n", shown, why, todo);
    enum oxl_status st = oxl_recorder_close(r, failed ? NULL : err);
    if (next && !o->json && !o->quiet)
        printf("Recorded in %s. Next: oxylag %s %s\n", shown, next, shown);
    return failed ? early : st;
}

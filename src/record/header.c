#include "oxylag/record.h"

#include <errno.h>
#include <jansson.h>
#include <limits.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "event_parts.h"

enum { PROFILE_TEXT_MAX = 8192, SPEED_MAX_BAUD = 10000000, RUNS_MAX = 99, BANK_MAX = 2 };

/* What is the customer's; only where it was given. */
#define OWNED(member, told)                                                                        \
    {                                                                                              \
#member, offsetof(struct oxl_record_header, member),                                       \
            sizeof((struct oxl_record_header *)0)->member, told                                    \
    }
static const struct {
    const char *name;
    size_t offset, size;
    bool told; /* whose vehicle it is: hidden with the VIN */
} owned[] = {OWNED(plate, true), OWNED(odometer, false), OWNED(vehicle, true)};

static const char *owned_text(const struct oxl_record_header *h, size_t i)
{
    return (const char *)h + owned[i].offset;
}

/* ---- writing -------------------------------------------------------------------------------- */

/* Only a recording that was made from a table has this member. */
static void imported_member(struct oxl_json *j, const struct oxl_imported *a)
{
    char name[48];
    oxl_json_member_open(j, "imported", '{');
    oxl_json_member_text(j, "table", a->table);
    oxl_json_member_text(j, "table_sha256", a->table_sha256);
    oxl_json_member_integer(j, "row_us", a->row_us);
    oxl_json_member_bool(j, "resampled", a->resampled);
    oxl_json_member_open(j, "channels", '[');
    for (unsigned i = 0; i < a->channels_n; i++) {
        oxl_channel_name(a->channels[i], name, sizeof name);
        oxl_json_text(j, name);
    }
    oxl_json_close(j, ']');
    oxl_json_member_open(j, "step_us", '[');
    for (unsigned i = 0; i < a->channels_n; i++)
        oxl_json_integer(j, a->step_us[i]);
    oxl_json_close(j, ']');
    oxl_json_close(j, '}');
}

size_t oxl_record_encode_header(const struct oxl_record_header *h, char *out, size_t n)
{
    char profile[PROFILE_TEXT_MAX], seed[24];
    struct oxl_json j;
    if (oxl_profile_format(&h->profile, profile, sizeof profile) >= sizeof profile)
        return 0;
    /* Text, because most readers of JSON keep no more than 53 bits of a number. */
    snprintf(seed, sizeof seed, "%llu", (unsigned long long)h->seed);
    oxl_json_start(&j, out, n);
    oxl_json_open(&j, '{');
    oxl_json_member_text(&j, "format", OXL_RECORD_FORMAT);
    oxl_json_member_integer(&j, "version", h->version);
    oxl_json_member_text(&j, "program", h->program);
    oxl_json_member_text(&j, "started", h->started);
    oxl_json_member_text(&j, "port", h->port);
    oxl_json_member_bool(&j, "simulated", h->simulated);
    oxl_json_member_text(&j, "scenario", h->scenario);
    oxl_json_member_text(&j, "seed", seed);
    oxl_json_member_text(&j, "order", h->order);
    oxl_json_member_text(&j, "inlet", h->inlet);
    oxl_json_member_text(&j, "note", h->note);
    oxl_json_member_text(&j, "technician", h->technician);
    for (size_t i = 0; i < sizeof owned / sizeof owned[0]; i++)
        if (*owned_text(h, i)) /* recordings made before have none of these */
            oxl_json_member_text(&j, owned[i].name,
                                 oxl_owner_shown(owned_text(h, i), h->mask_vin && owned[i].told));
    oxl_json_member_bool(&j, "mask_vin", h->mask_vin);
    oxl_json_member_integer(&j, "bank", h->bank);
    oxl_json_member_integer(&j, "runs", h->runs);
    oxl_json_member_integer(&j, "speed", h->speed_baud);
    oxl_json_member_bool(&j, "has_speed", h->has_speed);
    oxl_json_member_bool(&j, "profile_given", h->profile_given);
    oxl_json_member_integer(&j, "schedule", h->schedule ? h->schedule : OXL_SCHEDULE);
    oxl_json_member_integer(&j, "procedure", h->procedure ? h->procedure : OXL_PROCEDURE);
    if (h->inspection)
        oxl_json_member_bool(&j, "inspection", true);
    if (h->imported.on)
        imported_member(&j, &h->imported);
    oxl_json_member_text(&j, "profile", profile);
    oxl_json_close(&j, '}');
    oxl_json_raw(&j, "\n", 1);
    return oxl_json_done(&j);
}

/* ---- reading -------------------------------------------------------------------------------- */

struct reader {
    const json_t *object;
    const char *file;
    struct oxl_error *err;
    enum oxl_status status; /* the first failure */
};

static void wrong(struct reader *r, const char *name, const char *expected)
{
    if (r->status == OXL_OK)
        r->status = oxl_fail(r->err, OXL_ERR_FORMAT, "%s line 1: \"%s\" should be %s", r->file,
                             name, expected);
}

/* The text of a member, NULL when it is no text. */
static const char *read_text(struct reader *r, const char *name)
{
    const json_t *v = json_object_get(r->object, name);
    const char *text = json_string_value(v);
    if (text && strlen(text) == json_string_length(v))
        return text;
    wrong(r, name, "a text");
    return NULL;
}

static void read_into(struct reader *r, const char *name, char *out, size_t n)
{
    const char *text = read_text(r, name);
    char expected[48];
    snprintf(expected, sizeof expected, "a text of at most %zu bytes", n - 1);
    if (text && strlen(text) >= n)
        wrong(r, name, expected);
    else if (text)
        memcpy(out, text, strlen(text) + 1);
}

static unsigned read_unsigned(struct reader *r, const char *name, unsigned low, unsigned high)
{
    const json_t *v = json_object_get(r->object, name);
    char expected[64];
    snprintf(expected, sizeof expected, "a whole number from %u to %u", low, high);
    if (json_is_integer(v) && json_integer_value(v) >= low && json_integer_value(v) <= high)
        return (unsigned)json_integer_value(v);
    wrong(r, name, expected);
    return 0;
}

/* Which rules it was made by. The first ones had no number. */
static unsigned read_rules(struct reader *r, const char *name, unsigned todays)
{
    return json_object_get(r->object, name) ? read_unsigned(r, name, 1, todays) : 1;
}

static bool read_bool(struct reader *r, const char *name)
{
    const json_t *v = json_object_get(r->object, name);
    if (!json_is_boolean(v))
        wrong(r, name, "true or false");
    return json_is_true(v);
}

static uint64_t read_seed(struct reader *r)
{
    const char *text = read_text(r, "seed");
    char *end = NULL;
    if (!text)
        return 0;
    errno = 0;
    unsigned long long v = strtoull(text, &end, 10);
    if (text[0] < '0' || text[0] > '9' || *end || errno)
        wrong(r, "seed", "a whole number below 2^64, in quotes");
    return v;
}

static void read_channels(struct reader *r, struct oxl_imported *a)
{
    const json_t *names = json_object_get(r->object, "channels");
    const json_t *steps = json_object_get(r->object, "step_us");
    size_t n = json_array_size(names);
    if (n < 1 || n > OXL_IMPORT_CHANNELS || json_array_size(steps) != n) {
        wrong(r, "channels", "a list of 1 to 12 channels, with a step_us for each");
        return;
    }
    for (size_t i = 0; i < n; i++) {
        const char *name = json_string_value(json_array_get(names, i));
        const json_t *step = json_array_get(steps, i);
        if (!name || !oxl_channel_from_name(name, &a->channels[i]))
            wrong(r, "channels", "a list of channel names such as \"o2_b1s2_v\"");
        if (!json_is_integer(step) || json_integer_value(step) < 0 ||
            json_integer_value(step) > INT64_C(1000000000000))
            wrong(r, "step_us", "a list of whole microseconds");
        else
            a->step_us[i] = json_integer_value(step);
    }
    a->channels_n = (unsigned)n;
}

static void read_imported(struct reader *r, struct oxl_imported *a)
{
    const json_t *outer = r->object, *v = json_object_get(outer, "imported");
    if (!v)
        return;
    if (!json_is_object(v)) {
        wrong(r, "imported", "an object");
        return;
    }
    r->object = v;
    a->on = true;
    read_into(r, "table", a->table, sizeof a->table);
    read_into(r, "table_sha256", a->table_sha256, sizeof a->table_sha256);
    a->row_us = read_unsigned(r, "row_us", 0, UINT_MAX);
    a->resampled = read_bool(r, "resampled");
    read_channels(r, a);
    r->object = outer;
}

/* Is this a recording at all, and one that we can read? */
static void check_format(struct reader *r)
{
    const char *format = json_string_value(json_object_get(r->object, "format"));
    const json_t *version = json_object_get(r->object, "version");
    if (!format || strcmp(format, OXL_RECORD_FORMAT) != 0)
        r->status = oxl_fail(r->err, OXL_ERR_FORMAT,
                             "%s is not a recording: its first line lacks \"format\":\"%s\"",
                             r->file, OXL_RECORD_FORMAT);
    else if (!json_is_integer(version))
        wrong(r, "version", "a whole number");
    else if (json_integer_value(version) != OXL_RECORD_VERSION)
        r->status = oxl_fail(r->err, OXL_ERR_FORMAT,
                             "%s line 1: recording version %lld; this program reads version %d",
                             r->file, (long long)json_integer_value(version), OXL_RECORD_VERSION);
}

static void read_profile(struct reader *r, struct oxl_profile *profile)
{
    const char *text = read_text(r, "profile");
    char where[640];
    if (!text || r->status != OXL_OK)
        return;
    snprintf(where, sizeof where, "%s line 1, profile", r->file);
    r->status = oxl_profile_parse(text, where, profile, r->err);
}

static void read_members(struct reader *r, struct oxl_record_header *h)
{
    h->version = OXL_RECORD_VERSION;
    read_into(r, "program", h->program, sizeof h->program);
    read_into(r, "started", h->started, sizeof h->started);
    read_into(r, "port", h->port, sizeof h->port);
    h->simulated = read_bool(r, "simulated");
    read_into(r, "scenario", h->scenario, sizeof h->scenario);
    h->seed = read_seed(r);
    read_into(r, "order", h->order, sizeof h->order);
    read_into(r, "inlet", h->inlet, sizeof h->inlet);
    read_into(r, "note", h->note, sizeof h->note);
    read_into(r, "technician", h->technician, sizeof h->technician);
    for (size_t i = 0; i < sizeof owned / sizeof owned[0]; i++)
        if (json_object_get(r->object, owned[i].name))
            read_into(r, owned[i].name, (char *)h + owned[i].offset, owned[i].size);
    h->mask_vin = read_bool(r, "mask_vin");
    h->bank = read_unsigned(r, "bank", 1, BANK_MAX);
    h->runs = read_unsigned(r, "runs", 0, RUNS_MAX);
    h->speed_baud = read_unsigned(r, "speed", 0, SPEED_MAX_BAUD);
    h->has_speed = read_bool(r, "has_speed");
    h->profile_given = read_bool(r, "profile_given");
    h->inspection = json_object_get(r->object, "inspection") && read_bool(r, "inspection");
    h->schedule = (enum oxl_schedule)read_rules(r, "schedule", OXL_SCHEDULE);
    h->procedure = (enum oxl_procedure)read_rules(r, "procedure", OXL_PROCEDURE);
    read_imported(r, &h->imported);
    read_profile(r, &h->profile);
}

enum oxl_status oxl_record_decode_header(const char *text, size_t len, struct oxl_record_header *h,
                                         const char *file, struct oxl_error *err)
{
    struct oxl_record_header read = {0};
    json_error_t e;
    if (len > OXL_RECORD_LINE_MAX)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s is not a recording: its first line is too long",
                        file);
    json_t *root = json_loadb(text, len, JSON_ALLOW_NUL | JSON_REJECT_DUPLICATES, &e);
    if (!root)
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s is not a recording: its first line is not one JSON object", file);
    struct reader r = {root, file, err, OXL_OK};
    oxl_profile_defaults(&read.profile);
    check_format(&r);
    if (r.status == OXL_OK)
        read_members(&r, &read);
    json_decref(root);
    if (r.status == OXL_OK)
        *h = read;
    return r.status;
}

#include "help_transcript.h"

#include "accepted.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { COUNTED = 64 };

static void __attribute__((format(printf, 3, 4)))
add(char *text, size_t size, const char *format, ...)
{
    size_t n = strlen(text);
    va_list args;
    va_start(args, format);
    int wrote = vsnprintf(text + n, size - n, format, args);
    va_end(args);
    if (wrote < 0 || (size_t)wrote >= size - n)
        fail_msg("the transcript is longer than %zu characters", size);
}

/* ---- live data, counted ---- */

struct tally {
    char name[COUNTED][60];
    unsigned n[COUNTED], used;
};

static void count(struct tally *t, const char *name, int n)
{
    unsigned i = 0;
    while (i < t->used && (strncmp(t->name[i], name, (size_t)n) != 0 || t->name[i][n]))
        i++;
    assert_in_range(i, 0, COUNTED - 1);
    if (i == t->used)
        snprintf(t->name[t->used++], sizeof t->name[0], "%.*s", n, name);
    t->n[i]++;
}

static void add_tally(char *text, size_t size, const struct tally *t)
{
    for (unsigned i = 0; i < t->used; i++)
        add(text, size, "%6u times %s\n", t->n[i], t->name[i]);
}

void transcript_add(char *text, size_t size, const char *out, int64_t live_us)
{
    static struct tally tally;
    int64_t full_us = live_us == INT64_MAX ? live_us : live_us + 500000;
    tally.used = 0;
    memset(tally.n, 0, sizeof tally.n);
    for (const char *line = out; *line; line += strcspn(line, "\n") + 1) {
        char kind[16] = "";
        int at = 0, n = (int)strcspn(line, "\n");
        int64_t t_us = 0;
        assert_int_equal(sscanf(line, "%" SCNd64 " %15s %n", &t_us, kind, &at), 2);
        if (at > n)
            at = n;
        const char *rest = line + at;
        double t_s = (double)t_us / 1e6;
        if (strcmp(kind, "sample") == 0)
            count(&tally, rest, (int)strcspn(rest, " "));
        else if (strcmp(kind, "send") == 0 || strcmp(kind, "part") == 0) {
            if (t_us > full_us)
                count(&tally, rest, n - at);
            else
                add(text, size, "%9.4f %s %.*s\n", t_s, kind[0] == 's' ? ">" : ">|", n - at, rest);
        } else if (strcmp(kind, "link") == 0)
            add(text, size, "%9.4f =  %.*s\n", t_s, n - at, rest);
        else if (strcmp(kind, "vehicle") == 0)
            add(text, size, "%9.4f *\n", t_s);
        else
            add(text, size, "%9.4f -- %s %.*s\n", t_s, kind, n - at, rest);
    }
    add_tally(text, size, &tally);
}

/* ---- facts ---- */

static void add_pids(char *text, size_t size, const char *what, const struct oxl_support *s)
{
    add(text, size, "%s", what);
    for (unsigned pid = 0; pid < 256; pid++)
        if (oxl_supports(s, (uint8_t)pid))
            add(text, size, " %02X", pid);
    add(text, size, "\n");
}

static void add_codes(char *text, size_t size, const char *what, bool known, const uint16_t *codes,
                      size_t n)
{
    add(text, size, "%s%s", what, known ? "" : " not known");
    for (size_t i = 0; i < n; i++) {
        char code[6];
        oxl_dtc_text(codes[i], code);
        add(text, size, " %s", code);
    }
    add(text, size, "\n");
}

static void add_readiness(char *text, size_t size, const char *what, const struct oxl_readiness *r)
{
    add(text, size, "%s known %d lamp %d diesel %d codes %u, complete/supported:", what, r->known,
        r->mil_on, r->compression_ignition, r->stored_dtcs);
    for (int i = 0; i < OXL_MON_COUNT; i++)
        add(text, size, " %d%d", r->complete[i], r->supported[i]);
    add(text, size, "\n");
}

static void add_result(char *text, size_t size, const struct oxl_monitor_result *r)
{
    add(text, size, "  result %X form %u monitor %02X test %02X scale %02X part %02X: %u %u %u\n",
        (unsigned)r->ecu, r->form, r->monitor, r->test, r->scale, r->component, r->value, r->min,
        r->max);
}

static void add_vehicle(char *text, size_t size, const struct oxl_vehicle *v)
{
    add(text, size, "adapter \"%s\" protocol %d ECU %X of %u VIN \"%s\"\n", v->adapter,
        (int)v->protocol, (unsigned)v->ecu, v->ecus_seen, v->vin);
    add(text, size, "several PIDs %d, reply count %d, survey done %d\n", v->multi_pid,
        v->reply_count, v->survey_done);
    add(text, size,
        "layout %d %02X trims %u rear trims %u, volts from %02X, scaling %u %u %u %u %u\n",
        (int)v->decoding.layout, v->decoding.sensors, v->decoding.trims, v->decoding.rear_trims,
        v->volts_pid, v->decoding.scaling.lambda_max, v->decoding.scaling.o2_max_v,
        v->decoding.scaling.o2_max_ma, v->decoding.scaling.map_max_10kpa,
        v->decoding.scaling.air_max_10g_s);
    add_pids(text, size, "PIDs", &v->support);
    add_pids(text, size, "announced and silent", &v->silent);
    add_pids(text, size, "not announced", &v->unannounced);
    add_pids(text, size, "standing still", &v->still);
    add_readiness(text, size, "readiness", &v->readiness);
    add_codes(text, size, "stored", v->dtcs[OXL_DTC_STORED].known, v->dtcs[OXL_DTC_STORED].codes,
              v->dtcs[OXL_DTC_STORED].n);
    add_codes(text, size, "pending", v->dtcs[OXL_DTC_PENDING].known, v->dtcs[OXL_DTC_PENDING].codes,
              v->dtcs[OXL_DTC_PENDING].n);
    add_codes(text, size, "permanent", v->dtcs[OXL_DTC_PERMANENT].known,
              v->dtcs[OXL_DTC_PERMANENT].codes, v->dtcs[OXL_DTC_PERMANENT].n);
    for (size_t i = 0; i < v->results_n; i++)
        add_result(text, size, &v->results[i]);
}

void transcript_facts(char *text, size_t size, const struct oxl_poll *p, int64_t now_us)
{
    struct oxl_poll_stats s;
    struct oxl_pair pair = oxl_poll_pair(p);
    oxl_poll_stats(p, now_us, &s);
    add(text, size, "\n");
    add_vehicle(text, size, oxl_poll_vehicle(p));
    add(text, size, "front %02X kind %d, rear %02X kind %d\n", pair.front_pid, (int)pair.front_kind,
        pair.rear_pid, (int)pair.rear_kind);
    add(text, size,
        "requests %" PRIu64 " replies %" PRIu64 " timeouts %" PRIu64 " negative %" PRIu64
        " late %" PRIu64 " unproven %" PRIu64 " other %" PRIu64 "\n",
        s.requests, s.replies, s.timeouts, s.negative, s.late, s.unproven, s.other);
    add(text, size, "front %.1f Hz rear %.1f Hz, a round %.0f ms\n", s.front_hz, s.rear_hz,
        s.round_ms);
}

static void add_ecu(char *text, size_t size, const struct oxl_ecu_info *e)
{
    add(text, size, "ECU %X \"%s\"\n", (unsigned)e->ecu, e->name);
    for (size_t i = 0; i < e->calibration_n; i++)
        add(text, size, "  calibration \"%s\"\n", e->calibration[i]);
    for (size_t i = 0; i < e->verification_n; i++)
        add(text, size, "  verification %08" PRIX32 "\n", e->verification[i]);
    add_readiness(text, size, "  since cleared", &e->readiness);
    add_readiness(text, size, "  this cycle", &e->cycle);
    add_codes(text, size, "  stored", e->dtcs[OXL_DTC_STORED].known, e->dtcs[OXL_DTC_STORED].codes,
              e->dtcs[OXL_DTC_STORED].n);
    add_codes(text, size, "  pending", e->dtcs[OXL_DTC_PENDING].known,
              e->dtcs[OXL_DTC_PENDING].codes, e->dtcs[OXL_DTC_PENDING].n);
    add_codes(text, size, "  permanent", e->dtcs[OXL_DTC_PERMANENT].known,
              e->dtcs[OXL_DTC_PERMANENT].codes, e->dtcs[OXL_DTC_PERMANENT].n);
}

void transcript_onboard(char *text, size_t size, const struct oxl_onboard *o)
{
    add(text, size, "\ndone %d results known %d cut %d frame known %d of %04X\n", o->done,
        o->results_known, o->results_cut, o->frozen_known, o->freeze_frame_dtc);
    for (size_t i = 0; i < o->ecus_n; i++)
        add_ecu(text, size, &o->ecus[i]);
    for (size_t i = 0; i < o->results_n; i++)
        add_result(text, size, &o->results[i]);
    for (size_t i = 0; i < o->frozen_n; i++) {
        char name[40];
        oxl_channel_name(o->frozen[i].channel, name, sizeof name);
        add(text, size, "  frame %s %.6g of %X\n", name, o->frozen[i].value,
            (unsigned)o->frozen[i].ecu);
    }
}

void transcript_compare(const char *name, const char *text)
{
    char path[512];
    snprintf(path, sizeof path, "%s/conversations/%s.txt", OXL_TEST_DATA, name);
    accepted_compare(path, text);
}

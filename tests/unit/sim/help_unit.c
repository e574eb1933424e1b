#include "help_unit.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

void rig_quiet(struct oxl_readout *out)
{
    *out = (struct oxl_readout){.fuel_system = {0, 0}};
    for (int b = 0; b < OXL_SIM_BANKS; b++) {
        out->stft_pct[b] = out->ltft_pct[b] = out->front_v[b] = out->front_lambda[b] = NAN;
        out->front_ma[b] = out->front_wide_v[b] = out->rear_v[b] = out->rear_lambda[b] = NAN;
        out->cat_temp_c[b] = NAN;
    }
    out->air_g_s = out->map_kpa = out->rpm = out->speed_kmh = out->intake_c = NAN;
    out->coolant_c = out->throttle_pct = out->load_pct = out->run_time_s = NAN;
}

static void warm_idle(struct oxl_readout *r)
{
    rig_quiet(r);
    r->stft_pct[0] = -10.2;
    r->ltft_pct[0] = 2.4;
    r->front_v[0] = 0.452;
    r->rear_v[0] = 0.698;
    r->cat_temp_c[0] = 512.34;
    r->fuel_system[0] = 2;
    r->air_g_s = 2.874;
    r->map_kpa = 33.4;
    r->rpm = 742.3;
    r->speed_kmh = 0;
    r->intake_c = 31.4;
    r->coolant_c = 91.7;
    r->throttle_pct = 13.2;
    r->load_pct = 22.9;
    r->run_time_s = 1234.5;
}

static void readout(void *ctx, int64_t t_us, struct oxl_readout *out)
{
    struct rig *r = ctx;
    r->went_back = r->went_back || t_us < r->asked_us;
    r->asked++;
    r->asked_us = t_us;
    *out = r->readout;
}

void rig_defaults(struct rig *r)
{
    *r = (struct rig){.seed = 7};
    oxl_adapter_defaults(&r->set);
    oxl_ecu_defaults(&r->ecu);
    warm_idle(&r->readout);
    r->baud = r->set.baud;
}

void rig_open(struct rig *r)
{
    const struct oxl_adapter_hooks hooks = {r, readout};
    r->adapter = oxl_adapter_new(&r->set, &r->ecu, r->seed, &hooks);
    assert_non_null(r->adapter);
}

void rig_close(struct rig *r)
{
    oxl_adapter_free(r->adapter);
}

void rig_send(struct rig *r, const char *text)
{
    oxl_adapter_write(r->adapter, text, strlen(text), r->baud, r->t_us);
}

static void note(struct rig *r, uint8_t byte)
{
    static const char hex[] = "0123456789ABCDEF";
    char *at = r->reply + strlen(r->reply);
    assert_true((size_t)(at - r->reply) + 5 < sizeof r->reply);
    if (byte == '\r')
        *at = '|';
    else if (byte == '\n')
        *at = '/';
    else if (byte >= ' ' && byte < 0x7F)
        *at = (char)byte;
    else
        memcpy(at, (char[]){'\\', 'x', hex[byte >> 4], hex[byte & 15]}, 4);
    r->raw_len++;
}

bool rig_wait(struct rig *r, int64_t limit_us)
{
    const int64_t end_us = r->t_us + limit_us;
    memset(r->reply, 0, sizeof r->reply);
    r->raw_len = 0;
    for (;;) {
        int64_t due_us = oxl_adapter_due_us(r->adapter);
        uint8_t byte;
        if (due_us > end_us) {
            r->t_us = end_us;
            return false;
        }
        if (due_us > r->t_us)
            r->t_us = due_us;
        while (oxl_adapter_read(r->adapter, &byte, 1, r->t_us) == 1) {
            if (r->raw_len == 0)
                r->first_us = r->t_us;
            note(r, byte);
            if (byte == '>')
                return true;
        }
    }
}

const char *rig_ask(struct rig *r, const char *text)
{
    rig_send(r, text);
    rig_send(r, "\r");
    rig_wait(r, 10000000);
    return r->reply;
}

void rig_ready(struct rig *r)
{
    rig_open(r);
    rig_ask(r, "ATE0");
    rig_ask(r, "ATL0");
    rig_ask(r, "ATS0");
    assert_string_equal(rig_ask(r, "ATH1"), "OK||>");
    rig_ask(r, "0100");
}

size_t hex_bytes(const char *hex, uint8_t *out, size_t max)
{
    size_t n = 0;
    for (; n < max && hex[0] && hex[1]; n++, hex += 2) {
        unsigned v;
        if (sscanf(hex, "%2x", &v) != 1)
            break;
        out[n] = (uint8_t)v;
    }
    return n;
}

const char *unit_hex(const struct oxl_ecu_settings *u, const struct oxl_readout *r, bool can,
                     const char *request)
{
    static char text[12 * 160];
    struct oxl_ecu_answer ans[12];
    uint8_t req[16];
    size_t len = hex_bytes(request, req, sizeof req);
    size_t n = oxl_ecu_answers(u, r, can, req, len, ans, 12);
    size_t at = 0;
    text[0] = '\0';
    for (size_t i = 0; i < n; i++) {
        at += (size_t)snprintf(text + at, sizeof text - at, "%s", i > 0 ? "," : "");
        if (ans[i].ecu != (can ? 0x7E8U : 0x10U))
            at += (size_t)snprintf(text + at, sizeof text - at, "%X:", (unsigned)ans[i].ecu);
        for (size_t k = 0; k < ans[i].len; k++)
            at += (size_t)snprintf(text + at, sizeof text - at, "%02X", ans[i].data[k]);
    }
    return text;
}

/* ---- capture: classic pcap, link type 227 (SocketCAN) ---- */

struct capture {
    FILE *f;
    uint32_t frames;
};

struct capture *capture_open(const char *path)
{
    static const uint8_t head[24] = {0xD4, 0xC3, 0xB2, 0xA1, 2,    0,    4, 0, 0,    0, 0, 0,
                                     0,    0,    0,    0,    0xFF, 0xFF, 0, 0, 0xE3, 0, 0, 0};
    struct capture *c = calloc(1, sizeof *c);
    assert_non_null(c);
    c->f = fopen(path, "wb");
    assert_non_null(c->f);
    fwrite(head, 1, sizeof head, c->f);
    return c;
}

static void put_u32(FILE *f, uint32_t v)
{
    for (int i = 0; i < 32; i += 8)
        fputc((int)(v >> i & 0xFF), f);
}

static void put_frame(struct capture *c, uint32_t raw_id, const uint8_t data[8])
{
    put_u32(c->f, c->frames / 1000);
    put_u32(c->f, c->frames % 1000 * 1000);
    put_u32(c->f, 16);
    put_u32(c->f, 16);
    for (int i = 24; i >= 0; i -= 8)
        fputc((int)(raw_id >> i & 0xFF), c->f);
    fwrite((uint8_t[]){8, 0, 0, 0}, 1, 4, c->f);
    fwrite(data, 1, 8, c->f);
    c->frames++;
}

size_t capture_reply(struct capture *c, const char *reply)
{
    size_t frames = 0;
    while (*reply) {
        size_t n = strcspn(reply, "|>");
        size_t id_digits = n - 16;
        if (n == 19 || n == 24) {
            uint8_t data[8];
            char id[9] = "";
            memcpy(id, reply, id_digits);
            uint32_t raw = (uint32_t)strtoul(id, NULL, 16) | (id_digits == 8 ? 0x80000000U : 0);
            assert_int_equal(hex_bytes(reply + id_digits, data, 8), 8);
            put_frame(c, raw, data);
            frames++;
        }
        reply += n;
        reply += *reply != '\0';
    }
    return frames;
}

void capture_close(struct capture *c)
{
    assert_int_equal(fclose(c->f), 0);
    free(c);
}

size_t tshark_rows(const char *path, const char *dissector, const char *fields, char rows[][256],
                   size_t max)
{
    char command[2048];
    snprintf(command, sizeof command,
             "LC_ALL=C.UTF-8 tshark -n -r %s -d can.subdissector,iso15765 "
             "-d iso15765.subdissector,%s -T fields -E separator=/t -E occurrence=a "
             "-E 'aggregator=|' %s 2>/dev/null",
             path, dissector, fields);
    FILE *p = popen(command, "r");
    assert_non_null(p);
    size_t n = 0;
    while (n < max && fgets(rows[n], 256, p)) {
        rows[n][strcspn(rows[n], "\n")] = '\0';
        n++;
    }
    if (pclose(p) != 0)
        fail_msg("tshark failed or is not installed (package tshark)");
    return n;
}

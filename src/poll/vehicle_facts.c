/* What the vehicle is: which sensors, scales, readiness, trouble codes and VIN it has. The steps of
 * the survey that ask for it, and what others have found. */
#include "poll_parts.h"

#include <stdio.h>
#include <string.h>

enum {
    ODD_HABIT = 5, /* inexact answers in a row that are a habit of the vehicle, not damage */
    VIN_MS = 2000
};

void oxl_poll_vehicle_forget(struct oxl_poll *p)
{
    struct oxl_vehicle fresh = {0};
    memcpy(fresh.adapter, p->vehicle.adapter, sizeof fresh.adapter);
    p->vehicle = fresh;
    p->facts.exact = false;
    p->facts.inexact = p->facts.odd_trims = 0;
}

void oxl_poll_vehicle_adapter(struct oxl_poll *p, const char *name)
{
    snprintf(p->vehicle.adapter, sizeof p->vehicle.adapter, "%s", name);
}

void oxl_poll_vehicle_protocol(struct oxl_poll *p, enum oxl_protocol protocol)
{
    p->vehicle.protocol = protocol;
}

bool oxl_poll_is_can(const struct oxl_poll *p)
{
    return oxl_protocol_is_can(p->vehicle.protocol);
}

void oxl_poll_vehicle_ecu(struct oxl_poll *p, const struct oxl_poll_ecu *ecu)
{
    p->vehicle.ecu = ecu->id;
    p->vehicle.support = ecu->support;
    p->vehicle.ecus_seen = p->ecus.n;
}

void oxl_poll_vehicle_pair(struct oxl_poll *p)
{
    p->pair = oxl_vehicle_pair(&p->vehicle, p->config.bank);
}

void oxl_poll_vehicle_can(struct oxl_poll *p, bool reply_count, bool multi_pid)
{
    p->vehicle.reply_count = reply_count;
    p->vehicle.multi_pid = multi_pid;
}

void oxl_poll_vehicle_surveyed(struct oxl_poll *p)
{
    p->vehicle.survey_done = true;
}

void oxl_poll_vehicle_answers(struct oxl_poll *p, uint8_t pid)
{
    struct oxl_vehicle *v = &p->vehicle;
    if (!oxl_supports(&v->support, pid) && !oxl_poll_announced(p, pid))
        oxl_support_put(&v->unannounced, pid, true);
    oxl_support_put(&v->support, pid, true);
    oxl_support_put(&v->silent, pid, false);
}

void oxl_poll_vehicle_silent(struct oxl_poll *p, uint8_t pid)
{
    oxl_support_put(&p->vehicle.support, pid, false);
    oxl_support_put(&p->vehicle.silent, pid, true);
}

void oxl_poll_vehicle_still(struct oxl_poll *p, uint8_t pid, bool volts)
{
    oxl_support_put(&p->vehicle.still, pid, true);
    if (volts)
        p->vehicle.volts_pid = pid;
}

void oxl_poll_vehicle_moves(struct oxl_poll *p)
{
    memset(&p->vehicle.still, 0, sizeof p->vehicle.still);
    p->vehicle.volts_pid = 0;
}

/* Trims of another length than was seen first: seen anew when that is no accident. */
static void watch_trims(struct oxl_poll *p, const struct oxl_message *m, bool exact)
{
    const struct oxl_poll_request *r = &p->request;
    bool trims = false;
    for (unsigned i = 0; i < r->n; i++)
        trims = trims || (r->pids[i] >= 0x06 && r->pids[i] <= 0x09) ||
                (r->pids[i] >= 0x55 && r->pids[i] <= 0x58);
    if (!trims)
        return;
    p->facts.odd_trims = exact ? 0 : p->facts.odd_trims + 1;
    if (p->facts.odd_trims == ODD_HABIT)
        p->vehicle.decoding.trims = p->vehicle.decoding.rear_trims = OXL_TRIMS_UNSEEN;
    if (exact)
        oxl_learn_trims(&p->vehicle.decoding, m, r->pids, r->n);
}

bool oxl_poll_vehicle_is_sound(struct oxl_poll *p, const struct oxl_message *m, bool exact)
{
    watch_trims(p, m, exact);
    if (exact) {
        p->facts.exact = true;
        p->facts.inexact = 0;
        return true;
    }
    if (p->facts.exact && ++p->facts.inexact >= ODD_HABIT)
        p->facts.exact = false;
    return !p->facts.exact;
}

/* ---- single PIDs ---- */

static bool ask_supported(struct oxl_poll *p, uint8_t pid, int64_t t_us)
{
    return oxl_supports(&p->vehicle.support, pid) && oxl_poll_ask_pid(p, pid, t_us);
}

static bool layout_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_supported(p, 0x13, t_us) || ask_supported(p, 0x1D, t_us);
}

static void layout_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = oxl_poll_pid_data(p, m, 1);
    if (!data)
        return;
    p->vehicle.decoding.layout = p->request.pids[0] == 0x13 ? OXL_LAYOUT_13 : OXL_LAYOUT_1D;
    p->vehicle.decoding.sensors = data[0];
}

/* PIDs 4F and 50, SAE J1979 / ISO 15031-5: full scales; 0 keeps the published step. */
static void scale_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_scaling *s = &p->vehicle.decoding.scaling;
    const uint8_t *data = oxl_poll_pid_data(p, m, 4);
    if (!data)
        return;
    s->lambda_max = data[0];
    s->o2_max_v = data[1];
    s->o2_max_ma = data[2];
    s->map_max_10kpa = data[3];
}

static void air_scale_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = oxl_poll_pid_data(p, m, 4);
    if (data)
        p->vehicle.decoding.scaling.air_max_10g_s = data[0];
}

static void readiness_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = oxl_poll_pid_data(p, m, 4);
    oxl_poll_ecu_readiness(p, m);
    if (data && m->ecu == p->vehicle.ecu)
        (void)oxl_decode_readiness(data, &p->vehicle.readiness);
}

/* ---- trouble codes ---- */

static void dtcs_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_dtc_list *list = oxl_dtc_list_of(p->vehicle.dtcs, p->request.service);
    oxl_poll_ecu_dtcs(p, m);
    if (oxl_decode_dtcs(m, oxl_poll_is_can(p), list->codes, &list->n, OXL_MAX_DTCS))
        list->known = list->known || m->ecu == p->vehicle.ecu || list->n > 0;
}

/* Permanent trouble codes came with CAN (about 2010). */
static bool permanent_begin(struct oxl_poll *p, int64_t t_us)
{
    return oxl_poll_is_can(p) && oxl_poll_ask_plain(p, 0x0A, NULL, 0, t_us);
}

/* Another ECU's trouble codes may concern the test as much; nothing waits for them. */
void oxl_poll_vehicle_other(struct oxl_poll *p, const struct oxl_message *m)
{
    if (oxl_dtc_list_of(p->vehicle.dtcs, p->request.service))
        dtcs_answer(p, m);
}

/* ---- VIN ---- */

/* 20 bytes on CAN are three frames; on K-line and J1850 it takes five messages. */
static bool ask_vin(struct oxl_poll *p, int64_t t_us)
{
    static const uint8_t pid = 0x02;
    if (p->config.no_identity)
        return false;
    unsigned frames = oxl_poll_is_can(p) ? 3 : 5;
    p->facts.vin_parts = 0;
    p->facts.vin[0] = '\0';
    bool counted = p->ecus.n == 1 && p->abilities.count_multi_frame;
    oxl_poll_request(p, 0x09, &pid, 1, counted ? oxl_poll_digit(p, frames) : 0, VIN_MS, t_us);
    return true;
}

static void hear_vin(struct oxl_poll *p, const struct oxl_message *m)
{
    (void)oxl_decode_vin(m, oxl_poll_is_can(p), p->facts.vin, &p->facts.vin_parts);
}

static bool keep_vin(struct oxl_poll *p, int64_t t_us)
{
    enum { WHOLE = 17 };
    (void)t_us;
    if (strlen(p->facts.vin) == WHOLE)
        memcpy(p->vehicle.vin, p->facts.vin, sizeof p->vehicle.vin);
    return true;
}

/* ---- results of monitors ---- */

void oxl_poll_vehicle_results_forget(struct oxl_poll *p)
{
    p->vehicle.results_n = 0;
    p->vehicle.results_known = false;
}

void oxl_poll_vehicle_result(struct oxl_poll *p, const struct oxl_monitor_result *r)
{
    struct oxl_vehicle *v = &p->vehicle;
    bool ours = oxl_monitor_is_catalyst(r->monitor) || oxl_monitor_is_sensor(r->monitor);
    if (!ours || r->ecu != v->ecu)
        return;
    v->results_known = true;
    (void)oxl_poll_list_result(v->results, &v->results_n, OXL_KEPT_RESULTS, r);
}

const struct oxl_poll_step oxl_poll_layout_step = {.begin = layout_begin, .answer = layout_answer};
const struct oxl_poll_step oxl_poll_scale_step = {
    .service = 0x01, .pid = 0x4F, .answer = scale_answer};
const struct oxl_poll_step oxl_poll_air_scale_step = {
    .service = 0x01, .pid = 0x50, .answer = air_scale_answer};
const struct oxl_poll_step oxl_poll_readiness_step = {
    .service = 0x01, .pid = 0x01, .answer = readiness_answer, .all_ecus = true};
const struct oxl_poll_step oxl_poll_stored_step = {
    .service = 0x03, .answer = dtcs_answer, .all_ecus = true};
const struct oxl_poll_step oxl_poll_pending_step = {
    .service = 0x07, .answer = dtcs_answer, .all_ecus = true};
const struct oxl_poll_step oxl_poll_permanent_step = {
    .begin = permanent_begin, .answer = dtcs_answer, .all_ecus = true};
const struct oxl_poll_step oxl_poll_vin_step = {
    .begin = ask_vin, .answer = hear_vin, .finish = keep_vin};

/* Which facts an inspection shows, section by section. What each line says is the grade room's. */
#include <string.h>

#include "inspect.h"
#include "oxylag/grade.h"

enum { FEW_TRIMS = 4 }; /* readings that must have come before "it did not move" says anything */

static void section(struct oxl_inspection *v, const char *title)
{
    if (v->sections_n == OXL_INSPECT_SECTIONS)
        return;
    v->sections[v->sections_n].title = title;
    v->sections[v->sections_n++].first = v->checks_n;
}

static void line(struct oxl_inspection *v, struct oxl_check c)
{
    if (c.grade > v->worst)
        v->worst = c.grade;
    if (v->checks_n < OXL_INSPECT_CHECKS)
        v->checks[v->checks_n++] = c;
}

static void vehicle(struct oxl_inspection *v, const struct oxl_grade_facts *f)
{
    section(v, "Link and vehicle");
    line(v, oxl_grade_link(f));
    line(v, oxl_grade_rate(v->front_hz, v->rear_hz));
    line(v, oxl_grade_refresh(&v->front_refresh, &v->rear_refresh, &v->trim_refresh));
    line(v, oxl_grade_identity(f));
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        line(v, oxl_grade_ecu(f, &v->onboard.ecus[i]));
}

static void sensors_and_air(struct oxl_inspection *v, const struct oxl_grade_facts *f)
{
    static const char *const ids[] = {"sensors-bank-1", "sensors-bank-2"};
    section(v, "Sensors and air");
    line(v, oxl_grade_layout(f));
    for (unsigned bank = 1; bank <= 2; bank++) {
        const struct oxl_pair *p = &v->pair[bank - 1];
        if (bank == v->bank || p->front_kind != OXL_SENSOR_NONE || p->rear_kind != OXL_SENSOR_NONE)
            line(v, oxl_grade_sensors(ids[bank - 1], f, bank, p));
    }
    struct oxl_check pids = oxl_grade_pids(f->vehicle);
    if (pids.id[0])
        line(v, pids);
    line(v, oxl_grade_air(f));
}

/* A line for each code of each ECU; where there is none, the one that says so. */
static void codes_of(struct oxl_inspection *v, const struct oxl_grade_facts *f,
                     enum oxl_dtc_kind kind)
{
    size_t n = 0;
    bool known = false;
    for (size_t u = 0; u < v->onboard.ecus_n; u++) {
        const struct oxl_dtc_list *list = &v->onboard.ecus[u].dtcs[kind];
        known = known || list->n > 0 || (list->known && v->onboard.ecus[u].ecu == v->vehicle.ecu);
        for (size_t i = 0; i < list->n; i++, n++) {
            struct oxl_check c = oxl_grade_dtc(f, v->onboard.ecus[u].ecu, list->codes[i], kind);
            v->code_unknown = v->code_unknown || c.grade == OXL_GRADE_UNKNOWN;
            line(v, c);
        }
    }
    if (n == 0)
        line(v, oxl_grade_dtcs(f, NULL, 0, known, kind));
}

static void codes(struct oxl_inspection *v, const struct oxl_grade_facts *f)
{
    section(v, "Trouble codes");
    codes_of(v, f, OXL_DTC_STORED);
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        if (!oxl_dtc_count_agrees(&v->onboard.ecus[i]))
            line(v, oxl_grade_dtc_count(&v->onboard.ecus[i]));
    codes_of(v, f, OXL_DTC_PENDING);
    codes_of(v, f, OXL_DTC_PERMANENT);
}

static void readiness(struct oxl_inspection *v)
{
    const struct oxl_readiness *r = &v->vehicle.readiness;
    section(v, "Readiness");
    if (!r->known) {
        line(v, oxl_grade_readiness(r));
        return;
    }
    line(v, oxl_grade_lamp(r));
    line(v, oxl_grade_ignition(r));
    if (r->compression_ignition)
        return;
    for (unsigned i = 0; i < OXL_GRADED_MONITORS; i++)
        line(v, oxl_grade_ready(r, i));
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        if (v->onboard.ecus[i].ecu == v->vehicle.ecu)
            line(v, oxl_grade_this_cycle(&v->onboard.ecus[i].cycle));
}

static bool has_catalyst(const struct oxl_inspection *v)
{
    const struct oxl_onboard *o = &v->onboard;
    for (size_t i = 0; i < o->results_n; i++)
        if (oxl_monitor_is_catalyst(o->results[i].monitor) &&
            oxl_monitor_bank(o->results[i].monitor) == v->bank)
            return true;
    return false;
}

static void monitors(struct oxl_inspection *v, const struct oxl_grade_facts *f)
{
    const struct oxl_onboard *o = &v->onboard;
    section(v, "The vehicle's own monitor results");
    if (!o->results_known && o->results_n == 0) {
        line(v, oxl_grade_no_results());
        return;
    }
    if (oxl_protocol_is_can(v->vehicle.protocol) && !has_catalyst(v))
        line(v, oxl_grade_no_catalyst_result(v->bank));
    for (size_t i = 0; i < o->results_n; i++)
        if (oxl_monitor_bears(&o->results[i]) ||
            oxl_monitor_verdict(&o->results[i]) == OXL_MONITOR_FAILED)
            line(v, oxl_grade_monitor(f, &o->results[i]));
    if (o->results_cut)
        line(v, oxl_grade_results_cut());
}

static double second_system(const struct oxl_inspection *v)
{
    return oxl_inspection_reading(v, oxl_channel(OXL_Q_FUEL_SYSTEM, 2, 0));
}

/* The same where it controls a bank. */
static double second_used(const struct oxl_inspection *v)
{
    return oxl_second_system(oxl_inspection_reading(v, oxl_channel(OXL_Q_FUEL_SYSTEM, 1, 0)),
                             second_system(v));
}

static double reading(const struct oxl_inspection *v, enum oxl_quantity q)
{
    return oxl_inspection_reading(v, oxl_bank_channel(q, v->bank, second_used(v)));
}

static void gates(struct oxl_inspection *v, const struct oxl_grade_facts *f)
{
    for (unsigned g = 0; g < OXL_GATE_TRIMS; g++) {
        double value = reading(v, oxl_gate_quantity((enum oxl_gate)g));
        struct oxl_check c = oxl_grade_gate(f, (enum oxl_gate)g, value);
        if (g == OXL_GATE_ENGINE) /* programs know it by that name since it was another judgement */
            memcpy(c.id, "engine", sizeof "engine");
        line(v, c);
    }
    if (oxl_known(second_system(v))) /* most engines have none */
        line(v, oxl_grade_second_loop(second_system(v), v->bank == 2 && oxl_known(second_used(v))));
}

static void trims(struct oxl_inspection *v, const struct oxl_grade_facts *f)
{
    double stft = reading(v, OXL_Q_STFT_PCT), ltft = reading(v, OXL_Q_LTFT_PCT);
    line(v, oxl_grade_trims(f, stft, ltft));
    if (!oxl_known(stft))
        return;
    if (v->trims_seen >= FEW_TRIMS && !v->trim_moved)
        line(v, oxl_grade_frozen_trim(oxl_loop_closed(reading(v, OXL_Q_FUEL_SYSTEM)),
                                      v->pair[v->bank - 1].front_kind));
    line(v, oxl_grade_trim_room(oxl_total_trim_of(stft, ltft), f->profile));
}

void oxl_inspect_lines(struct oxl_inspection *v, const struct oxl_session_config *config)
{
    const struct oxl_grade_facts f = {.bank = v->bank,
                                      .vehicle = &v->vehicle,
                                      .profile = &config->profile,
                                      .pair = v->pair[v->bank - 1],
                                      .no_identity = config->no_identity};
    vehicle(v, &f);
    sensors_and_air(v, &f);
    codes(v, &f);
    readiness(v);
    monitors(v, &f);
    section(v, "Freeze frame");
    line(v, oxl_grade_freeze_frame(&v->onboard));
    section(v, "Engine now");
    gates(v, &f);
    trims(v, &f);
    /* That a value is missing keeps nobody from a test; a trouble code may. */
    if (v->worst == OXL_GRADE_PASS && v->code_unknown)
        v->worst = OXL_GRADE_UNKNOWN;
}

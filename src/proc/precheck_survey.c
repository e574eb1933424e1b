/* The pre-check's lines about what was asked once (graded in the grade room), and the profile that
 * follows from it. */
#include "proc.h"

#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"

/* A table says by its rows how fast the link was. */
static bool fast_link(const struct oxl_proc *p)
{
    const int64_t fast_us = 250000;
    return p->imported ? p->row_us <= fast_us : oxl_protocol_is_can(p->vehicle->protocol);
}

static const char *fitting_profile(const struct oxl_proc *p)
{
    return oxl_profile_choose(
        p->pair.front_kind == OXL_SENSOR_WIDE ? OXL_WANT_WIDE : OXL_WANT_SWITCHING,
        oxl_grade_air_kind(p->vehicle), fast_link(p) ? OXL_LINK_CAN : OXL_LINK_KLINE);
}

static void choose_profile(struct oxl_proc *p)
{
    struct oxl_event ev = {.kind = OXL_EV_PROFILE, .t_us = p->now_us};
    if (p->profile_given) {
        snprintf(ev.u.profile.why, sizeof ev.u.profile.why, "chosen by the technician");
    } else {
        const char *name = fitting_profile(p);
        for (size_t i = 0; i < oxl_profile_builtin_count() && !p->profile_fixed; i++)
            if (strcmp(oxl_profile_builtin_name(i), name) == 0) {
                struct oxl_profile chosen;
                oxl_profile_defaults(&chosen);
                if (oxl_profile_parse(oxl_profile_builtin_text(i), name, &chosen, NULL) == OXL_OK)
                    oxl_proc_use_profile(p, &chosen);
            }
        snprintf(ev.u.profile.why, sizeof ev.u.profile.why, "chosen by what the vehicle supports");
    }
    snprintf(ev.u.profile.name, sizeof ev.u.profile.name, "%s", p->profile.name);
    ev.u.profile.profile = &p->profile;
    p->emit(p->ctx, &ev);
}

static void say(struct oxl_proc *p, struct oxl_check c)
{
    oxl_precheck_say(p, &c);
}

void oxl_precheck_say_refresh(struct oxl_proc *p)
{
    if (p->imported) /* its rows are graded instead */
        return;
    oxl_refreshes_find(&p->refreshes, p);
    say(p, oxl_grade_refresh(&p->refreshes.front, &p->refreshes.rear, &p->refreshes.trim));
}

static void say_codes(struct oxl_proc *p, const struct oxl_grade_facts *f, enum oxl_dtc_kind kind)
{
    const struct oxl_dtc_list *list = &p->vehicle->dtcs[kind];
    struct oxl_check c = oxl_grade_dtcs(f, list->codes, list->n, list->known, kind);
    oxl_precheck_say(p, &c);
    if (list->known)
        oxl_kept_reasons_are(p, oxl_dtc_reasons(f, list->codes, list->n, kind), true);
    if (c.grade == OXL_GRADE_STOP && !p->imported)
        oxl_precheck_hold(p, &c);
}

static void say_vehicle(struct oxl_proc *p, const struct oxl_grade_facts *f)
{
    if (p->imported) {
        say(p, oxl_grade_table(p->row_us, p->resampled));
    } else {
        say(p, oxl_grade_link(f));
        say(p, oxl_grade_identity(f));
    }
    say(p, oxl_grade_sensors("sensors", f, p->bank, &p->pair));
    struct oxl_check pids = oxl_grade_pids(f->vehicle);
    if (pids.id[0])
        oxl_precheck_say(p, &pids);
    say(p, oxl_grade_air(f));
}

/* Of a sensor a failed one only: that it passed its own test proves little of its delay. */
static void say_monitors(struct oxl_proc *p, const struct oxl_grade_facts *f)
{
    for (unsigned what = OXL_MONITORED_FRONT; what <= OXL_MONITORED_REAR; what++) {
        struct oxl_check c = oxl_grade_monitored(f, (enum oxl_monitored)what);
        if (c.grade == OXL_GRADE_CAUTION)
            oxl_precheck_say(p, &c);
    }
    say(p, oxl_grade_monitored(f, OXL_MONITORED_CATALYST));
}

/* No front, or no rear: why, and what is left to do. */
static void refuse_sensor(struct oxl_proc *p, const char *which, unsigned sensor)
{
    char silent[16] = "";
    uint8_t pids[OXL_SENSOR_FORMS];
    unsigned n = oxl_sensor_forms(&p->vehicle->decoding, p->bank, sensor, pids);
    for (unsigned i = 0; i < n; i++)
        if (oxl_supports(&p->vehicle->silent, pids[i]))
            oxl_append(silent, sizeof silent, " %02X", pids[i]);
    if (silent[0])
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "Bank %u has no %s sensor that answers (announced:%s). See its wiring and "
                      "trouble codes: \"oxylag inspect\".",
                      p->bank, which, silent);
    else
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "Bank %u has no %s sensor that the vehicle reports: this test cannot be "
                      "done. See its own monitors: \"oxylag inspect\".",
                      p->bank, which);
}

/* Ends the test where the vehicle cannot be tested this way, and no override. */
static void refuse_unfit(struct oxl_proc *p)
{
    struct oxl_check ignition = oxl_grade_ignition(&p->vehicle->readiness);
    const uint8_t stft = oxl_gate_pid(OXL_GATE_TRIMS, p->bank);
    if (ignition.grade == OXL_GRADE_STOP) {
        oxl_precheck_say(p, &ignition);
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "Compression ignition: this test is for engines with spark ignition and a "
                      "three-way converter. Add no gas.");
    } else if (p->pair.front_kind == OXL_SENSOR_NONE) {
        refuse_sensor(p, "front", 1);
    } else if (p->pair.rear_kind == OXL_SENSOR_NONE) {
        refuse_sensor(p, "rear", 2);
    } else if (!p->imported && !oxl_supports(&p->vehicle->support, stft)) {
        oxl_proc_stop(
            p, OXL_ERR_UNSUITABLE,
            "Bank %u has no short-term fuel trim that answers (PID %02X): this test cannot "
            "be done. See its own monitors: \"oxylag inspect\".",
            p->bank, stft);
    }
}

void oxl_precheck_sensors(struct oxl_proc *p)
{
    const struct oxl_grade_facts f = oxl_precheck_facts(p);
    if (!p->profile_given && strcmp(p->profile.name, fitting_profile(p)) != 0)
        choose_profile(p);
    say_vehicle(p, &f);
    refuse_unfit(p);
}

void oxl_precheck_survey(struct oxl_proc *p)
{
    choose_profile(p);
    const struct oxl_vehicle *v = p->vehicle;
    const struct oxl_grade_facts f = oxl_precheck_facts(p);
    say_vehicle(p, &f);
    for (unsigned kind = 0; kind < OXL_DTC_KINDS; kind++)
        say_codes(p, &f, (enum oxl_dtc_kind)kind);
    say(p, oxl_grade_readiness(&v->readiness));
    say_monitors(p, &f);
    oxl_engine_say_hybrid(p, NAN);
    refuse_unfit(p);
}

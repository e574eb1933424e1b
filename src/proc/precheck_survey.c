/* The pre-check's lines about what was asked once: codes, identity, readiness, sensors, air; and
 * the profile that follows from them. */
#include "proc.h"

#include <stdio.h>
#include <string.h>

static void list_codes(const uint16_t *codes, size_t n, char *out, size_t size)
{
    size_t len = 0;
    out[0] = '\0';
    for (size_t i = 0; i < n && len + 8 < size; i++) {
        char text[6];
        oxl_dtc_text(codes[i], text);
        len += (size_t)snprintf(out + len, size - len, "%s%s", i ? " " : "", text);
    }
}

/* Permanent codes stay until the ECU has proved the repair: they speak of the past. */
static void check_codes(struct oxl_proc *p, const char *id, bool known, const uint16_t *codes,
                        size_t n)
{
    bool may_count = strcmp(id, "codes-permanent") != 0;
    char found[96];
    int len = snprintf(found, sizeof found, "%s codes: ", strchr(id, '-') + 1);
    if (!known) {
        snprintf(found + len, sizeof found - (size_t)len, "%s",
                 p->imported ? "not in the table" : "not known, no answer");
        oxl_proc_check(p, id, OXL_GRADE_UNKNOWN, found, "");
        return;
    }
    bool disturbs = false, stored = strcmp(id, "codes-stored") == 0;
    enum oxl_grade grade = OXL_GRADE_PASS;
    const char *advice = "";
    for (size_t i = 0; i < n; i++) {
        struct oxl_dtc_meaning m = oxl_dtc_meaning(codes[i], p->bank);
        disturbs = disturbs || m.disturbs;
        if (m.disturbs && grade != OXL_GRADE_STOP)
            grade = stored ? m.grade : OXL_GRADE_CAUTION;
        /* What has a direction of its own is said before the rest. */
        if (m.disturbs && (!advice[0] || m.reason != OXL_R_COUNT))
            advice = m.advice;
        if (m.reason != OXL_R_COUNT && may_count)
            oxl_kept_reason(p, m.reason);
    }
    if (n == 0)
        snprintf(found + len, sizeof found - (size_t)len, "none");
    else
        list_codes(codes, n, found + len, sizeof found - (size_t)len);
    if (disturbs)
        oxl_kept_reason(p, OXL_R_CODES_PRESENT);
    oxl_proc_check(p, id, grade, found, advice);
    if (grade == OXL_GRADE_STOP && !p->imported)
        oxl_precheck_hold(p, id, advice);
}

static void check_table(struct oxl_proc *p)
{
    char found[96];
    snprintf(found, sizeof found, "imported table, rows %.0f ms apart%s", (double)p->row_us / 1e3,
             p->resampled ? ", interpolated" : "");
    oxl_proc_check(p, "imported", OXL_GRADE_CAUTION, found,
                   "Not timed by this program: no figure is finer than the step.");
}

static void check_identity(struct oxl_proc *p)
{
    const struct oxl_vehicle *v = p->vehicle;
    char found[96];
    if (p->imported) {
        check_table(p);
        return;
    }
    snprintf(found, sizeof found, "%s, unit %X of %u", oxl_protocol_name(v->protocol),
             (unsigned)v->ecu, v->ecus_seen);
    oxl_proc_check(p, "link", OXL_GRADE_PASS, found, "");
    if (p->no_identity)
        oxl_proc_check(p, "identity", OXL_GRADE_UNKNOWN, "masked: the number was not asked for",
                       "Write it on the repair order by hand.");
    else if (!v->vin[0])
        oxl_proc_check(p, "identity", OXL_GRADE_UNKNOWN, "the vehicle gives no number",
                       "Write it on the repair order by hand.");
    else
        oxl_proc_check(p, "identity",
                       oxl_vin_check_digit(v->vin) ? OXL_GRADE_PASS : OXL_GRADE_UNKNOWN,
                       "vehicle number read", "");
}

static void check_readiness(struct oxl_proc *p)
{
    const struct oxl_readiness *r = &p->vehicle->readiness;
    if (!r->known) {
        oxl_proc_check(p, "readiness", OXL_GRADE_UNKNOWN, "not known", "");
        return;
    }
    bool sensor = !r->supported[OXL_MON_O2_SENSOR] || r->complete[OXL_MON_O2_SENSOR];
    bool heater = !r->supported[OXL_MON_O2_HEATER] || r->complete[OXL_MON_O2_HEATER];
    char found[96];
    snprintf(found, sizeof found, "sensor monitor %s, heater monitor %s, catalyst monitor %s",
             sensor ? "complete" : "not complete", heater ? "complete" : "not complete",
             r->complete[OXL_MON_CATALYST] ? "complete" : "not complete");
    oxl_proc_check(p, "readiness", sensor && heater ? OXL_GRADE_PASS : OXL_GRADE_CAUTION, found,
                   sensor && heater ? "" : "Prove the sensors by hand: rich and lean both seen.");
}

static bool check_sensors(struct oxl_proc *p)
{
    char found[96];
    bool have = p->pair.front_kind != OXL_SENSOR_NONE && p->pair.rear_kind != OXL_SENSOR_NONE;
    snprintf(found, sizeof found, "bank %u: front %s, rear %s", p->bank,
             oxl_sensor_kind_name(p->pair.front_kind), oxl_sensor_kind_name(p->pair.rear_kind));
    oxl_proc_check(p, "sensors", have ? OXL_GRADE_PASS : OXL_GRADE_STOP, found,
                   have ? "" : "This bank cannot be tested: it needs a front and a rear sensor.");
    return have;
}

/* Propane in the intake of such an engine burns by itself: no test, and no override. */
static bool ignites_by_compression(struct oxl_proc *p)
{
    const struct oxl_readiness *r = &p->vehicle->readiness;
    if (!r->known || !r->compression_ignition)
        return false;
    oxl_proc_check(p, "ignition", OXL_GRADE_STOP, "compression ignition",
                   "This test is for spark ignition: add no gas.");
    return true;
}

static enum oxl_air_want air_of(const struct oxl_vehicle *v)
{
    if (oxl_supports(&v->support, 0x10) || oxl_supports(&v->support, 0x66))
        return OXL_AIR_METER;
    return oxl_supports(&v->support, 0x0B) ? OXL_AIR_SPEED_DENSITY : OXL_AIR_NONE;
}

static void check_air(struct oxl_proc *p)
{
    enum oxl_air_want air = air_of(p->vehicle);
    if (air == OXL_AIR_METER)
        oxl_proc_check(p, "air", OXL_GRADE_PASS, "air meter", "");
    else if (air == OXL_AIR_SPEED_DENSITY && oxl_known(p->profile.displacement_l))
        oxl_proc_check(p, "air", OXL_GRADE_PASS, "from manifold pressure and displacement", "");
    else if (air == OXL_AIR_SPEED_DENSITY)
        oxl_proc_check(p, "air", OXL_GRADE_CAUTION, "manifold pressure, displacement not known",
                       "Give displacement_l in a profile to get grams of oxygen.");
    else
        oxl_proc_check(p, "air", OXL_GRADE_CAUTION, "no air flow can be known",
                       "Seconds only; no grams of oxygen.");
}

/* A table says by its rows how quick the link was. */
static bool quick_link(const struct oxl_proc *p)
{
    const int64_t quick_us = 250000;
    return p->imported ? p->row_us <= quick_us : oxl_protocol_is_can(p->vehicle->protocol);
}

static void choose_profile(struct oxl_proc *p)
{
    struct oxl_event ev = {.kind = OXL_EV_PROFILE, .t_us = p->now_us};
    if (p->profile_given) {
        snprintf(ev.u.profile.why, sizeof ev.u.profile.why, "chosen by the technician");
    } else {
        const char *name = oxl_profile_choose(
            p->pair.front_kind == OXL_SENSOR_WIDE ? OXL_WANT_WIDE : OXL_WANT_SWITCHING,
            air_of(p->vehicle), quick_link(p) ? OXL_LINK_CAN : OXL_LINK_KLINE);
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

void oxl_precheck_survey(struct oxl_proc *p)
{
    choose_profile(p);
    check_identity(p);
    bool fit = check_sensors(p);
    check_air(p);
    const struct oxl_vehicle *v = p->vehicle;
    check_codes(p, "codes-stored", v->stored_known, v->stored, v->stored_n);
    check_codes(p, "codes-pending", v->pending_known, v->pending, v->pending_n);
    check_codes(p, "codes-permanent", v->permanent_known, v->permanent, v->permanent_n);
    check_readiness(p);
    oxl_precheck_monitors(p);
    if (ignites_by_compression(p))
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "Compression ignition: this test is for engines with spark ignition and a "
                      "three-way converter. Add no gas.");
    else if (!fit)
        oxl_proc_stop(
            p, OXL_ERR_UNSUITABLE,
            "Bank %u has no %s sensor that the vehicle reports: this test cannot be done.", p->bank,
            p->pair.front_kind == OXL_SENSOR_NONE ? "front" : "rear");
}

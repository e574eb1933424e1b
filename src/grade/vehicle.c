/* Who answers, how fast, and with which sensors. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "line.h"
#include "oxylag/safe.h"

/* Per sensor and second. Ours: with five a second the interval of a 2 s delay is about a tenth of
 * it, below one nothing near 2 s can be told from anything else. */
#define ENOUGH_HZ 5.0
#define LEAST_HZ  1.0

static const char wide_intervals[] =
    "The intervals will be wide: make more runs, look at the interval.";

struct oxl_check oxl_grade_link(const struct oxl_grade_facts *f)
{
    const struct oxl_vehicle *v = f->vehicle;
    return oxl_grade_line("link", OXL_GRADE_PASS, "", "%s, ECU %X of %u, %s%s",
                          oxl_protocol_name(v->protocol), (unsigned)v->ecu, v->ecus_seen,
                          v->multi_pid ? "several PIDs a request" : "one PID a request",
                          v->reply_count ? ", reply count works" : "");
}

struct oxl_check oxl_grade_rate(double front_hz, double rear_hz)
{
    static const char id[] = "sample-rate";
    if (!oxl_known(front_hz) || !oxl_known(rear_hz))
        return oxl_grade_line(id, OXL_GRADE_UNKNOWN, "", "front or rear sensor gave no readings");
    double hz = fmin(front_hz, rear_hz);
    enum oxl_grade g = hz >= ENOUGH_HZ  ? OXL_GRADE_PASS
                       : hz >= LEAST_HZ ? OXL_GRADE_CAUTION
                                        : OXL_GRADE_STOP;
    return oxl_grade_line(
        id, g,
        g == OXL_GRADE_PASS ? ""
        : g == OXL_GRADE_CAUTION
            ? wide_intervals
            : "Too slow to time seconds: another adapter, or unplug other testers.",
        "front %.1f, rear %.1f readings a second", front_hz, rear_hz);
}

static void refresh_words(const struct oxl_refresh *r, char out[28])
{
    if (r->known)
        snprintf(out, 28, " every %.2g s", r->period_s);
    else if (isfinite(r->at_most_s))
        snprintf(out, 28, " every %.2g s or less", r->at_most_s);
    else
        snprintf(out, 28, ": not known");
}

/* New values as often as the readings have to come. */
struct oxl_check oxl_grade_refresh(const struct oxl_refresh *front, const struct oxl_refresh *rear,
                                   const struct oxl_refresh *trim)
{
    const struct oxl_refresh *each[] = {front, rear, trim};
    struct oxl_refresh loosest = {.at_most_s = 0};
    char words[3][28];
    double known_s = 0;
    for (size_t i = 0; i < 3; i++) {
        loosest.at_most_s = fmax(loosest.at_most_s, each[i]->at_most_s);
        known_s = fmax(known_s, each[i]->known ? each[i]->period_s : 0);
    }
    const bool bounded = known_s == 0 && isfinite(loosest.at_most_s); /* one bound for all */
    for (size_t i = 0; i < 3; i++)
        refresh_words(bounded ? &loosest : each[i], words[i]);
    enum oxl_grade g = known_s * ENOUGH_HZ > 1             ? OXL_GRADE_CAUTION
                       : loosest.at_most_s * ENOUGH_HZ > 1 ? OXL_GRADE_UNKNOWN
                                                           : OXL_GRADE_PASS;
    const char *advice = g == OXL_GRADE_CAUTION ? wide_intervals : "";
    if (strcmp(words[0], words[1]) == 0 && strcmp(words[1], words[2]) == 0)
        return oxl_grade_line("refresh", g, advice, "the ECU refreshes front, rear and trims%s",
                              words[0]);
    return oxl_grade_line("refresh", g, advice, "the ECU refreshes front%s, rear%s, trims%s",
                          words[0], words[1], words[2]);
}

struct oxl_check oxl_grade_identity(const struct oxl_grade_facts *f)
{
    static const char id[] = "identity", by_hand[] = "Write it on the repair order by hand.";
    const char *vin = f->vehicle->vin;
    if (f->no_identity)
        return oxl_grade_line(id, OXL_GRADE_UNKNOWN, by_hand, "masked: the VIN was not asked for");
    if (!vin[0])
        return oxl_grade_line(id, OXL_GRADE_UNKNOWN, by_hand, "the vehicle gives no VIN");
    if (oxl_vin_check_digit(vin))
        return oxl_grade_line(id, OXL_GRADE_PASS, "", "VIN read, its check digit is right");
    return oxl_grade_line(id, OXL_GRADE_UNKNOWN,
                          "Compare it with the plate; only North America asks for the digit.",
                          "VIN read, its check digit does not fit");
}

struct oxl_check oxl_grade_ecu(const struct oxl_grade_facts *f, const struct oxl_ecu_info *ecu)
{
    char id[24];
    snprintf(id, sizeof id, "unit-%X", (unsigned)ecu->ecu);
    return oxl_grade_line(
        id, OXL_GRADE_PASS, "", "%s%s%s%s", ecu->name[0] ? ecu->name : "gives no name",
        ecu->calibration_n ? ", calibration " : "", ecu->calibration_n ? ecu->calibration[0] : "",
        ecu->ecu == f->vehicle->ecu ? "; used for this test" : "");
}

struct oxl_check oxl_grade_layout(const struct oxl_grade_facts *f)
{
    const struct oxl_decoding *d = &f->vehicle->decoding;
    char list[64] = "";
    if (d->layout == OXL_LAYOUT_UNKNOWN)
        return oxl_grade_line("layout", OXL_GRADE_UNKNOWN,
                              "Make sure which sensor is which: unplug one and look.",
                              "not given; two banks of four are assumed");
    for (unsigned bit = 0; bit < 8; bit++)
        if (d->sensors >> bit & 1) {
            struct oxl_channel c = oxl_sensor_channel((uint8_t)(0x14 + bit), d->layout);
            oxl_append(list, sizeof list, " B%uS%u", (unsigned)c.bank, (unsigned)c.sensor);
        }
    return oxl_grade_line("layout", OXL_GRADE_PASS, "", "PID %s:%s",
                          d->layout == OXL_LAYOUT_13 ? "13" : "1D", list[0] ? list : " no sensors");
}

static void list_pids(char *out, size_t size, const struct oxl_support *s)
{
    out[0] = '\0';
    for (unsigned pid = 1; pid <= 0xFF && strlen(out) + 4 < size; pid++)
        if (oxl_supports(s, (uint8_t)pid))
            oxl_append(out, size, " %02X", pid);
}

struct oxl_check oxl_grade_pids(const struct oxl_vehicle *v)
{
    char silent[28], more[16]; /* nine and five of them */
    list_pids(silent, sizeof silent, &v->silent);
    list_pids(more, sizeof more, &v->unannounced);
    if (!silent[0] && !more[0])
        return (struct oxl_check){.grade = OXL_GRADE_PASS};
    return oxl_grade_line(
        "pids", OXL_GRADE_UNKNOWN,
        silent[0] ? "Left out; a sensor among them: see its wiring and codes." : "", "%s%s%s%s%s",
        silent[0] ? "announced, never answered:" : "", silent, silent[0] && more[0] ? "; " : "",
        more[0] ? "not announced, answered:" : "", more);
}

/* What of the rear is used instead of a lambda that stands still. */
static void rear_words(char *out, size_t size, const struct oxl_vehicle *v,
                       const struct oxl_pair *pair)
{
    char still[16];
    list_pids(still, sizeof still, &v->still);
    out[0] = '\0';
    if (pair->rear_pid && pair->rear_pid == v->volts_pid)
        snprintf(out, size, " (volts of PID %02X, its lambda stands still)", pair->rear_pid);
    else if (pair->rear_pid && still[0])
        snprintf(out, size, " (PID %02X, the lambda of%s stands still)", pair->rear_pid, still);
}

struct oxl_check oxl_grade_sensors(const char *id, const struct oxl_grade_facts *f, unsigned bank,
                                   const struct oxl_pair *pair)
{
    bool whole = pair->front_kind != OXL_SENSOR_NONE && pair->rear_kind != OXL_SENSOR_NONE;
    enum oxl_grade g = whole             ? OXL_GRADE_PASS
                       : bank == f->bank ? OXL_GRADE_STOP
                                         : OXL_GRADE_UNKNOWN;
    char rear[56] = "";
    if (f->vehicle)
        rear_words(rear, sizeof rear, f->vehicle, pair);
    return oxl_grade_line(
        id, g, whole ? "" : "This bank cannot be tested: it needs a front and a rear sensor.",
        "bank %u: front %s, rear %s%s", bank, oxl_sensor_kind_name(pair->front_kind),
        oxl_sensor_kind_name(pair->rear_kind), rear);
}

enum oxl_air_want oxl_grade_air_kind(const struct oxl_vehicle *v)
{
    if (oxl_supports(&v->support, 0x10) || oxl_supports(&v->support, 0x66))
        return OXL_AIR_METER;
    return oxl_supports(&v->support, 0x0B) ? OXL_AIR_SPEED_DENSITY : OXL_AIR_NONE;
}

struct oxl_check oxl_grade_air(const struct oxl_grade_facts *f)
{
    enum oxl_air_want air = oxl_grade_air_kind(f->vehicle);
    if (air == OXL_AIR_METER)
        return oxl_grade_line("air", OXL_GRADE_PASS, "", "air meter");
    if (air == OXL_AIR_SPEED_DENSITY && oxl_known(f->profile->displacement_l))
        return oxl_grade_line("air", OXL_GRADE_PASS, "", "from manifold pressure and displacement");
    if (air == OXL_AIR_SPEED_DENSITY)
        return oxl_grade_line("air", OXL_GRADE_CAUTION,
                              "Give displacement_l in a profile to get grams of oxygen.",
                              "manifold pressure, displacement not known");
    return oxl_grade_line("air", OXL_GRADE_CAUTION, "Seconds only; no grams of oxygen.",
                          "no air flow can be known");
}

struct oxl_check oxl_grade_table(int64_t row_us, bool resampled)
{
    return oxl_grade_line("imported", OXL_GRADE_CAUTION,
                          "Not timed by this program: no figure is finer than the step.",
                          "imported table, rows %.0f ms apart%s", (double)row_us / 1e3,
                          resampled ? ", interpolated" : "");
}

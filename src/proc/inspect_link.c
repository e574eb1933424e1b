/* Who answers, what it calls itself, how fast, and with which sensors. */
#include <stdio.h>
#include <string.h>

#include "inspect.h"

/* Per sensor and second. Ours: with five a second the interval of a 2 s delay is about a tenth of
 * it, below one nothing near 2 s can be told from anything else. */
#define ENOUGH_HZ 5.0
#define LEAST_HZ  1.0

static void rate(struct oxl_inspection *v)
{
    double hz = fmin(v->front_hz, v->rear_hz);
    if (!isfinite(v->front_hz) || !isfinite(v->rear_hz)) {
        oxl_inspect_line(v, "sample-rate", OXL_GRADE_UNKNOWN, "",
                         "front and rear were not both heard of");
        return;
    }
    enum oxl_grade g = hz >= ENOUGH_HZ  ? OXL_GRADE_PASS
                       : hz >= LEAST_HZ ? OXL_GRADE_CAUTION
                                        : OXL_GRADE_STOP;
    oxl_inspect_line(v, "sample-rate", g,
                     g == OXL_GRADE_PASS ? ""
                     : g == OXL_GRADE_CAUTION
                         ? "The intervals will be wide: make more runs, look at the interval."
                         : "Too slow to time seconds: another adapter, or unplug other testers.",
                     "front %.1f, rear %.1f readings a second", v->front_hz, v->rear_hz);
}

static void identity(struct oxl_inspection *v, bool no_identity)
{
    const char *vin = v->vehicle.vin;
    if (no_identity)
        oxl_inspect_line(v, "identity", OXL_GRADE_UNKNOWN, "Write it on the repair order by hand.",
                         "masked: the number was not asked for");
    else if (!vin[0])
        oxl_inspect_line(v, "identity", OXL_GRADE_UNKNOWN, "Write it on the repair order by hand.",
                         "the vehicle gives no number");
    else if (oxl_vin_check_digit(vin))
        oxl_inspect_line(v, "identity", OXL_GRADE_PASS, "",
                         "number read, its check digit is right");
    else
        oxl_inspect_line(v, "identity", OXL_GRADE_UNKNOWN,
                         "Compare it with the plate; only North America asks for the digit.",
                         "number read, its check digit does not fit");
}

static void units(struct oxl_inspection *v)
{
    const struct oxl_onboard *o = &v->onboard;
    for (size_t i = 0; i < o->ecus_n; i++) {
        const struct oxl_ecu_info *u = &o->ecus[i];
        char id[24];
        snprintf(id, sizeof id, "unit-%X", (unsigned)u->ecu);
        oxl_inspect_line(
            v, id, OXL_GRADE_PASS, "", "%s%s%s%s", u->name[0] ? u->name : "gives no name",
            u->calibration_n ? ", calibration " : "", u->calibration_n ? u->calibration[0] : "",
            u->ecu == v->vehicle.ecu ? "; listened to" : "");
    }
}

static void layout(struct oxl_inspection *v)
{
    const struct oxl_decoding *d = &v->vehicle.decoding;
    char list[64] = "";
    size_t len = 0;
    if (d->layout == OXL_LAYOUT_UNKNOWN) {
        oxl_inspect_line(v, "layout", OXL_GRADE_UNKNOWN,
                         "Make sure which sensor is which: unplug one and look.",
                         "not given; two banks of four are assumed");
        return;
    }
    for (unsigned bit = 0; bit < 8; bit++)
        if (d->sensors >> bit & 1) {
            struct oxl_channel c = oxl_sensor_channel((uint8_t)(0x14 + bit), d->layout);
            len += (size_t)snprintf(list + len, sizeof list - len, " B%uS%u", (unsigned)c.bank,
                                    (unsigned)c.sensor);
        }
    oxl_inspect_line(v, "layout", OXL_GRADE_PASS, "", "item %s:%s",
                     d->layout == OXL_LAYOUT_13 ? "13" : "1D", len ? list : " no sensors");
}

static void sensors(struct oxl_inspection *v)
{
    for (unsigned bank = 1; bank <= 2; bank++) {
        const struct oxl_pair *p = &v->pair[bank - 1];
        bool whole = p->front_kind != OXL_SENSOR_NONE && p->rear_kind != OXL_SENSOR_NONE;
        bool ours = bank == v->bank;
        if (!ours && p->front_kind == OXL_SENSOR_NONE && p->rear_kind == OXL_SENSOR_NONE)
            continue;
        oxl_inspect_line(v, bank == 1 ? "sensors-bank-1" : "sensors-bank-2",
                         whole  ? OXL_GRADE_PASS
                         : ours ? OXL_GRADE_STOP
                                : OXL_GRADE_UNKNOWN,
                         whole ? "" : "This bank cannot be tested: it needs a front and a rear.",
                         "bank %u: front %s, rear %s", bank, oxl_sensor_kind_name(p->front_kind),
                         oxl_sensor_kind_name(p->rear_kind));
    }
}

static void air(struct oxl_inspection *v)
{
    const struct oxl_support *s = &v->vehicle.support;
    if (oxl_supports(s, 0x10) || oxl_supports(s, 0x66))
        oxl_inspect_line(v, "air", OXL_GRADE_PASS, "", "air meter");
    else if (oxl_supports(s, 0x0B))
        oxl_inspect_line(v, "air", OXL_GRADE_CAUTION,
                         "Give displacement_l in a profile to get grams of oxygen.",
                         "manifold pressure only");
    else
        oxl_inspect_line(v, "air", OXL_GRADE_CAUTION, "Seconds only; no grams of oxygen.",
                         "no air flow can be known");
}

void oxl_inspect_link(struct oxl_inspection *v, bool no_identity)
{
    oxl_inspect_section(v, "Link and vehicle");
    oxl_inspect_line(v, "link", OXL_GRADE_PASS, "", "%s, %s%s",
                     oxl_protocol_name(v->vehicle.protocol),
                     v->vehicle.multi_pid ? "several items a request" : "one item a request",
                     v->vehicle.reply_count ? ", reply count works" : "");
    rate(v);
    identity(v, no_identity);
    units(v);
    oxl_inspect_section(v, "Sensors and air");
    layout(v);
    sensors(v);
    air(v);
}

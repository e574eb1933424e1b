/* The lamp, the kind of ignition, and the vehicle's own monitors: have they run? */
#include <stdio.h>
#include <string.h>

#include "line.h"
#include "oxylag/safe.h"

/* What an incomplete monitor means for this test. */
static const struct {
    enum oxl_monitor monitor;
    const char *word, *open;
} asked[OXL_GRADED_MONITORS] = {
    {OXL_MON_O2_SENSOR, "oxygen sensor", "Prove front and rear by hand: each seen rich and lean."},
    {OXL_MON_O2_HEATER, "sensor heater", "Warm the sensors well; prove the rear by hand."},
    {OXL_MON_CATALYST, "catalyst",
     "The vehicle has not judged the catalyst since the trouble codes were cleared."},
    {OXL_MON_FUEL, "fuel system", "Fuel trims may still be learning: let them settle."},
    {OXL_MON_MISFIRE, "misfire", "Listen for misfire; stop when the lamp flashes."},
};

struct oxl_check oxl_grade_lamp(const struct oxl_readiness *r)
{
    return oxl_grade_line(
        "lamp", r->mil_on ? OXL_GRADE_CAUTION : OXL_GRADE_PASS,
        r->mil_on ? "See the trouble codes; a flashing lamp means misfire: add no gas." : "",
        "malfunction lamp %s", r->mil_on ? "commanded on" : "off");
}

struct oxl_check oxl_grade_ignition(const struct oxl_readiness *r)
{
    if (r->compression_ignition)
        return oxl_grade_line("ignition", OXL_GRADE_STOP,
                              "This test is for spark ignition: add no gas.",
                              "compression ignition");
    return oxl_grade_line("ignition", OXL_GRADE_PASS, "", "spark ignition");
}

struct oxl_check oxl_grade_ready(const struct oxl_readiness *r, unsigned i)
{
    char id[24];
    enum oxl_monitor m = asked[i].monitor;
    snprintf(id, sizeof id, "ready-%s", oxl_monitor_word(m));
    if (!r->supported[m])
        return oxl_grade_line(id, OXL_GRADE_UNKNOWN, "", "no %s monitor in this vehicle",
                              asked[i].word);
    if (r->complete[m])
        return oxl_grade_line(id, OXL_GRADE_PASS, "", "%s monitor complete", asked[i].word);
    return oxl_grade_line(id, OXL_GRADE_CAUTION, asked[i].open, "%s monitor not complete",
                          asked[i].word);
}

/* A monitor that the vehicle has not got says nothing against it. */
struct oxl_check oxl_grade_readiness(const struct oxl_readiness *r)
{
    if (!r->known)
        return oxl_grade_line("readiness", OXL_GRADE_UNKNOWN, "", "the vehicle did not answer");
    struct oxl_check worst = {.grade = OXL_GRADE_UNKNOWN};
    char open[96] = "";
    for (unsigned i = 0; i < OXL_GRADED_MONITORS; i++) {
        struct oxl_check c = oxl_grade_ready(r, i);
        if (c.grade == OXL_GRADE_CAUTION)
            oxl_append_word(open, sizeof open, ", ", asked[i].word);
        if (c.grade > worst.grade)
            worst = c;
    }
    if (open[0])
        return oxl_grade_line("readiness", worst.grade, worst.advice, "monitors not complete: %s",
                              open);
    return oxl_grade_line("readiness", worst.grade, "",
                          worst.grade == OXL_GRADE_PASS ? "all monitors complete"
                                                        : "no monitors in this vehicle");
}

struct oxl_check oxl_grade_this_cycle(const struct oxl_readiness *cycle)
{
    enum oxl_monitor m = OXL_MON_CATALYST;
    if (!cycle->known)
        return oxl_grade_line("this-cycle", OXL_GRADE_UNKNOWN, "",
                              "this driving cycle: not given by the vehicle");
    return oxl_grade_line("this-cycle", OXL_GRADE_PASS, "",
                          "catalyst monitor %s in this driving cycle",
                          !cycle->supported[m] ? "does not run"
                          : cycle->complete[m] ? "has run"
                                               : "has not run yet");
}

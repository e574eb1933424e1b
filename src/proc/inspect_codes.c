/* Trouble codes, with what each does to this test, and readiness. */
#include <stdio.h>
#include <string.h>

#include "inspect.h"

enum list { STORED, PENDING, PERMANENT };
static const char *const list_words[] = {"stored", "pending", "permanent"};

static const struct oxl_dtc_list *list_of(const struct oxl_ecu_info *u, enum list l)
{
    return l == STORED ? &u->stored : l == PENDING ? &u->pending : &u->permanent;
}

static enum oxl_grade grade_of(const struct oxl_inspection *v, uint16_t code, enum list l)
{
    unsigned bank = oxl_dtc_bank(code);
    enum oxl_dtc_weight weight = (enum oxl_dtc_weight)oxl_dtc_family(code)->weight;
    if (bank && bank != v->bank)
        return OXL_GRADE_PASS;
    if (weight == OXL_DTC_FORBIDS)
        return l == STORED ? OXL_GRADE_STOP : OXL_GRADE_CAUTION;
    return weight == OXL_DTC_DISTURBS ? OXL_GRADE_CAUTION : OXL_GRADE_PASS;
}

/* Why it matters, before what to do, where there is room for both. */
static void add_effect(struct oxl_check *c, const char *effect)
{
    size_t n = strlen(effect), rest = strlen(c->advice) + 1;
    if (n + 1 + rest > sizeof c->advice)
        return;
    memmove(c->advice + n + 1, c->advice, rest);
    memcpy(c->advice, effect, n);
    c->advice[n] = ' ';
}

static void code_line(struct oxl_inspection *v, const struct oxl_ecu_info *u, uint16_t code,
                      enum list l)
{
    char text[6], id[24], words[64];
    const struct oxl_dtc_family *f = oxl_dtc_family(code);
    enum oxl_grade g = grade_of(v, code, l);
    unsigned bank = oxl_dtc_bank(code);
    oxl_dtc_text(code, text);
    oxl_dtc_words(code, words, sizeof words);
    snprintf(id, sizeof id, "%s-%s", list_words[l], text);
    oxl_inspect_line(v, id, g, f->next, "%s%s%s", words,
                     bank && bank != v->bank ? " (not the bank under test)" : "",
                     u->ecu == v->vehicle.ecu ? "" : " (another unit)");
    if (v->checks_n && g >= OXL_GRADE_CAUTION)
        add_effect(&v->checks[v->checks_n - 1], f->effect);
}

static void code_list(struct oxl_inspection *v, enum list l)
{
    char id[24];
    unsigned n = 0;
    bool known = false;
    for (size_t u = 0; u < v->onboard.ecus_n; u++) {
        const struct oxl_dtc_list *list = list_of(&v->onboard.ecus[u], l);
        known = known || list->known;
        for (size_t i = 0; i < list->n; i++, n++)
            code_line(v, &v->onboard.ecus[u], list->codes[i], l);
    }
    snprintf(id, sizeof id, "codes-%s", list_words[l]);
    if (!known)
        oxl_inspect_line(v, id, OXL_GRADE_UNKNOWN,
                         l == PERMANENT ? "Vehicles before about 2010 keep none." : "",
                         "the vehicle did not answer");
    else if (n == 0)
        oxl_inspect_line(v, id, OXL_GRADE_PASS, "", "none");
}

/* The count beside the lamp and the list must agree. */
static void code_count(struct oxl_inspection *v)
{
    for (size_t i = 0; i < v->onboard.ecus_n; i++) {
        const struct oxl_ecu_info *u = &v->onboard.ecus[i];
        if (!u->readiness.known || !u->stored.known || u->readiness.stored_dtcs == u->stored.n)
            continue;
        oxl_inspect_line(v, "codes-count", OXL_GRADE_CAUTION,
                         "Read the codes again, or with another tester.",
                         "unit %X counts %u stored codes but gave %zu", (unsigned)u->ecu,
                         u->readiness.stored_dtcs, u->stored.n);
    }
}

void oxl_inspect_codes(struct oxl_inspection *v)
{
    oxl_inspect_section(v, "Codes");
    code_list(v, STORED);
    code_count(v);
    code_list(v, PENDING);
    code_list(v, PERMANENT);
}

/* ---- readiness ------------------------------------------------------------------------------- */

/* What an incomplete monitor means for this test; others are told without a grade of their own. */
static const struct {
    enum oxl_monitor monitor;
    const char *words, *open;
} asked[] = {
    {OXL_MON_O2_SENSOR, "oxygen sensor monitor",
     "Prove front and rear by hand: each seen rich and lean."},
    {OXL_MON_O2_HEATER, "sensor heater monitor", "Warm the sensors well; prove the rear by hand."},
    {OXL_MON_CATALYST, "catalyst monitor",
     "The vehicle has not judged the catalyst since the codes were cleared."},
    {OXL_MON_FUEL, "fuel system monitor", "Fuel trims may still be learning: let them settle."},
    {OXL_MON_MISFIRE, "misfire monitor", "Listen for misfire; stop when the lamp flashes."},
};

static void monitor_line(struct oxl_inspection *v, const struct oxl_readiness *r, unsigned i)
{
    char id[24];
    enum oxl_monitor m = asked[i].monitor;
    snprintf(id, sizeof id, "ready-%s", oxl_monitor_word(m));
    if (!r->supported[m])
        oxl_inspect_line(v, id, OXL_GRADE_UNKNOWN, "", "no %s in this vehicle", asked[i].words);
    else if (r->complete[m])
        oxl_inspect_line(v, id, OXL_GRADE_PASS, "", "%s complete", asked[i].words);
    else
        oxl_inspect_line(v, id, OXL_GRADE_CAUTION, asked[i].open, "%s not complete",
                         asked[i].words);
}

static void cycle_line(struct oxl_inspection *v, const struct oxl_readiness *r)
{
    enum oxl_monitor m = OXL_MON_CATALYST;
    if (!r->known)
        oxl_inspect_line(v, "this-cycle", OXL_GRADE_UNKNOWN, "", "not given by the vehicle");
    else
        oxl_inspect_line(v, "this-cycle", OXL_GRADE_PASS, "",
                         "catalyst monitor %s in this driving cycle",
                         !r->supported[m] ? "does not run"
                         : r->complete[m] ? "has run"
                                          : "has not run yet");
}

void oxl_inspect_readiness(struct oxl_inspection *v)
{
    const struct oxl_readiness *r = &v->vehicle.readiness, *cycle = NULL;
    oxl_inspect_section(v, "Readiness");
    if (!r->known) {
        oxl_inspect_line(v, "readiness", OXL_GRADE_UNKNOWN, "", "the vehicle did not answer");
        return;
    }
    oxl_inspect_line(v, "lamp", r->mil_on ? OXL_GRADE_CAUTION : OXL_GRADE_PASS,
                     r->mil_on ? "See the codes; a flashing lamp means misfire: add no gas." : "",
                     "malfunction lamp %s", r->mil_on ? "commanded on" : "off");
    if (r->compression_ignition) {
        oxl_inspect_line(v, "ignition", OXL_GRADE_STOP,
                         "This test needs spark ignition in closed loop at balance.",
                         "compression ignition");
        return;
    }
    oxl_inspect_line(v, "ignition", OXL_GRADE_PASS, "", "spark ignition");
    for (unsigned i = 0; i < sizeof asked / sizeof *asked; i++)
        monitor_line(v, r, i);
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        if (v->onboard.ecus[i].ecu == v->vehicle.ecu)
            cycle = &v->onboard.ecus[i].cycle;
    if (cycle)
        cycle_line(v, cycle);
}

/* Trouble codes: what each does to this test. The table is vehicle's (dtc_table.c, dtc_family.c).
 */
#include <stdio.h>
#include <string.h>

#include "line.h"
#include "oxylag/safe.h"

static bool names_our_sensor(const struct oxl_grade_facts *f, unsigned bank, unsigned sensor)
{
    const struct oxl_channel rear = f->pair.rear;
    if (sensor == 1 || f->pair.rear_kind == OXL_SENSOR_NONE)
        return bank == f->bank;
    return bank == rear.bank && sensor == rear.sensor;
}

bool oxl_dtc_concerns(const struct oxl_grade_facts *f, uint16_t code)
{
    unsigned bank = oxl_dtc_bank(code), sensor = oxl_dtc_sensor(code);
    if (bank == 0 || oxl_dtc_family(code)->whole_engine)
        return true;
    return sensor ? names_our_sensor(f, bank, sensor) : bank == f->bank;
}

enum oxl_grade oxl_grade_of_dtc(const struct oxl_grade_facts *f, uint16_t code,
                                enum oxl_dtc_kind kind)
{
    if (!oxl_dtc_concerns(f, code))
        return OXL_GRADE_PASS;
    switch ((enum oxl_dtc_weight)oxl_dtc_family(code)->weight) {
    case OXL_DTC_FORBIDS:
        return kind == OXL_DTC_STORED ? OXL_GRADE_STOP : OXL_GRADE_CAUTION;
    case OXL_DTC_DISTURBS:
        return OXL_GRADE_CAUTION;
    case OXL_DTC_UNKNOWN:
        return OXL_GRADE_UNKNOWN;
    case OXL_DTC_NEUTRAL:
    case OXL_DTC_SUBJECT:
        break;
    }
    return OXL_GRADE_PASS;
}

static oxl_reasons reasons_of(const struct oxl_grade_facts *f, uint16_t code,
                              enum oxl_dtc_kind kind)
{
    enum oxl_reason own = (enum oxl_reason)oxl_dtc_family(code)->reason;
    oxl_reasons set = 0;
    if (oxl_grade_of_dtc(f, code, kind) < OXL_GRADE_CAUTION)
        return set;
    if (own != OXL_R_COUNT && kind != OXL_DTC_PERMANENT)
        set = oxl_reasons_add(set, own);
    return oxl_reasons_add(set, OXL_R_CODES_PRESENT);
}

oxl_reasons oxl_dtc_reasons(const struct oxl_grade_facts *f, const uint16_t *codes, size_t n,
                            enum oxl_dtc_kind kind)
{
    oxl_reasons set = 0;
    for (size_t i = 0; i < n; i++)
        set |= reasons_of(f, codes[i], kind);
    return set;
}

/* Why it matters, before what to do. That both fit is tested with the table. */
static void set_advice(struct oxl_check *c, uint16_t code, bool name_it)
{
    const struct oxl_dtc_family *f = oxl_dtc_family(code);
    char text[6] = "";
    if (name_it)
        oxl_dtc_text(code, text);
    if (c->grade != OXL_GRADE_PASS)
        snprintf(c->advice, sizeof c->advice, "%s%s%s %s", text, name_it ? ": " : "", f->effect,
                 f->next);
    else if (f->weight == OXL_DTC_SUBJECT)
        snprintf(c->advice, sizeof c->advice, "%s", f->next);
}

/* Whose it is, when not of the test's own sensors and bank. */
static const char *elsewhere(const struct oxl_grade_facts *f, uint16_t code)
{
    if (oxl_dtc_concerns(f, code))
        return "";
    return oxl_dtc_bank(code) != f->bank ? " (not the bank under test)" : " (not in this test)";
}

struct oxl_check oxl_grade_dtc(const struct oxl_grade_facts *f, uint32_t ecu, uint16_t code,
                               enum oxl_dtc_kind kind)
{
    char text[6], id[24], words[64];
    oxl_dtc_text(code, text);
    oxl_dtc_words(code, words, sizeof words);
    snprintf(id, sizeof id, "%s-%s", oxl_dtc_kind_names[kind], text);
    struct oxl_check c =
        oxl_grade_line(id, oxl_grade_of_dtc(f, code, kind), "", "%s%s%s", words, elsewhere(f, code),
                       ecu == f->vehicle->ecu ? "" : " (another ECU)");
    if (oxl_dtc_concerns(f, code))
        set_advice(&c, code, false);
    return c;
}

/* A code of unknown meaning is graver than one that is known to do nothing. Of equal ones that
 * with a direction of its own. */
static unsigned gravity(const struct oxl_grade_facts *f, uint16_t code, enum oxl_dtc_kind kind)
{
    static const unsigned ranks[] = {[OXL_GRADE_UNKNOWN] = 1,
                                     [OXL_GRADE_PASS] = 0,
                                     [OXL_GRADE_CAUTION] = 2,
                                     [OXL_GRADE_STOP] = 3};
    return 2 * ranks[oxl_grade_of_dtc(f, code, kind)] +
           (oxl_dtc_family(code)->reason != OXL_R_COUNT);
}

/* As many as fit. */
static void list_codes(const uint16_t *codes, size_t n, char *out, size_t size)
{
    size_t i = 0;
    out[0] = '\0';
    for (; i < n && strlen(out) + 12 < size; i++) {
        char text[6];
        oxl_dtc_text(codes[i], text);
        oxl_append_word(out, size, " ", text);
    }
    if (i < n)
        oxl_append(out, size, " ...");
}

static struct oxl_check no_codes(const struct oxl_grade_facts *f, const char *id, bool known,
                                 enum oxl_dtc_kind kind)
{
    static const char before[] = "Vehicles before about 2010 keep none.";
    return oxl_grade_line(id, known ? OXL_GRADE_PASS : OXL_GRADE_UNKNOWN,
                          known || f->imported || kind != OXL_DTC_PERMANENT ? "" : before,
                          "%s trouble codes: %s", oxl_dtc_kind_names[kind],
                          known         ? "none"
                          : f->imported ? "not in the table"
                                        : "not known, no answer");
}

struct oxl_check oxl_grade_dtcs(const struct oxl_grade_facts *f, const uint16_t *codes, size_t n,
                                bool known, enum oxl_dtc_kind kind)
{
    char id[24], list[70];
    snprintf(id, sizeof id, "codes-%s", oxl_dtc_kind_names[kind]);
    if (!known || n == 0)
        return no_codes(f, id, known, kind);
    uint16_t gravest = codes[0];
    for (size_t i = 1; i < n; i++)
        if (gravity(f, codes[i], kind) > gravity(f, gravest, kind))
            gravest = codes[i];
    list_codes(codes, n, list, sizeof list);
    struct oxl_check c = oxl_grade_line(id, oxl_grade_of_dtc(f, gravest, kind), "",
                                        "%s trouble codes: %s", oxl_dtc_kind_names[kind], list);
    if (c.grade != OXL_GRADE_PASS)
        set_advice(&c, gravest, true);
    return c;
}

bool oxl_dtc_count_agrees(const struct oxl_ecu_info *ecu)
{
    return !ecu->readiness.known || !ecu->dtcs[OXL_DTC_STORED].known ||
           ecu->readiness.stored_dtcs == ecu->dtcs[OXL_DTC_STORED].n;
}

struct oxl_check oxl_grade_dtc_count(const struct oxl_ecu_info *ecu)
{
    return oxl_grade_line("codes-count", OXL_GRADE_CAUTION,
                          "Read the trouble codes again, or with another tester.",
                          "ECU %X counts %u stored trouble codes but gave %zu", (unsigned)ecu->ecu,
                          ecu->readiness.stored_dtcs, ecu->dtcs[OXL_DTC_STORED].n);
}

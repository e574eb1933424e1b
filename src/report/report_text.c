#include "oxylag/report.h"

#include <stdio.h>
#include <string.h>

#include "record/vehicle_text.h"
#include "text_page.h"
#include "words.h"

static const char *or_line(const char *text)
{
    return text[0] ? text : "______________________________";
}

/* What a table cannot tell must stand where nobody overlooks it. */
static void imported(struct oxl_buf *out, const struct oxl_imported *a)
{
    char line[640];
    snprintf(line, sizeof line,
             "Imported table \"%s\": not timed by this program; rows %.0f ms apart, a "
             "front value stands for %.0f ms and a rear value for %.0f ms.%s",
             a->table, (double)a->row_us / 1e3, (double)a->step_us[0] / 1e3,
             (double)a->step_us[1] / 1e3,
             a->resampled ? " Its values were interpolated: no time is claimed from them." : "");
    oxl_page_text(out, "*** IMPORTED *** ", line);
}

static void title(struct oxl_buf *out, const struct oxl_test_record *s)
{
    static const char words[] = "CATALYTIC CONVERTER: OXYGEN STORAGE TEST WITH PROPANE";
    char line[256];
    oxl_buf_add(out, "%s\n", words);
    for (size_t i = 0; i < sizeof words - 1; i++)
        oxl_buf_add(out, "=");
    oxl_buf_add(out, "\n");
    if (s->header.simulated) {
        snprintf(line, sizeof line,
                 "No vehicle was tested: scenario \"%s\", seed %llu of the built-in simulator.",
                 s->header.scenario, (unsigned long long)s->header.seed);
        oxl_page_text(out, "*** SIMULATED *** ", line);
    }
    if (s->header.imported.on)
        imported(out, &s->header.imported);
}

static void order(struct oxl_buf *out, const struct oxl_test_record *s)
{
    const struct oxl_record_header *h = &s->header;
    oxl_buf_add(out, "\n");
    oxl_page_field(out, "Repair order", or_line(h->order));
    oxl_page_field(out, "Customer", or_line(""));
    oxl_page_field(out, "Make, model, year", or_line(""));
    oxl_page_field(out, "Odometer, plate", or_line(""));
    oxl_page_field(out, "Technician", or_line(h->technician));
    oxl_page_field(out, "Date and time", or_line(h->started));
    oxl_page_field(out, "Gas fed at", h->inlet[0] ? h->inlet : "not noted");
    if (h->note[0])
        oxl_page_field(out, "Note", h->note);
}

static void monitor(struct oxl_buf *out, const char *name, const struct oxl_readiness *r,
                    enum oxl_monitor m)
{
    const char *word = !r->known          ? "not known"
                       : !r->supported[m] ? "not supported"
                       : r->complete[m]   ? "complete"
                                          : "not complete";
    oxl_page_field(out, name, word);
}

static void codes(struct oxl_buf *out, const struct oxl_vehicle *v)
{
    char text[8 * OXL_MAX_DTCS];
    oxl_dtcs_shown(v->stored_known, v->stored, v->stored_n, text, sizeof text);
    oxl_page_field(out, "Codes stored", text);
    oxl_dtcs_shown(v->pending_known, v->pending, v->pending_n, text, sizeof text);
    oxl_page_field(out, "Codes pending", text);
    oxl_dtcs_shown(v->permanent_known, v->permanent, v->permanent_n, text, sizeof text);
    oxl_page_field(out, "Codes permanent", text);
}

static void vehicle(struct oxl_buf *out, const struct oxl_test_record *s)
{
    const struct oxl_vehicle *v = &s->vehicle;
    char vin[18], unit[64] = "not known", bank[16];
    oxl_vin_shown(v->vin, s->header.mask_vin, vin);
    if (v->ecu)
        snprintf(unit, sizeof unit, "%X, of %u that answered", (unsigned)v->ecu, v->ecus_seen);
    snprintf(bank, sizeof bank, "%u", s->header.bank);
    oxl_page_heading(out, "Vehicle");
    oxl_page_field(out, "VIN", vin[0] ? vin : "not known");
    oxl_page_field(out, "Bank tested", s->header.bank ? bank : "not known");
    oxl_page_field(out, "Protocol", oxl_protocol_words(v->protocol));
    oxl_page_field(out, "Unit", unit);
    oxl_page_field(out, "Adapter", v->adapter[0] ? v->adapter : "not known");
    oxl_page_field(out, "Malfunction lamp",
                   !v->readiness.known   ? "not known"
                   : v->readiness.mil_on ? "commanded on"
                                         : "off");
    codes(out, v);
    monitor(out, "Catalyst monitor", &v->readiness, OXL_MON_CATALYST);
    monitor(out, "Sensor monitor", &v->readiness, OXL_MON_O2_SENSOR);
}

static void checks(struct oxl_buf *out, const struct oxl_test_record *s)
{
    oxl_page_heading(out, "Pre-check");
    if (s->checks_n == 0)
        oxl_buf_add(out, "No check was made.\n");
    for (size_t i = 0; i < s->checks_n; i++) {
        const struct oxl_check *c = &s->checks[i];
        char label[48], text[sizeof c->found + sizeof c->advice + 8];
        snprintf(label, sizeof label, "%-8s %-20.24s ", oxl_grade_name(c->grade), c->id);
        snprintf(text, sizeof text, "%s%s%s", c->found[0] ? c->found : "not known",
                 c->advice[0] ? " -> " : "", c->advice);
        oxl_page_text(out, label, text);
    }
}

void oxl_report_text(const struct oxl_test_record *s, struct oxl_buf *out)
{
    title(out, s);
    order(out, s);
    oxl_page_result(out, s);
    oxl_page_runs(out, s);
    vehicle(out, s);
    checks(out, s);
    oxl_page_monitors(out, s);
    oxl_page_notes(out, s);
    oxl_page_basis(out, s);
    oxl_page_ending(out, s);
}

/* What page this is; whose vehicle, which test; and at the foot, which recording. */
#include <stdio.h>
#include <string.h>

#include "page.h"
#include "record/event_parts.h"
#include "words.h"

/* What a table cannot tell must stand where nobody overlooks it. */
static void imported(struct oxl_page *p, const struct oxl_imported *a)
{
    char text[640];
    snprintf(
        text, sizeof text,
        "IMPORTED - table \"%s\", not timed by this program: rows %.0f ms apart, a front value "
        "stands for %.0f ms and a rear value for %.0f ms.%s",
        a->table, (double)a->row_us / 1e3, (double)a->step_us[0] / 1e3, (double)a->step_us[1] / 1e3,
        a->resampled ? " Its values were interpolated: no time is claimed." : "");
    oxl_page_block(p, OXL_BLOCK_BANNER, "", text);
}

static void simulated(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const struct oxl_record_header *a = &tests[0].record->header, *b = &tests[n - 1].record->header;
    char text[300];
    if (n == 1)
        snprintf(text, sizeof text,
                 "SIMULATED - no vehicle was tested: scenario \"%s\", seed %llu of the built-in "
                 "simulator.",
                 a->scenario, (unsigned long long)a->seed);
    else
        snprintf(text, sizeof text,
                 "SIMULATED - %s made by the built-in simulator; no vehicle was tested there.",
                 a->simulated && b->simulated ? "both tests were"
                 : a->simulated               ? "the first test was"
                                              : "the second test was");
    if (a->simulated || b->simulated)
        oxl_page_block(p, OXL_BLOCK_BANNER, "", text);
}

void oxl_part_head(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    char title[96];
    snprintf(title, sizeof title, "Catalytic converter: oxygen storage test with propane%s",
             n < 2                   ? ""
             : p->comparison.allowed ? " - before and after"
                                     : " - two tests");
    oxl_page_title(p, title);
    simulated(p, tests, n);
    for (size_t i = 0; i < n; i++)
        if (tests[i].record->header.imported.on)
            imported(p, &tests[i].record->header.imported);
}

/* "2024-06-11T14:03:27+02:00" as people write it. */
static void date_shown(const char *iso, char out[40])
{
    snprintf(out, 40, "%.31s", iso);
    if (strlen(out) > 19 && out[10] == 'T') {
        out[10] = ' ';
        out[19] = '\0';
    }
}

/* One text where the tests agree, or there is one test; else both. */
static void both(struct oxl_page *p, const char *name, const char *a, const char *b,
                 const char *none)
{
    if (strcmp(a, b) == 0)
        oxl_page_field(p, name, "%s", a[0] ? a : none);
    else
        oxl_page_field(p, name, "%s / %s", a[0] ? a : "not noted", b[0] ? b : "not noted");
}

static void odometer_and_plate(const struct oxl_record_header *h, char *out, size_t n)
{
    const char *plate = oxl_owner_shown(h->plate, h->mask_vin);
    snprintf(out, n, "%s%s%s", h->odometer, h->odometer[0] && plate[0] ? ", " : "", plate);
}

static const char *bank_shown(unsigned bank, char out[16])
{
    if (bank)
        snprintf(out, 16, "bank %u", bank);
    return bank ? out : "bank not known";
}

/* Lines to write on where nothing was given. */
static void owned(struct oxl_page *p, const struct oxl_record_header *a,
                  const struct oxl_record_header *b)
{
    char ca[80], cb[80];
    both(p, "Make, model, year", oxl_owner_shown(a->vehicle, a->mask_vin),
         oxl_owner_shown(b->vehicle, b->mask_vin), "");
    odometer_and_plate(a, ca, sizeof ca);
    odometer_and_plate(b, cb, sizeof cb);
    both(p, "Odometer, plate", ca, cb, "");
}

void oxl_part_order(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const struct oxl_test_record *s = tests[0].record, *t = tests[n - 1].record;
    const struct oxl_record_header *a = &s->header, *b = &t->header;
    char va[18], vb[18], da[40], db[40], ba[16], bb[16];
    oxl_vin_shown(s->vehicle.vin, a->mask_vin, va);
    oxl_vin_shown(t->vehicle.vin, b->mask_vin, vb);
    date_shown(a->started, da);
    date_shown(b->started, db);
    p->area = n > 1 ? OXL_AREA_ORDER_LEFT : OXL_AREA_FIGURES;
    oxl_page_heading(p, "Repair order", "");
    both(p, "Number", a->order, b->order, "");
    oxl_page_field(p, "Customer", "%s", "");
    owned(p, a, b);
    if (n > 1)
        p->area = OXL_AREA_ORDER_RIGHT;
    both(p, "VIN", va[0] ? va : "not known", vb[0] ? vb : "not known", "");
    both(p, n > 1 ? "Dates" : "Date", da, db, "");
    both(p, "Tested", bank_shown(a->bank, ba), bank_shown(b->bank, bb), "");
    both(p, "Gas fed at", a->inlet, b->inlet, "not noted");
    both(p, "Technician", a->technician, b->technician, "");
}

static void recording(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    const struct oxl_imported *a = &s->header.imported;
    const char *table = a->on ? a->table_sha256 : "";
    oxl_page_field(p, name[0] ? name : "Recording", "%s%.200s%s, oxylag %s%s%s%s%s",
                   name[0] ? "recording " : "", s->recording_name[0] ? s->recording_name : "none",
                   s->torn ? ", its last line cut off and left out" : "",
                   s->header.program[0] ? s->header.program : "of unknown version",
                   s->sha256[0] ? ", SHA-256 " : "", s->sha256, table[0] ? "; its table's " : "",
                   table);
}

void oxl_part_inspected_order(struct oxl_page *p, const struct oxl_record_header *h)
{
    char carried[80], date[40];
    odometer_and_plate(h, carried, sizeof carried);
    date_shown(h->started, date);
    const char *const fields[][2] = {{"Repair order", h->order},
                                     {"Vehicle", oxl_owner_shown(h->vehicle, h->mask_vin)},
                                     {"Odometer, plate", carried},
                                     {"Technician", h->technician},
                                     {"Note", h->note},
                                     {"Date", date}};
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++)
        if (fields[i][1][0])
            oxl_page_field(p, fields[i][0], "%s", fields[i][1]);
}

void oxl_part_record(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    p->area = OXL_AREA_FOOT;
    for (size_t i = 0; i < n; i++)
        recording(p, tests[i].record, p->names[i]);
    oxl_page_block(p, OXL_BLOCK_SIGN, "", "Technician, date");
    oxl_page_block(p, OXL_BLOCK_SIGN, "", "Customer, date");
}

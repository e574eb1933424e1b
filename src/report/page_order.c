/* Whose vehicle, which test; and at the foot, which recording. */
#include <stdio.h>
#include <string.h>

#include "page.h"
#include "record/vehicle_text.h"
#include "words.h"

/* "2024-06-11T14:03:27+02:00" as people write it. */
static void date_shown(const char *iso, char out[40])
{
    snprintf(out, 40, "%.31s", iso);
    if (strlen(out) > 19 && out[10] == 'T') {
        out[10] = ' ';
        out[19] = '\0';
    }
}

static void both(char *out, size_t n, const char *a, const char *b)
{
    if (b == NULL || strcmp(a, b) == 0)
        snprintf(out, n, "%s", a);
    else
        snprintf(out, n, "%s / %s", a[0] ? a : "not noted", b[0] ? b : "not noted");
}

static const char *bank_shown(unsigned bank, char out[16])
{
    if (bank)
        snprintf(out, 16, "bank %u", bank);
    return bank ? out : "bank not known";
}

static void test_field(struct oxl_page *p, struct oxl_list *l, const char *name,
                       const struct oxl_record_header *a, const struct oxl_record_header *b)
{
    char da[40], db[40] = "", ba[16], bb[16], text[160];
    date_shown(a->started, da);
    if (b)
        date_shown(b->started, db);
    both(text, sizeof text, da, b ? db : NULL);
    oxl_list_field(p, l, name, text);
    both(text, sizeof text, bank_shown(a->bank, ba), b ? bank_shown(b->bank, bb) : NULL);
    oxl_list_field(p, l, "Tested", text);
    both(text, sizeof text, a->inlet, b ? b->inlet : NULL);
    oxl_list_field(p, l, "Gas fed at", text[0] ? text : "not noted");
}

void oxl_part_order(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const struct oxl_test_record *s = tests[0].story, *t = n > 1 ? tests[1].story : NULL;
    char text[300], va[18], vb[18] = "";
    struct oxl_list *l = &p->order_left;
    both(text, sizeof text, s->header.order, t ? t->header.order : NULL);
    oxl_list_field(p, l, "Repair order", text);
    oxl_list_field(p, l, "Customer", "");
    oxl_list_field(p, l, "Make, model, year", "");
    oxl_list_field(p, l, "Odometer, plate", "");
    l = &p->order_right;
    oxl_vin_shown(s->vehicle.vin, s->header.mask_vin, va);
    if (t)
        oxl_vin_shown(t->vehicle.vin, t->header.mask_vin, vb);
    both(text, sizeof text, va[0] ? va : "not known", t ? (vb[0] ? vb : "not known") : NULL);
    oxl_list_field(p, l, "Vehicle's number", text);
    test_field(p, l, n > 1 ? "Dates" : "Date", &s->header, t ? &t->header : NULL);
    both(text, sizeof text, s->header.technician, t ? t->header.technician : NULL);
    oxl_list_field(p, l, "Technician", text);
}

void oxl_part_record(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    char text[512], label[32];
    snprintf(label, sizeof label, "%s%secording", name, name[0] ? " r" : "R");
    snprintf(text, sizeof text, "%.200s%s%s%s, oxylag %s",
             s->recording_name[0] ? s->recording_name : "none", s->sha256[0] ? ", SHA-256 " : "",
             s->sha256, s->torn ? ", its last line cut off" : "",
             s->header.program[0] ? s->header.program : "of unknown version");
    oxl_list_field(p, &p->foot, label, text);
}

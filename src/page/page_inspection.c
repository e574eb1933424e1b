/* The page of an inspection. */
#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"
#include "page.h"
#include "record/event_parts.h"

static void ecu(struct oxl_page *p, const struct oxl_ecu_info *e)
{
    char label[24], text[300];
    snprintf(text, sizeof text, "%s", e->name[0] ? e->name : "gives no name");
    snprintf(label, sizeof label, "ECU %X", (unsigned)e->ecu);
    for (size_t c = 0; c < e->calibration_n; c++)
        oxl_append(text, sizeof text, "; %s", e->calibration[c]);
    for (size_t c = 0; c < e->verification_n; c++)
        oxl_append(text, sizeof text, "; CVN %08X", (unsigned)e->verification[c]);
    oxl_page_field(p, label, "%s", text);
}

static void summary(struct oxl_page *p, const struct oxl_inspection *v)
{
    static const char *const words[] = {
        [OXL_GRADE_UNKNOWN] = "Little is known of this vehicle",
        [OXL_GRADE_PASS] = "Nothing found that prevents the test",
        [OXL_GRADE_CAUTION] = "The test can be done: watch the cautions below",
        [OXL_GRADE_STOP] = "Do not test yet: fix what is marked stop",
    };
    p->area = OXL_AREA_VERDICT;
    oxl_page_block(p, OXL_BLOCK_VERDICT, "",
                   v->worst == OXL_GRADE_UNKNOWN && v->code_unknown
                       ? "Look up the unknown trouble code before the test"
                       : words[v->worst]);
    for (size_t i = 0; i < v->checks_n; i++)
        if (v->checks[i].grade == OXL_GRADE_STOP)
            oxl_page_field(p, oxl_grade_name(OXL_GRADE_STOP), "%s",
                           v->checks[i].advice[0] ? v->checks[i].advice : v->checks[i].found);
}

static void facts(struct oxl_page *p, const struct oxl_inspection *v,
                  const struct oxl_record_header *h)
{
    char vin[18];
    oxl_vin_shown(v->vehicle.vin, h->mask_vin, vin);
    p->area = OXL_AREA_WHY;
    oxl_part_inspected_order(p, h);
    oxl_page_field(p, "Bank", "%u", v->bank);
    oxl_page_field(p, "VIN", "%s", vin[0] ? vin : "not known");
    oxl_page_field(p, "Adapter", "%s", v->vehicle.adapter[0] ? v->vehicle.adapter : "not known");
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        ecu(p, &v->onboard.ecus[i]);
}

/* ---- tables --------------------------------------------------------------------------------- */

static const struct oxl_readiness *this_cycle(const struct oxl_inspection *v)
{
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        if (v->onboard.ecus[i].ecu == v->vehicle.ecu && v->onboard.ecus[i].cycle.known)
            return &v->onboard.ecus[i].cycle;
    return NULL;
}

/* The state of every monitor of the ECU used for the test: in this cycle and since the DTCs were
 * cleared. */
static void readiness(struct oxl_page *p, const struct oxl_inspection *v)
{
    static const double weights[] = {1.2, 1.2, 1};
    static const char *const names[] = {
#define X(id, word, words) words,
        OXL_MONITORS(X)
#undef X
    };
    const struct oxl_readiness *all = &v->vehicle.readiness, *cycle = this_cycle(v);
    if (!all->known)
        return;
    oxl_page_table(p, 3, weights);
    oxl_page_cell(p, "Monitor");
    oxl_page_cell(p, "Since DTCs were cleared");
    oxl_page_cell(p, "This driving cycle");
    for (enum oxl_monitor m = 0; m < OXL_MON_COUNT; m++) {
        if (!all->supported[m] && !(cycle && cycle->supported[m]))
            continue;
        oxl_page_cell(p, "%s", names[m]);
        oxl_page_cell(p, "%s", oxl_readiness_words(all, m, "not supported"));
        oxl_page_cell(p, "%s", oxl_readiness_words(cycle, m, "does not run"));
    }
}

static void pids(struct oxl_page *p, const struct oxl_support *s)
{
    char list[3 * 256 + 1] = "";
    for (unsigned pid = 1; pid < 0x100; pid++)
        if (pid % 0x20 && oxl_supports(s, (uint8_t)pid))
            oxl_append(list, sizeof list, "%02X ", pid);
    oxl_page_heading(p, "PIDs supported (service 01)", "");
    oxl_page_text(p, "%s", list[0] ? list : "none");
}

/* Where room is scarce what passed is left out. */
static void section(struct oxl_page *p, const struct oxl_inspection *v, size_t s)
{
    const size_t to = s + 1 < v->sections_n ? v->sections[s + 1].first : v->checks_n;
    const size_t most = oxl_page_most(p, 7);
    const char *title = v->sections[s].title;
    size_t n = 0, left_out = 0;
    /* Two columns of about the same length; in text one follows the other. */
    p->area = 2 * v->sections[s].first < v->checks_n ? OXL_AREA_CHECK_LEFT : OXL_AREA_CHECK_RIGHT;
    oxl_page_heading(p, title, "");
    for (size_t i = v->sections[s].first; i < to; i++)
        if (n < most && (most == SIZE_MAX || v->checks[i].grade != OXL_GRADE_PASS)) {
            oxl_part_check(p, &v->checks[i]);
            n++;
        } else {
            left_out++;
        }
    oxl_page_more(p, left_out, 0);
    if (strcmp(title, "Readiness") == 0)
        readiness(p, v);
    if (strcmp(title, "Freeze frame") == 0)
        oxl_part_values(p, "In the freeze frame", v->onboard.frozen, v->onboard.frozen_n);
    if (strcmp(title, "Engine now") == 0)
        oxl_part_values(p, "As read just now", v->reading, v->readings_n);
}

void oxl_page_make_inspection(struct oxl_page *p, const struct oxl_inspection *v,
                              const struct oxl_record_header *h, enum oxl_detail detail)
{
    oxl_page_start(p, detail);
    oxl_page_title(p, "Inspection before the oxygen storage test");
    if (h->simulated)
        oxl_page_block(p, OXL_BLOCK_BANNER, "", "SIMULATED - no vehicle was inspected.");
    summary(p, v);
    facts(p, v, h);
    for (size_t s = 0; s < v->sections_n; s++)
        section(p, v, s);
    pids(p, &v->vehicle.support);
}

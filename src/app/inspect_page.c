#include "inspect_page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "record/vehicle_text.h"
#include "report/text_page.h"

static void facts(const struct oxl_inspection *v, const char *port, bool mask_vin,
                  struct oxl_buf *out)
{
    char vin[18], text[96];
    oxl_vin_shown(v->vehicle.vin, mask_vin, vin);
    oxl_buf_add(out, "INSPECTION BEFORE THE OXYGEN STORAGE TEST\n");
    if (strncmp(port, "sim:", 4) == 0)
        oxl_page_text(out, "*** SIMULATED *** ", "No vehicle was inspected.");
    oxl_buf_add(out, "\n");
    snprintf(text, sizeof text, "%u", v->bank);
    oxl_page_field(out, "Bank", text);
    oxl_page_field(out, "VIN", vin[0] ? vin : "not known");
    oxl_page_field(out, "Adapter", v->vehicle.adapter[0] ? v->vehicle.adapter : "not known");
    for (size_t i = 0; i < v->onboard.ecus_n; i++) {
        const struct oxl_ecu_info *u = &v->onboard.ecus[i];
        char label[24];
        size_t len = 0;
        snprintf(label, sizeof label, "Unit %X", (unsigned)u->ecu);
        len += (size_t)snprintf(text, sizeof text, "%s", u->name[0] ? u->name : "gives no name");
        for (size_t c = 0; c < u->calibration_n && len < sizeof text; c++)
            len += (size_t)snprintf(text + len, sizeof text - len, "; %s", u->calibration[c]);
        for (size_t c = 0; c < u->verification_n && len < sizeof text; c++)
            len += (size_t)snprintf(text + len, sizeof text - len, "; CVN %08X",
                                    (unsigned)u->verification[c]);
        oxl_page_field(out, label, text);
    }
}

static void check(const struct oxl_check *c, struct oxl_buf *out)
{
    char label[48], text[sizeof c->found + sizeof c->advice + 8];
    snprintf(label, sizeof label, "%-8s %-21.24s ", oxl_grade_name(c->grade), c->id);
    snprintf(text, sizeof text, "%s%s%s", c->found, c->advice[0] ? " -> " : "", c->advice);
    oxl_page_text(out, label, text);
}

/* The state of every monitor that the unit listened to has: this cycle's beside the lasting. */
static void readiness_table(const struct oxl_inspection *v, struct oxl_buf *out)
{
    const struct oxl_readiness *all = &v->vehicle.readiness, *cycle = NULL;
    for (size_t i = 0; i < v->onboard.ecus_n; i++)
        if (v->onboard.ecus[i].ecu == v->vehicle.ecu && v->onboard.ecus[i].cycle.known)
            cycle = &v->onboard.ecus[i].cycle;
    if (!all->known)
        return;
    oxl_buf_add(out, "\n  %-20s %-24s %s\n", "monitor", "since codes were cleared",
                "this driving cycle");
    for (unsigned m = 0; m < OXL_MON_COUNT; m++) {
        if (!all->supported[m] && !(cycle && cycle->supported[m]))
            continue;
        oxl_buf_add(out, "  %-20s %-24s %s\n", oxl_monitor_word((enum oxl_monitor)m),
                    !all->supported[m] ? "not supported"
                    : all->complete[m] ? "complete"
                                       : "not complete",
                    !cycle                 ? "not known"
                    : !cycle->supported[m] ? "does not run"
                    : cycle->complete[m]   ? "complete"
                                           : "not complete");
    }
}

static void values(const char *title, const struct oxl_sample *s, size_t n, struct oxl_buf *out)
{
    if (n == 0)
        return;
    oxl_buf_add(out, "\n  %s:\n", title);
    for (size_t i = 0; i < n; i++) {
        char name[32];
        oxl_channel_name(s[i].channel, name, sizeof name);
        oxl_buf_add(out, "  %-22s %8.4g%s", name, s[i].value, i % 2 || i + 1 == n ? "\n" : "   ");
    }
}

static void items(const struct oxl_support *s, struct oxl_buf *out)
{
    char list[3 * 256 + 1];
    size_t len = 0;
    list[0] = '\0';
    for (unsigned item = 1; item < 0x100; item++)
        if (item % 0x20 && oxl_supports(s, (uint8_t)item))
            len += (size_t)snprintf(list + len, sizeof list - len, "%02X ", item);
    oxl_page_heading(out, "Items supported (service 01)");
    oxl_page_text(out, "", len ? list : "none");
}

static void summary(const struct oxl_inspection *v, struct oxl_buf *out)
{
    static const char *const words[] = {
        [OXL_GRADE_UNKNOWN] = "Little is known of this vehicle.",
        [OXL_GRADE_PASS] = "Nothing stands against the test.",
        [OXL_GRADE_CAUTION] = "The test can be done; mind the cautions above.",
        [OXL_GRADE_STOP] = "Do not test yet: put right what is marked stop.",
    };
    oxl_page_heading(out, "In short");
    oxl_buf_add(out, "%s\n", words[v->worst]);
    for (size_t i = 0; i < v->checks_n; i++)
        if (v->checks[i].grade == OXL_GRADE_STOP)
            oxl_page_text(out, "stop     ",
                          v->checks[i].advice[0] ? v->checks[i].advice : v->checks[i].found);
}

void oxl_inspect_page(const struct oxl_inspection *v, const char *port, bool mask_vin,
                      struct oxl_buf *out)
{
    facts(v, port, mask_vin, out);
    for (size_t s = 0; s < v->sections_n; s++) {
        size_t to = s + 1 < v->sections_n ? v->sections[s + 1].first : v->checks_n;
        const char *title = v->sections[s].title;
        oxl_page_heading(out, title);
        for (size_t i = v->sections[s].first; i < to; i++)
            check(&v->checks[i], out);
        if (strcmp(title, "Readiness") == 0)
            readiness_table(v, out);
        if (strcmp(title, "Freeze frame") == 0)
            values("as frozen", v->onboard.frozen, v->onboard.frozen_n, out);
        if (strcmp(title, "Engine now") == 0)
            values("as read just now", v->reading, v->readings_n, out);
    }
    items(&v->vehicle.support, out);
    summary(v, out);
}

/* The pre-check; marks and notes. */
#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"
#include "page.h"

/* Codes that do no harm stand with the vehicle already. */
static bool said_already(const struct oxl_check *c)
{
    return c->grade == OXL_GRADE_PASS && strncmp(c->id, "codes-", 6) == 0;
}

/* What stands before the words of a check that do not name it. After a "-" more of the id follows:
 * the address of an ECU, or a trouble code. */
static const struct {
    const char *id, *words;
} lead_ins[] = {
    {"air", "air flow: "},
    {"catalyst-monitor", "catalyst monitor: "},
    {"closed-loop-2", "second bank: "},
    {"converter", "converter: "},
    {"freeze-frame", "freeze frame: "},
    {"front-proof", "front sensor: "},
    {"layout", "oxygen sensors: "},
    {"leak-check-", "leak check "},
    {"link", "link: "},
    {"pending-", "pending "},
    {"permanent-", "permanent "},
    {"readiness", "readiness: "},
    {"rear-proof", "rear sensor: "},
    {"sensors", "oxygen sensors of "},
    {"sensors-bank-1", "oxygen sensors of "},
    {"sensors-bank-2", "oxygen sensors of "},
    {"stored-", "stored "},
    {"unit-", "ECU "},
};

static void check_words(const struct oxl_check *c, char *out, size_t n)
{
    const char *words = "", *rest = "";
    for (size_t i = 0; i < sizeof lead_ins / sizeof lead_ins[0]; i++) {
        const size_t len = strlen(lead_ins[i].id);
        const bool open = lead_ins[i].id[len - 1] == '-';
        if (strncmp(c->id, lead_ins[i].id, len) == 0 && (open || !c->id[len])) {
            words = lead_ins[i].words;
            rest = c->id + len;
        }
    }
    snprintf(out, n, "%s%s%s%s%s%s", words, rest, rest[0] ? ": " : "",
             c->found[0] ? c->found : "not known", c->advice[0] ? ". " : "", c->advice);
}

void oxl_part_check(struct oxl_page *p, const struct oxl_check *c)
{
    char text[sizeof c->found + sizeof c->advice + sizeof c->id + 8];
    check_words(c, text, sizeof text);
    oxl_page_field(p, oxl_grade_name(c->grade), "%s", text);
}

/* All that passed in one go: the closer look is kept for what did not. Where room is scarce they
 * are counted. */
static void passed(struct oxl_page *p, const struct oxl_test_record *s)
{
    char text[1000] = "", one[256];
    size_t n = 0;
    for (size_t i = 0; i < s->checks_n && strlen(text) + 260 < sizeof text; i++)
        if (s->checks[i].grade == OXL_GRADE_PASS && !said_already(&s->checks[i])) {
            check_words(&s->checks[i], one, sizeof one);
            oxl_append_word(text, sizeof text, "; ", one);
            n++;
        }
    if (n && p->detail >= OXL_DETAIL_LEAST)
        oxl_page_field(p, "pass", "%zu more checks; the report as text has them.", n);
    else if (n)
        oxl_page_field(p, "pass", "%s", text);
}

void oxl_part_checks(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    /* Two tests side by side have no room for each check that passed. */
    const bool each = p->detail == OXL_DETAIL_WHOLE || (p->detail == OXL_DETAIL_FULL && !name[0]);
    const size_t most = oxl_page_most(p, 7);
    size_t n = 0;
    oxl_page_heading(p, "Pre-check", name);
    if (s->checks_n == 0)
        oxl_page_text(p, "No check was made.");
    for (size_t i = 0; i < s->checks_n; i++)
        if (!said_already(&s->checks[i]) && (each || s->checks[i].grade != OXL_GRADE_PASS) &&
            n++ < most)
            oxl_part_check(p, &s->checks[i]);
    oxl_page_more(p, n, most);
    if (!each)
        passed(p, s);
}

void oxl_part_notes(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    static const size_t room[] = {OXL_RECORD_MAX_NOTES, 16, 6, 2, 2};
    const size_t shown = room[p->detail];
    if (s->notes_n == 0 && !s->header.note[0])
        return;
    oxl_page_heading(p, "Marks and notes", name);
    if (s->header.note[0])
        oxl_page_point(p, "-", "%s", s->header.note);
    for (size_t i = 0; i < s->notes_n && i < shown; i++)
        oxl_page_point(p, "-", "%.1f s: %s", (double)s->notes[i].t_us / 1e6, s->notes[i].text);
    if (s->notes_n > shown || s->notes_n == OXL_RECORD_MAX_NOTES)
        oxl_page_text(p, "There may be more in the recording.");
}

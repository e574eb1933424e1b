#include "oxylag/test_record.h"

#include <stdio.h>
#include <string.h>

void oxl_test_record_init(struct oxl_test_record *s, const struct oxl_record_header *header)
{
    memset(s, 0, sizeof *s);
    oxl_profile_defaults(&s->profile);
    s->baseline_trim_pct = NAN;
    if (header) {
        s->header = *header;
        s->profile = header->profile;
    }
}

static void note(struct oxl_test_record *s, int64_t t_us, const char *before, const char *text)
{
    if (s->notes_n == OXL_RECORD_MAX_NOTES)
        return;
    s->notes[s->notes_n].t_us = t_us;
    const int room = (int)sizeof s->notes[0].text - 1 - (int)strlen(before);
    snprintf(s->notes[s->notes_n].text, sizeof s->notes[0].text, "%s%.*s", before, room, text);
    s->notes_n++;
}

/* The last word of a check counts; its place in the list is that of its first. */
static void check(struct oxl_test_record *s, const struct oxl_check *c)
{
    size_t i = 0;
    while (i < s->checks_n && strcmp(s->checks[i].id, c->id) != 0)
        i++;
    if (i == OXL_RECORD_MAX_CHECKS)
        return;
    s->checks[i] = *c;
    if (i == s->checks_n)
        s->checks_n++;
}

const struct oxl_check *oxl_test_record_check(const struct oxl_test_record *s, const char *id)
{
    for (size_t i = s->checks_n; i > 0; i--)
        if (strncmp(s->checks[i - 1].id, id, strlen(id)) == 0)
            return &s->checks[i - 1];
    return NULL;
}

/* A run that is taken back is said again under its number. */
static void run(struct oxl_test_record *s, const struct oxl_event *ev)
{
    if (s->runs_n > 0 && s->runs[s->runs_n - 1].run == ev->u.run.run) {
        s->runs[s->runs_n - 1] = ev->u.run;
        return;
    }
    if (s->runs_n == OXL_RECORD_MAX_RUNS)
        return;
    s->runs[s->runs_n] = ev->u.run;
    s->run_t_us[s->runs_n] = ev->t_us;
    s->runs_n++;
}

/* The session says only the name; one that it chose by itself is one of the built-in ones. */
static void profile(struct oxl_test_record *s, const struct oxl_event *ev)
{
    snprintf(s->profile_why, sizeof s->profile_why, "%s", ev->u.profile.why);
    if (ev->u.profile.profile)
        s->profile = *ev->u.profile.profile;
}

static void stopped(struct oxl_test_record *s, const char *why)
{
    if (why[0])
        snprintf(s->stopped_why, sizeof s->stopped_why, "%s", why);
}

static void advice(struct oxl_test_record *s, const struct oxl_event *ev)
{
    enum oxl_advice a = ev->u.advice.advice;
    const char *detail = ev->u.advice.detail;
    if (a == OXL_ADV_OVERRIDE)
        note(s, ev->t_us, detail[0] ? "Passed by hand: " : "Passed by hand.", detail);
    else if (a == OXL_ADV_UNSUITABLE || a == OXL_ADV_ABORTED)
        stopped(s, detail[0] ? detail : oxl_advice_text(a));
}

static void link_state(struct oxl_test_record *s, const struct oxl_event *ev)
{
    if (ev->u.link.state == OXL_LINK_NO_ADAPTER || ev->u.link.state == OXL_LINK_NO_VEHICLE)
        stopped(s, ev->u.link.text[0] ? ev->u.link.text : oxl_link_state_name(ev->u.link.state));
}

void oxl_test_record_event(struct oxl_test_record *s, const struct oxl_event *ev)
{
    switch (ev->kind) {
    case OXL_EV_STATE:
        s->last_state = ev->u.state.state;
        break;
    case OXL_EV_ADVICE:
        advice(s, ev);
        break;
    case OXL_EV_CHECK:
        check(s, &ev->u.check);
        break;
    case OXL_EV_RUN:
        run(s, ev);
        break;
    case OXL_EV_RESULT:
        s->has_result = true;
        s->result = ev->u.result;
        break;
    case OXL_EV_LINK:
        link_state(s, ev);
        break;
    case OXL_EV_VEHICLE:
        s->vehicle = *ev->u.vehicle;
        break;
    case OXL_EV_PROFILE:
        profile(s, ev);
        break;
    case OXL_EV_BASELINE:
        s->baseline_trim_pct = ev->u.baseline.trim_pct;
        break;
    case OXL_EV_MARK:
        note(s, ev->t_us, "", ev->u.mark.text);
        break;
    case OXL_EV_SAMPLE:
        break;
    }
}

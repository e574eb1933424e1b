#include "whole_test.h"

#include <math.h>
#include <stdlib.h>

static const int64_t second_us = 1000000, longest_s = 1800;

static void on_advice(struct whole_test *t, enum oxl_advice a)
{
    if (a == OXL_ADV_DEEPER_OFFER && t->manner == DECLINES)
        t->press = OXL_KEY_DEEPER;
    if (a == OXL_ADV_LEAK_OFFER && t->manner == CHECKS_LEAK)
        t->press = OXL_KEY_LEAK;
    t->leak_clear = t->leak_clear || a == OXL_ADV_LEAK_NO;
    t->leak_found = t->leak_found || a == OXL_ADV_LEAK_YES;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct whole_test *t = ctx;
    if (ev->kind == OXL_EV_SAMPLE) {
        if (ev->u.sample.channel.quantity == OXL_Q_CAT_TEMP_C)
            t->cat_temp_c = ev->u.sample.value;
        return;
    }
    oxl_test_record_event(&t->record, ev);
    if (ev->kind == OXL_EV_ADVICE)
        on_advice(t, ev->u.advice.advice);
    if (ev->kind == OXL_EV_RUN && ev->u.run.run == 1 && t->manner == CHECKS_LEAK &&
        t->seed / MANNERS % 2)
        t->press = OXL_KEY_LEAK;
    if (ev->kind == OXL_EV_RUN && ev->u.run.valid && t->manner == ENDS_EARLY)
        t->press = OXL_KEY_END;
}

void whole_test_run(struct whole_test *t, const char *scenario, uint64_t seed)
{
    *t = (struct whole_test){.scenario = scenario, .seed = seed, .cat_temp_c = NAN};
    t->manner = (enum manner)(seed % MANNERS);
    t->rig = (struct rig){.ctx = t, .event = on_event};
    oxl_test_record_init(&t->record, NULL);
    if (!rig_start(&t->rig, scenario, seed, OXL_TECH_GUIDED))
        abort();
    if (t->manner == SAYS_NEW)
        rig_key(&t->rig, OXL_KEY_NEW);
    if (t->manner == WANTS_DEEPER)
        rig_key(&t->rig, OXL_KEY_DEEPER);
    while (!oxl_session_over(t->rig.session) && t->rig.now_us < longest_s * second_us) {
        rig_run(&t->rig, t->rig.now_us + second_us / 2);
        if (t->press && !oxl_session_over(t->rig.session))
            rig_key(&t->rig, t->press);
        t->press = OXL_KEY_NONE;
    }
    struct oxl_live live;
    oxl_session_live(t->rig.session, t->rig.now_us, &live);
    t->profile = *live.profile;
    rig_stop(&t->rig);
}

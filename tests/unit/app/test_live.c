/* What the screen is told between the events, from a simulated test. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "rig.h"

/* An ordinary run has its minute. Past the depth of one, a deeper run has seconds only: the screen
 * counts those. */
static void a_deeper_run_counts_its_own_seconds(void **state)
{
    (void)state;
    struct rig r;
    struct oxl_live live;
    double last_s = NAN, before_s = 0;
    memset(&r, 0, sizeof r);
    assert_true(rig_start(&r, "deeper-dead", 1, OXL_TECH_GUIDED));
    rig_key(&r, OXL_KEY_DEEPER);
    while (!oxl_session_over(r.session) && r.now_us < 600000000) {
        rig_run(&r, r.now_us + 50000);
        oxl_session_live(r.session, r.now_us, &live);
        if (live.state != OXL_STATE_ENRICHMENT || !oxl_known(live.heat_left_s))
            continue;
        if (live.deeper)
            last_s = live.heat_left_s;
        else
            before_s = fmax(before_s, live.heat_left_s);
    }
    assert_true(last_s > 0 && last_s <= 15); /* when the gas was cut */
    assert_true(before_s > 50 && before_s <= 60);
    rig_stop(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_deeper_run_counts_its_own_seconds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Reading a profile: what is taken, and what is refused with which words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/profile.h"
#include "profile/keys.h"

static void take(const char *text, struct oxl_profile *p)
{
    struct oxl_error err;
    if (oxl_profile_parse(text, "t.ini", p, &err) != OXL_OK)
        fail_msg("refused: %s", err.text);
}

static void nothing_gives_the_defaults(void **state)
{
    (void)state;
    struct oxl_profile p, d;
    oxl_profile_defaults(&d);
    memset(&p, 0x55, sizeof p);
    take("", &p);
    assert_memory_equal(&p, &d, sizeof p);
    /* The numbers of include/oxylag/profile.h, said once more. */
    assert_string_equal(d.name, "default");
    assert_true(d.front == OXL_WANT_ANY && d.air == OXL_AIR_ANY && d.link == OXL_LINK_ANY);
    assert_true(d.coolant_min_c == 70 && d.run_time_min_s == 120 && d.cat_temp_min_c == 350);
    assert_true(d.rpm_max == 3200 && d.rpm_band == 150 && d.trim_abs_max_pct == 10);
    assert_true(d.idle_restart_s == 480);
    assert_true(d.band_pct == 8 && d.window_s == 10 && d.opening_max_pct == 20);
    assert_true(d.baseline_limit_s == 600);
    assert_true(d.target_pct == -20 && d.accept_low_pct == -25 && d.accept_high_pct == -15);
    assert_true(d.slow_pct == -17 && d.back_off_pct == -30 && d.rpm_drop_pct == 15);
    assert_true(d.hold_s == 2 && d.enrich_limit_s == 60);
    assert_true(d.switch_v == 0.45 && d.rich_v == 0.5 && d.lean_v == 0.4);
    assert_true(d.lambda_step == 0.01 && d.lambda_balance == 1 && d.balance_ma == 0);
    assert_true(d.balance_v != d.balance_v && d.displacement_l != d.displacement_l);
    assert_true(d.front_tau_s == 0.1 && d.rear_tau_s == 0.15);
    assert_true(d.release_limit_s == 15 && d.timing_limit_s == 30 && d.recovery_limit_s == 120);
    assert_true(d.runs == 3 && d.run_rpm_band == 50);
    assert_true(d.volumetric_eff == 0.75 && d.volumetric_eff_err == 0.15 && d.air_err == 0.05);
    assert_true(d.humidity_ratio == 0.008 && d.path_volume_l == 1.2 && d.path_volume_err == 0.5);
    assert_true(d.exhaust_c == 430 && d.engine_delay_s == 0.4 && d.gas_tail_s == 0.4);
    assert_true(d.lambda_err == 0.01);
    assert_true(d.bad_s == 2 && d.good_s == 7);
    assert_true(d.bad_g_per_g_s == 0.044 && d.good_g_per_g_s == 0.137);
    assert_string_equal(d.limits_origin, "common practice, no published source");
}

/* Real logs: 43 warm idles of one 1.5-litre car, 14,016 ten-second windows without any gas. Peak to
 * peak of the total trim: median 3.9 %, 90 of 100 under 7.0 %, 75 of 100 within 5 %, 96 within 8 %;
 * largest fall within 30 s: 11.4 %. */
static void the_defaults_suit_real_idles(void **state)
{
    (void)state;
    struct oxl_profile d;
    oxl_profile_defaults(&d);
    assert_true(d.window_s == 10);
    /* 5 % would make a quarter of honest windows wait; 8 % passes 96 of 100, and a band wide enough
     * to pass all (14.8 %) would pass a fall that is gas. */
    assert_true(d.band_pct > 7.0 && d.band_pct < 11.4);
    /* What an idle does by itself is never an accepted enrichment. */
    assert_true(d.accept_high_pct < -11.4 && d.slow_pct < -11.4 && d.target_pct < -11.4);
}

static void what_is_taken(void **state)
{
    (void)state;
    struct oxl_profile p, d;
    take("\xEF\xBB\xBF[profile]\r\n"
         "name = shop-1\r\n"
         "  title =  our own = and more   ; said so\r\n"
         "# a comment with any bytes: \xC3\xA4\n"
         "[match]\n"
         "air = speed-density\n"
         "\t[baseline]\n"
         "\tband_pct=6.5\n"
         "   window_s = 1.2e1 ; seconds\n"
         "[timing]\n"
         "runs = 5\n"
         "[air] ; the engine\n"
         "displacement_l = 1.6\n"
         "[baseline]\n"
         "opening_max_pct = 15", /* the last line has no end */
         &p);
    oxl_profile_defaults(&d);
    strcpy(d.name, "shop-1");
    memset(d.title, 0, sizeof d.title);
    strcpy(d.title, "our own = and more");
    d.air = OXL_AIR_SPEED_DENSITY;
    d.band_pct = 6.5;
    d.window_s = 12;
    d.runs = 5;
    d.displacement_l = 1.6;
    d.opening_max_pct = 15;
    memset(d.name + 6, 0, sizeof d.name - 6);
    assert_memory_equal(&p, &d, sizeof p);
}

static void unknown_is_a_value(void **state)
{
    (void)state;
    struct oxl_profile p;
    take("[air]\ndisplacement_l = unknown\n[sensors]\nbalance_v = unknown\n", &p);
    assert_true(p.displacement_l != p.displacement_l && p.balance_v != p.balance_v);
}

static void every_word(void **state)
{
    (void)state;
    static const char *const fronts[] = {"any", "wide", "switching"};
    static const char *const airs[] = {"any", "meter", "speed-density", "none"};
    static const char *const links[] = {"any", "can", "kline"};
    struct oxl_profile p;
    char text[100];
    for (unsigned i = 0; i < 4; i++) {
        snprintf(text, sizeof text, "[match]\nair=%s\nfront=%s\nlink=%s\n", airs[i], fronts[i % 3],
                 links[i % 3]);
        take(text, &p);
        assert_int_equal(p.air, i);
        assert_int_equal(p.front, i % 3);
        assert_int_equal(p.link, i % 3);
    }
}

#define SECTIONS                                                                                   \
    "expected one of the sections profile, match, conditions, baseline, enrichment, deeper, "      \
    "sensors, "                                                                                    \
    "timing, air, limits"

static const struct {
    const char *text, *error;
} refused[] = {
    /* lines and sections */
    {"band_pct = 6\n", "t.ini:1: found band_pct before any [section], expected [profile] or so"},
    {"\n\n[base]\n", "t.ini:3: found [base], " SECTIONS},
    {"[ baseline ]\n", "t.ini:1: found [ baseline ], " SECTIONS},
    {"[]\n", "t.ini:1: found [], " SECTIONS},
    {"[baseline\n", "t.ini:1: found \"[baseline\", expected a section alone, as [baseline]"},
    {"[baseline] band_pct = 6\n",
     "t.ini:1: found \"[baseline] band_pct = 6\", expected a section alone, as [baseline]"},
    {"[baseline]\n; fine\nband_pct 6\n",
     "t.ini:3: found \"band_pct 6\", expected [section] or key = value"},
    {"[baseline]\nband_pct: 6\n",
     "t.ini:2: found \"band_pct: 6\", expected [section] or key = value"},
    {"[baseline]\n= 6\n", "t.ini:2: found \"= 6\", expected [section] or key = value"},
    {"[limits]\nbad_s = 1\n 2\n", "t.ini:3: found \"2\", expected [section] or key = value"},
    {"[profile]\ntitle = a\x07"
     "b\n",
     "t.ini:2: found the control character 07h, expected text"},
    {"; \x1B[2J\n", "t.ini:1: found the control character 1Bh, expected text"},
    {"; a\x7F\n", "t.ini:1: found the control character 7Fh, expected text"},
    {"[profile]\rname = x\n", "t.ini:1: found the control character 0Dh, expected text"},
    /* keys */
    {"[timing]\nrun = 3\n", "t.ini:2: [timing] found key run, expected one of release_limit_s, "
                            "timing_limit_s, recovery_limit_s, runs, run_rpm_band"},
    {"[timing]\nbad_s = 3\n", "t.ini:2: [timing] found key bad_s, expected one of release_limit_s, "
                              "timing_limit_s, recovery_limit_s, runs, run_rpm_band"},
    {"[limits]\nbad_s = 1\n\nbad_s = 1\n",
     "t.ini:4: [limits] bad_s: found a second time, expected once (see line 2)"},
    /* numbers */
    {"[baseline]\nband_pct = x\n",
     "t.ini:2: [baseline] band_pct: found \"x\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 8 %\n",
     "t.ini:2: [baseline] band_pct: found \"8 %\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 8 # wide\n",
     "t.ini:2: [baseline] band_pct: found \"8 # wide\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct =\n",
     "t.ini:2: [baseline] band_pct: found \"\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 0.49\n",
     "t.ini:2: [baseline] band_pct: found \"0.49\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 40.01\n",
     "t.ini:2: [baseline] band_pct: found \"40.01\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = nan\n",
     "t.ini:2: [baseline] band_pct: found \"nan\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = inf\n",
     "t.ini:2: [baseline] band_pct: found \"inf\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 1e999\n",
     "t.ini:2: [baseline] band_pct: found \"1e999\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 0x8\n",
     "t.ini:2: [baseline] band_pct: found \"0x8\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 6,5\n",
     "t.ini:2: [baseline] band_pct: found \"6,5\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = 6e\n",
     "t.ini:2: [baseline] band_pct: found \"6e\", expected a number from 0.5 to 40"},
    {"[baseline]\nband_pct = unknown\n",
     "t.ini:2: [baseline] band_pct: found \"unknown\", expected a number from 0.5 to 40"},
    {"[air]\ndisplacement_l = 0\n", "t.ini:2: [air] displacement_l: found \"0\", expected a number "
                                    "from 0.1 to 20, or unknown"},
    {"[timing]\nruns = 2.5\n",
     "t.ini:2: [timing] runs: found \"2.5\", expected a whole number from 1 to 9"},
    {"[timing]\nruns = 0\n",
     "t.ini:2: [timing] runs: found \"0\", expected a whole number from 1 to 9"},
    {"[timing]\nruns = -1\n",
     "t.ini:2: [timing] runs: found \"-1\", expected a whole number from 1 to 9"},
    /* words and texts */
    {"[match]\nfront = wi\n",
     "t.ini:2: [match] front: found \"wi\", expected one of: any wide switching"},
    {"[match]\nfront = any wide\n",
     "t.ini:2: [match] front: found \"any wide\", expected one of: any wide switching"},
    {"[match]\nfront =\n",
     "t.ini:2: [match] front: found \"\", expected one of: any wide switching"},
    {"[profile]\nname = My Shop\n", "t.ini:2: [profile] name: found \"My Shop\", expected 1 to 31 "
                                    "small letters, digits and -"},
    {"[profile]\ntitle = \xC3\xA4\n", "t.ini:2: [profile] title: found \"\xC3\xA4\", expected 1 to "
                                      "95 characters of printable ASCII without ;"},
    {"[limits]\nlimits_origin =\n",
     "t.ini:2: [limits] limits_origin: found \"\", expected 1 to 127 "
     "characters of printable ASCII without ;"},
    /* order of numbers; blamed is the later line */
    {"[sensors]\nlean_v = 0.47\n",
     "t.ini:2: [sensors] lean_v: found \"0.47\", expected a number below switch_v (0.45)"},
    {"[sensors]\nlean_v = 0.47\n\nswitch_v = 0.46\n",
     "t.ini:4: [sensors] switch_v: found \"0.46\", expected a number above lean_v (0.47)"},
    {"[sensors]\nrich_v = 0.45\n",
     "t.ini:2: [sensors] rich_v: found \"0.45\", expected a number above switch_v (0.45)"},
    {"[enrichment]\naccept_low_pct = -30\n",
     "t.ini:2: [enrichment] accept_low_pct: found \"-30\", expected a number above back_off_pct "
     "(-30)"},
    {"[enrichment]\ntarget_pct = -26\n",
     "t.ini:2: [enrichment] target_pct: found \"-26\", expected a number above or equal to "
     "accept_low_pct (-25)"},
    {"[enrichment]\nslow_pct = -14\n",
     "t.ini:2: [enrichment] slow_pct: found \"-14\", expected a number below or equal to "
     "accept_high_pct (-15)"},
    {"[enrichment]\nslow_pct = -21\n", "t.ini:2: [enrichment] slow_pct: found \"-21\", expected a "
                                       "number above or equal to target_pct "
                                       "(-20)"},
    {"[enrichment]\ntarget_pct=-20\nslow_pct=-20\naccept_high_pct=-20\n",
     "t.ini:4: [enrichment] accept_high_pct: found \"-20\", expected a number above target_pct "
     "(-20)"},
    {"[enrichment]\nhold_s = 6\nenrich_limit_s = 6\n",
     "t.ini:3: [enrichment] enrich_limit_s: found \"6\", expected a number above hold_s (6)"},
    {"[baseline]\nwindow_s = 20\nbaseline_limit_s = 15\n",
     "t.ini:3: [baseline] baseline_limit_s: found \"15\", expected a number above window_s (20)"},
    {"[limits]\nbad_s = 7\n",
     "t.ini:2: [limits] bad_s: found \"7\", expected a number below good_s (7)"},
    {"[timing]\ntiming_limit_s = 6\n", "t.ini:2: [timing] timing_limit_s: found \"6\", expected a "
                                       "number above or equal to good_s (7)"},
    {"[limits]\nbad_g_per_g_s = 0.2\n",
     "t.ini:2: [limits] bad_g_per_g_s: found \"0.2\", expected a "
     "number below good_g_per_g_s (0.137)"},
    /* the first of several errors */
    {"[baseline]\nband_pct = x\nwindow_s\n[nonsense]\n",
     "t.ini:2: [baseline] band_pct: found \"x\", expected a number from 0.5 to 40"},
};

static void what_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        struct oxl_profile p, before;
        struct oxl_error err = {.status = OXL_OK};
        memset(&p, 0x55, sizeof p);
        before = p;
        assert_int_equal(oxl_profile_parse(refused[i].text, "t.ini", &p, &err), OXL_ERR_FORMAT);
        assert_int_equal(err.status, OXL_ERR_FORMAT);
        assert_string_equal(err.text, refused[i].error);
        assert_memory_equal(&p, &before, sizeof p);
        assert_int_equal(oxl_profile_parse(refused[i].text, "t.ini", &p, NULL), OXL_ERR_FORMAT);
    }
}

static void long_lines(void **state)
{
    (void)state;
    char text[600];
    struct oxl_profile p;
    struct oxl_error err;
    /* 180 characters are a line, 181 are none; a comment may be longer. */
    for (int n = 180; n <= 181; n++) {
        snprintf(text, sizeof text, "; %0400d\n[baseline]\nband_pct = 8;%0*d\n", 0, n - 13, 0);
        assert_int_equal(oxl_profile_parse(text, "t.ini", &p, &err), OXL_ERR_FORMAT);
        if (n == 181)
            assert_string_equal(err.text,
                                "t.ini:3: found a line of 181 characters, expected at most 180");
        snprintf(text, sizeof text, "[baseline]\nband_pct = 8 ;%0*d\n", n - 14, 0);
        assert_int_equal(oxl_profile_parse(text, "t.ini", &p, &err),
                         n == 180 ? OXL_OK : OXL_ERR_FORMAT);
    }
    /* The longest texts fit; one more does not. */
    snprintf(text, sizeof text,
             "[profile]\nname=%031d\ntitle=%095d\n[limits]\nlimits_origin=%0127d\n", 0, 0, 0);
    take(text, &p);
    assert_int_equal(strlen(p.name), 31);
    assert_int_equal(strlen(p.title), 95);
    assert_int_equal(strlen(p.limits_origin), 127);
    snprintf(text, sizeof text, "[profile]\nname=%032d\n", 0);
    assert_int_equal(oxl_profile_parse(text, "t.ini", &p, &err), OXL_ERR_FORMAT);
}

/* The line number must be right wherever the key stands: every line of a long file in turn. */
static void the_line_is_right_everywhere(void **state)
{
    (void)state;
    for (unsigned at = 1; at <= 60; at++) {
        char text[2000] = "[baseline]\n", want[200];
        struct oxl_profile p;
        struct oxl_error err;
        for (unsigned line = 2; line <= 61; line++)
            strcat(text, line == at + 1  ? "band_pct = bad\n"
                         : line % 3 == 0 ? "\r\n"
                         : line % 3 == 1 ? "; a comment\n"
                                         : "  \t\n");
        snprintf(want, sizeof want, "%u: [baseline] band_pct:", at + 1);
        assert_int_equal(oxl_profile_parse(text, "long.ini", &p, &err), OXL_ERR_FORMAT);
        assert_int_equal(strncmp(err.text, "long.ini:", 9), 0);
        assert_int_equal(strncmp(err.text + 9, want, strlen(want)), 0);
    }
}

/* Both ends of each accepted range are accepted, and the next number outside is not. */
static void ranges_are_closed(void **state)
{
    (void)state;
    unsigned tried = 0;
    for (size_t i = 0; i < OXL_KEYS; i++) {
        const struct oxl_key *k = &oxl_keys[i];
        if (k->kind != OXL_KEY_NUMBER && k->kind != OXL_KEY_NUMBER_OR_UNKNOWN)
            continue;
        assert_true(k->min < k->max);
        for (unsigned end = 0; end < 2; end++) {
            struct oxl_profile p;
            struct oxl_error err;
            char text[120], want[60];
            double edge = end ? k->max : k->min, step = end ? 1e-6 : -1e-6;
            snprintf(want, sizeof want, "expected a number from %g to %g", k->min, k->max);
            snprintf(text, sizeof text, "[%s]\n%s = %.9f\n", k->section, k->key, edge);
            /* The order of keys may still refuse it, but its range does not. */
            if (oxl_profile_parse(text, "t.ini", &p, &err) != OXL_OK)
                assert_null(strstr(err.text, want));
            snprintf(text, sizeof text, "[%s]\n%s = %.9f\n", k->section, k->key, edge + step);
            assert_int_equal(oxl_profile_parse(text, "t.ini", &p, &err), OXL_ERR_FORMAT);
            assert_non_null(strstr(err.text, want));
            tried++;
        }
    }
    assert_true(tried > 80);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_gives_the_defaults),
        cmocka_unit_test(the_defaults_suit_real_idles),
        cmocka_unit_test(what_is_taken),
        cmocka_unit_test(unknown_is_a_value),
        cmocka_unit_test(every_word),
        cmocka_unit_test(what_is_refused),
        cmocka_unit_test(long_lines),
        cmocka_unit_test(the_line_is_right_everywhere),
        cmocka_unit_test(ranges_are_closed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* No request becomes one that changes something, however the line damages it: every text that the
 * program can form, and what every stage really sends, against an enumeration of damage of its own
 * (help_harm.c). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_harm.h"
#include "long.h"
#include "poll/poll_parts.h"
#include "poll/safe_request.h"

static void the_tables_agree_on_the_known_cases(void **state)
{
    (void)state;
    static const char *const bad[] = {"040", "044", "04",     "0415",   "08033", "1100",
                                      "110", "114", "141507", "3B01 0", " 0 4"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        bool is = strcmp(bad[i], "110") != 0 && strcmp(bad[i], "114") != 0 &&
                  strcmp(bad[i], "3B01 0") != 0;
        assert_int_equal(line_changes(bad[i], strlen(bad[i])), is);
    }
    assert_false(oxl_request_stands("0140", OXL_THREAT_LOSS)); /* 040 */
    assert_false(oxl_request_stands("0100", OXL_THREAT_BIT));  /* 1100 */
    assert_true(oxl_request_stands("0100", OXL_THREAT_LOSS));
    assert_false(oxl_request_stands("011415", OXL_THREAT_LOSS)); /* 11415 */
    assert_true(oxl_request_stands("0114151", OXL_THREAT_BIT));
    assert_false(oxl_request_stands("ATZ", OXL_THREAT_LOSS)); /* no request */
    assert_false(oxl_request_stands("0", OXL_THREAT_LOSS));
    assert_false(oxl_request_stands("0114151", OXL_THREAT_NEIGHBOURS)); /* 04151 */
    assert_true(oxl_request_stands("0115141", OXL_THREAT_NEIGHBOURS));
    assert_false(oxl_request_tails_stand("0114150607")); /* 14150607 */
    assert_true(oxl_request_stands("03", OXL_THREAT_NEIGHBOURS));
}

/* ---- every request that can be formed ---- */

struct link {
    const char *name;
    bool can, echoes, damaged;
    enum harm harm;
};

static const struct link links[] = {
    {"CAN", true, true, false, HARM_BIT},
    {"CAN, damage seen", true, true, true, HARM_TWO},
    {"K-line", false, true, false, HARM_TWO},
    {"K-line, damage", false, true, true, HARM_TWO},
    {"CAN, no echo", true, false, false, HARM_LOSS},
    {"K-line, no echo", false, false, false, HARM_LOSS},
    {"CAN, no echo, damage", true, false, true, HARM_TWO},
    {"K-line, no echo, damage", false, false, true, HARM_TWO},
};

static struct oxl_poll *poll_on(const struct link *l)
{
    const struct oxl_poll_config config = {.bank = 1};
    const struct oxl_poll_out out = {0};
    struct oxl_poll *p = oxl_poll_new(&config, &out);
    assert_non_null(p);
    p->vehicle.protocol = l->can ? OXL_PROTO_CAN11_500 : OXL_PROTO_ISO9141;
    p->echo.able = l->echoes;
    p->echo.damage_seen = l->damaged;
    return p;
}

struct tally {
    unsigned formed, proven, refused;
};

static void check(const struct link *l, const struct oxl_poll *p,
                  const struct oxl_poll_request *asked, unsigned digit, struct tally *t)
{
    struct oxl_poll_request ex = *asked;
    bool sent = oxl_poll_compose(p, &ex, digit);
    t->formed++;
    t->refused += !sent;
    t->proven += sent && ex.proof;
    assert_true(sent || !l->echoes);
    assert_true(!ex.proof || l->echoes);
    if (!sent || ex.proof)
        return;
    if (harmed_changes(ex.text, l->harm) || joined_changes(ex.text, "0114151") ||
        joined_changes(ex.text, "0") || (l->echoes && tail_changes(ex.text)))
        fail_msg("%s: %s does not stand", l->name, ex.text);
    assert_true(ex.n == asked->n || !l->echoes);
}

static void every_plain_request_stands_or_is_proven(void **state)
{
    (void)state;
    static const uint8_t services[] = {0x01, 0x02, 0x03, 0x05, 0x06, 0x07, 0x09, 0x0A};
    for (size_t i = 0; i < sizeof links / sizeof *links; i++) {
        struct oxl_poll *p = poll_on(&links[i]);
        struct tally t = {0};
        for (size_t s = 0; s < sizeof services; s++)
            for (unsigned pid = 0; pid < 256; pid++)
                for (unsigned digit = 0; digit < 10; digit += long_or(1, 3)) {
                    struct oxl_poll_request ex = {.service = services[s], .pids = {(uint8_t)pid}};
                    ex.n = services[s] == 0x02 || services[s] == 0x05 ? 2 : 1;
                    if (services[s] == 0x03 || services[s] == 0x07 || services[s] == 0x0A)
                        ex.n = 0;
                    for (unsigned sensor = 0; sensor < (services[s] == 0x05 ? 8 : 1); sensor++) {
                        ex.pids[1] = (uint8_t)(services[s] == 0x05 ? 1U << sensor : 0);
                        check(&links[i], p, &ex, digit, &t);
                    }
                }
        assert_true(t.formed > 20000 / long_or(1, 3));
        assert_true(links[i].echoes ? t.proven > 1000 / long_or(1, 3) && t.refused == 0
                                    : t.proven == 0);
        oxl_poll_free(p);
    }
}

/* The PIDs that the schedule knows, for both banks and each kind of sensor. */
static const uint8_t others[] = {0x06, 0x07, 0x08, 0x09, 0x03, 0x0D, 0x10, 0x66, 0x0C,
                                 0x0B, 0x05, 0x1F, 0x0F, 0x12, 0x3C, 0x3E, 0x3D, 0x3F,
                                 0x44, 0x51, 0x5E, 0x55, 0x56, 0x57, 0x58, 0x11};

static void check_sets(const struct link *l, const struct oxl_poll *p, uint8_t front, uint8_t rear,
                       struct tally *t)
{
    enum { N = sizeof others };
    static const unsigned digits[] = {0, 1, 2, 3, 4, 9};
    struct oxl_poll_request ex = {.service = 0x01, .pids = {front, rear}};
    unsigned turn = 0, each = long_or(23, 211);
    for (unsigned a = 0; a <= N; a++)
        for (unsigned b = a; b <= N; b++)
            for (unsigned c = b; c <= N; c++)
                for (unsigned d = c; d <= N; d++) {
                    /* All sets of up to two more PIDs, and one in 211 (23) of the larger ones. */
                    const unsigned more[] = {a, b, c, d};
                    if (b < N && turn++ % each)
                        continue;
                    ex.n = 2;
                    for (unsigned i = 0; i < 4; i++)
                        if (more[i] < N && (i == 0 || more[i] != more[i - 1]))
                            ex.pids[ex.n++] = others[more[i]];
                    for (size_t k = 0; k < sizeof digits / sizeof *digits; k++)
                        check(l, p, &ex, digits[k], t);
                }
}

static void every_set_of_pids_stands_or_is_proven(void **state)
{
    (void)state;
    static const uint8_t fronts[] = {0x14, 0x18, 0x24, 0x28, 0x34, 0x38, 0x16};
    for (size_t i = 0; i < sizeof links / sizeof *links; i++) {
        if (!links[i].can)
            continue;
        struct oxl_poll *p = poll_on(&links[i]);
        struct tally t = {0};
        for (size_t f = 0; f < sizeof fronts; f++) {
            uint8_t place = fronts[f] & 0x0F;
            check_sets(&links[i], p, fronts[f], (uint8_t)(0x11 + place), &t);
            check_sets(&links[i], p, fronts[f], (uint8_t)(0x21 + place), &t);
            check_sets(&links[i], p, fronts[f], (uint8_t)(0x31 + place), &t);
        }
        /* PID 08 is always the end of a line that would be service 08: those are proven. */
        assert_true(t.formed > long_or(10000, 4000));
        assert_true(t.proven * 5 < t.formed && t.refused * 2 < t.formed);
        oxl_poll_free(p);
    }
}

/* ---- what is really sent, by every stage, to vehicles of every kind ---- */

static const char *const layouts[] = {
    "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 14 15 1F 20 3C 40 4F 44 51 55 56",
    "01 03 05 06 07 08 09 0C 0D 10 13 15 19 1F 20 34 38 40 4F 50 44 60 66",
    "01 03 05 06 07 08 09 0C 0D 10 1D 25 1F 20 24 28 29 40 4F",
    "01 03 06 07 0B 0C 0D 0F 13 14 15 16 18 19",
};

static void meet(const char *pids, unsigned bank, bool kline, unsigned kind)
{
    struct rig *r = rig_new();
    const struct oxl_poll_config config = {.bank = bank, .has_speed = true, .inspection = kind & 1};
    if (kline)
        fake_kline(&r->fake);
    r->fake.ecus[0].pids = pids;
    r->fake.first_pid_only = !kline && kind & 2;
    r->fake.count_refused = kind & 4;
    r->fake.stuck_echo = kind & 8;
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 60));
    for (int focus = OXL_FOCUS_ALL; focus <= OXL_FOCUS_TIMING; focus++) {
        rig_focus(r, (enum oxl_focus)focus);
        rig_run(r, kline ? 8 : 2);
        r->fake.late_us = 700000;
        rig_run(r, 2);
    }
    assert_int_equal(rig_stats(r).unproven, 0);
    assert_true(check_sent(r, kline ? HARM_TWO : HARM_BIT) > 20);
    rig_free(r);
}

static void every_stage_sends_what_stands(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof layouts / sizeof *layouts; i++)
        for (unsigned bank = 1; bank <= 2; bank++)
            for (unsigned kind = 0; kind < 16; kind++) {
                meet(layouts[i], bank, false, kind);
                if (!(kind & 2))
                    meet(layouts[i], bank, true, kind);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_tables_agree_on_the_known_cases),
        cmocka_unit_test(every_plain_request_stands_or_is_proven),
        cmocka_unit_test(every_set_of_pids_stands_or_is_proven),
        cmocka_unit_test(every_stage_sends_what_stands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

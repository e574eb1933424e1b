/* No request becomes one that changes something, however the line damages it: every text that the
 * program can form, against an enumeration of damage that shares nothing with the program's own;
 * and the conversation by which the echo proves what does not stand by itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"
#include "poll/inside.h"
#include "poll/safe_request.h"

#define FRONT oxl_channel(OXL_Q_O2_V, 1, 1)

/* ---- what an adapter and a unit make of a line, written anew ---- */

/* Service and, behind it, the payload lengths in bytes that a unit might take ('-': up to any). */
static const char *const obeyed[] = {
    "04 1-", "08 1-", "11 2",  "14 345", "28 2-", "2E 4-", "2F 4-", "30 3-",
    "31 2-", "32 2-", "38 4-", "39 4-",  "3B 3-", "3D 5-", "85 2-",
};

static bool unit_obeys(const char *digits)
{
    size_t bytes = strlen(digits) / 2;
    for (size_t i = 0; i < sizeof obeyed / sizeof *obeyed; i++) {
        if (bytes == 0 || strncmp(obeyed[i], digits, 2) != 0)
            continue;
        for (const char *c = obeyed[i] + 3; *c; c++)
            if ((size_t)(*c - '0') == bytes || (c[1] == '-' && bytes >= (size_t)(*c - '0')))
                return true;
    }
    return false;
}

/* Only digits and what is left out: upper case, controls, blanks and bytes that are no ASCII. */
static bool line_changes(const char *line, size_t n)
{
    char digits[200] = "";
    size_t at = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)line[i];
        if (c >= 'a' && c <= 'f')
            c = (unsigned char)(c - 32);
        if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'F'))
            digits[at++] = (char)c;
        else if (c > ' ' && c < 0x7F)
            return false;
    }
    digits[at] = '\0';
    return unit_obeys(digits);
}

/* Text may hold CR by damage: each piece is a line; what stands behind the last is followed by
 * the CR that was sent. */
static bool any_line_changes(const char *text, size_t n)
{
    size_t from = 0;
    for (size_t i = 0; i <= n; i++)
        if (i == n || text[i] == '\r') {
            if (line_changes(text + from, i - from))
                return true;
            from = i + 1;
        }
    return false;
}

enum harm { HARM_LOSS, HARM_BIT, HARM_TWO };

static bool harmed_changes(const char *text, enum harm harm)
{
    char made[100];
    size_t n = strlen(text);
    bool any = false;
    for (size_t at = 0; at < n; at++) {
        for (size_t lost = 1; lost <= (harm == HARM_TWO ? 2 : 1) && at + lost <= n; lost++) {
            memcpy(made, text, at);
            memcpy(made + at, text + at + lost, n - at - lost);
            any = any || any_line_changes(made, n - lost);
        }
        memcpy(made, text, at + 1);
        memcpy(made + at + 1, text + at, n - at);
        any = any || any_line_changes(made, n + 1);
        for (int bit = 0; bit < 8 && harm != HARM_LOSS; bit++) {
            memcpy(made, text, n);
            made[at] = (char)((unsigned char)made[at] ^ 1U << bit);
            any = any || any_line_changes(made, n);
        }
    }
    return any || any_line_changes(text, n);
}

static bool tail_changes(const char *text)
{
    for (size_t i = 1; text[i]; i++)
        if (any_line_changes(text + i, strlen(text + i)))
            return true;
    return false;
}

/* CR was lost, or became another character, and the next text came behind it. */
static bool joined_changes(const char *text, const char *next)
{
    char made[100];
    for (int bit = -1; bit < 8; bit++) {
        char cr = (char)(bit < 0 ? ' ' : '\r' ^ 1 << bit);
        int n = snprintf(made, sizeof made, "%s%c%s", text, cr, next);
        if (any_line_changes(made, (size_t)n))
            return true;
    }
    return false;
}

static void the_tables_agree_on_the_known_cases(void **state)
{
    (void)state;
    static const char *const bad[] = {"040", "044", "04",     "0415",   "08033", "1100",
                                      "110", "114", "141507", "3B01 0", " 0 4"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        bool is = strcmp(bad[i], "110") != 0 && strcmp(bad[i], "114") != 0 &&
                  strcmp(bad[i], "3B01 0") != 0;
        assert_int_equal(line_changes(bad[i], strlen(bad[i])), is);
        assert_int_equal(oxl_request_changes(bad[i], strlen(bad[i])), is);
    }
    assert_false(oxl_request_stands("0140", OXL_THREAT_LOSS)); /* 040 */
    assert_false(oxl_request_stands("0100", OXL_THREAT_BIT));  /* 1100 */
    assert_true(oxl_request_stands("0100", OXL_THREAT_LOSS));
    assert_false(oxl_request_stands("011415", OXL_THREAT_LOSS)); /* 11415 */
    assert_true(oxl_request_stands("0114151", OXL_THREAT_BIT));
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
    p->echoes = l->echoes;
    p->damage_seen = l->damaged;
    return p;
}

struct tally {
    unsigned formed, proven, refused;
};

static void check(const struct link *l, const struct oxl_poll *p, const struct oxl_exchange *asked,
                  unsigned digit, struct tally *t)
{
    struct oxl_exchange ex = *asked;
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
            for (unsigned item = 0; item < 256; item++)
                for (unsigned digit = 0; digit < 10; digit++) {
                    struct oxl_exchange ex = {.service = services[s], .items = {(uint8_t)item}};
                    ex.n = services[s] == 0x02 || services[s] == 0x05 ? 2 : 1;
                    if (services[s] == 0x03 || services[s] == 0x07 || services[s] == 0x0A)
                        ex.n = 0;
                    for (unsigned sensor = 0; sensor < (services[s] == 0x05 ? 8 : 1); sensor++) {
                        ex.items[1] = (uint8_t)(services[s] == 0x05 ? 1U << sensor : 0);
                        check(&links[i], p, &ex, digit, &t);
                    }
                }
        assert_true(t.formed > 20000);
        assert_true(links[i].echoes ? t.proven > 1000 && t.refused == 0 : t.proven == 0);
        oxl_poll_free(p);
    }
}

/* The items that the schedule knows, for both banks and each kind of sensor. */
static const uint8_t others[] = {0x06, 0x07, 0x08, 0x09, 0x03, 0x0D, 0x10, 0x66, 0x0C,
                                 0x0B, 0x05, 0x1F, 0x0F, 0x12, 0x3C, 0x3E, 0x3D, 0x3F,
                                 0x44, 0x51, 0x5E, 0x55, 0x56, 0x57, 0x58, 0x11};

static void check_sets(const struct link *l, const struct oxl_poll *p, uint8_t front, uint8_t rear,
                       struct tally *t)
{
    enum { N = sizeof others };
    static const unsigned digits[] = {0, 1, 2, 3, 4, 9};
    struct oxl_exchange ex = {.service = 0x01, .items = {front, rear}};
    unsigned turn = 0;
    for (unsigned a = 0; a <= N; a++)
        for (unsigned b = a; b <= N; b++)
            for (unsigned c = b; c <= N; c++)
                for (unsigned d = c; d <= N; d++) {
                    /* All sets of up to two more items, and one in 97 of the larger ones. */
                    const unsigned more[] = {a, b, c, d};
                    if (b < N && turn++ % 97)
                        continue;
                    ex.n = 2;
                    for (unsigned i = 0; i < 4; i++)
                        if (more[i] < N && (i == 0 || more[i] != more[i - 1]))
                            ex.items[ex.n++] = others[more[i]];
                    for (size_t k = 0; k < sizeof digits / sizeof *digits; k++)
                        check(l, p, &ex, digits[k], t);
                }
}

static void every_set_of_items_stands_or_is_proven(void **state)
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
        /* Item 08 is always the end of a line that would be service 08: those are proven. */
        assert_true(t.formed > 10000);
        assert_true(t.proven * 5 < t.formed && t.refused * 2 < t.formed);
        oxl_poll_free(p);
    }
}

/* ---- what is really sent, by every stage, to vehicles of every kind ---- */

/* Each line that went out with its CR at once; returns how many. A part was proven, or spoiled. */
static unsigned check_sent(const struct rig *r, enum harm harm)
{
    char line[100];
    unsigned n = 0;
    for (const char *at = r->out; (at = strstr(at, " send ")); n++) {
        at += strlen(" send ");
        size_t len = strcspn(at, "\n");
        assert_true(len < sizeof line);
        memcpy(line, at, len);
        line[len] = '\0';
        if (harmed_changes(line, harm) || (strncmp(line, "AT", 2) == 0 && tail_changes(line)) ||
            joined_changes(line, "0114151"))
            fail_msg("%s was sent as it is", line);
    }
    return n;
}

static const char *const layouts[] = {
    "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 14 15 1F 20 3C 40 4F 44 51 55 56",
    "01 03 05 06 07 08 09 0C 0D 10 13 15 19 1F 20 34 38 40 4F 50 44 60 66",
    "01 03 05 06 07 08 09 0C 0D 10 1D 25 1F 20 24 28 29 40 4F",
    "01 03 06 07 0B 0C 0D 0F 13 14 15 16 18 19",
};

static void meet(const char *items, unsigned bank, bool kline, unsigned kind)
{
    struct rig *r = rig_new();
    const struct oxl_poll_config config = {.bank = bank, .has_speed = true, .inspection = kind & 1};
    if (kline)
        fake_kline(&r->fake);
    r->fake.units[0].items = items;
    r->fake.first_item_only = !kline && kind & 2;
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

/* ---- the proof ---- */

static bool executed_changes(const struct rig *r)
{
    for (unsigned i = 0; i < r->fake.log_n; i++)
        if (line_changes(r->fake.log[i], strlen(r->fake.log[i])))
            return true;
    return false;
}

static void hurt_once(bool kline, bool echo, int at, int hurt)
{
    struct rig *r = rig_new();
    if (kline)
        fake_kline(&r->fake);
    r->fake.first_item_only = true;
    rig_ready(r);
    r->fake.hurt_at = at;
    r->fake.hurt = hurt;
    r->fake.hurt_echo = echo;
    rig_run(r, 3.5);
    assert_true(r->fake.hurt_at < 0);
    assert_false(executed_changes(r));
    unsigned from = r->samples_n;
    rig_run(r, 2);
    assert_true(rig_count(r, FRONT, from) >= 2);
    assert_int_equal(r->dishonest, 0);
    assert_int_equal(oxl_poll_state(r->poll), OXL_LINK_READY);
    rig_free(r);
}

/* One damage at each place of the next texts, both ways, of each kind: nothing happens but that the
 * request is asked again. */
static void one_damage_is_seen_and_asked_again(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++)
        for (int echo = 0; echo < 2; echo++)
            for (int at = 0; at < 13; at++)
                for (int hurt = 0; hurt <= 10; hurt++)
                    hurt_once(kline, echo, at, hurt);
}

static void an_adapter_without_echo_is_believed_at_first(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        struct rig *r = rig_new();
        if (kline)
            fake_kline(&r->fake);
        r->fake.no_echo = true;
        r->fake.first_item_only = true;
        rig_ready(r);
        unsigned from = r->samples_n;
        rig_run(r, 5);
        assert_true(rig_count(r, FRONT, from) >= 5);
        assert_true(check_sent(r, HARM_LOSS) > 20);
        assert_int_equal(fake_count(&r->fake, "0140", 0) + fake_count(&r->fake, "01401", 0), 0);
        /* The first damage ends it, and says what to do. */
        r->fake.spoil = true;
        assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 2));
        assert_non_null(strstr(rig_text(r), "repair cable and plug"));
        rig_free(r);
    }
}

/* Several items in a request stand by themselves, so it goes on. */
static void without_echo_several_items_go_on(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    r->fake.no_echo = true;
    rig_ready(r);
    r->fake.spoil = true;
    rig_run(r, 1);
    size_t out = r->out_n;
    unsigned from = r->samples_n;
    r->fake.late_us = 500000; /* and item 00 is asked together with another */
    rig_run(r, 5);
    assert_true(rig_count(r, FRONT, from) > 50);
    assert_non_null(strstr(r->out + out, " send 01"));
    assert_true(rig_flows(r));
    r->out += out;
    assert_true(check_sent(r, HARM_TWO) > 50);
    r->out -= out;
    rig_free(r);
}

/* Echo that stops for good, in the middle: never a CR behind what was not proven, and it is said.
 */
static void echo_that_stops_is_told(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    fake_kline(&r->fake);
    rig_ready(r);
    r->fake.no_echo = true;
    assert_true(rig_until(r, OXL_LINK_NO_ADAPTER, 60));
    assert_non_null(strstr(rig_text(r), "cannot prove"));
    assert_false(executed_changes(r));
    rig_free(r);
}

/* On a link where all requests stand there is no echo to cost time; it comes back for one that
 * does not, and goes again. */
static void echo_is_off_where_nothing_needs_it(void **state)
{
    (void)state;
    struct rig *r = rig_new();
    rig_ready(r);
    assert_false(r->fake.echo);
    unsigned from = r->fake.log_n;
    r->fake.late_us = 500000;
    rig_run(r, 3);
    assert_true(fake_count(&r->fake, "0100", from) >= 1);
    assert_true(fake_count(&r->fake, "ATE1", from) >= 1);
    assert_false(r->fake.echo);
    rig_free(r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_tables_agree_on_the_known_cases),
        cmocka_unit_test(every_plain_request_stands_or_is_proven),
        cmocka_unit_test(every_set_of_items_stands_or_is_proven),
        cmocka_unit_test(every_stage_sends_what_stands),
        cmocka_unit_test(one_damage_is_seen_and_asked_again),
        cmocka_unit_test(an_adapter_without_echo_is_believed_at_first),
        cmocka_unit_test(without_echo_several_items_go_on),
        cmocka_unit_test(echo_that_stops_is_told),
        cmocka_unit_test(echo_is_off_where_nothing_needs_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

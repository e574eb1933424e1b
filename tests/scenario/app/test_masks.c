/* Vehicles that do not say what they have. Masks, answers, forms and lengths are drawn at random,
 * and whole pre-checks are run: gas is never asked for without a front and a rear sensor that have
 * given a value; a vehicle that has both is tested by the PIDs that live; one that lacks one is
 * refused with a line that says what to do. What there is comes from the draw alone, not from the
 * program. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "long.h"
#include "rig.h"
#include "sim/parts.h"

enum { FRONT = 0, REAR = 1 };

struct car {
    struct rig rig;
    struct oxl_random chance;
    char text[900];
    char hides[24], mutes[24], announces[24];
    unsigned bank, protocol;
    const char *kind[2];
    uint8_t pid[2]; /* the PIDs that are there */
    bool lives[2];  /* and answer */
    bool trim_lives;
    /* what was seen */
    bool gas, over;
    struct oxl_pair pair;
    unsigned values[2]; /* samples of the chosen pair so far */
    struct oxl_sample last[400];
    unsigned last_n;
    char said[160];
};

static bool chance(struct car *c, double share)
{
    return oxl_random_unit(&c->chance) < share;
}

static unsigned pick(struct car *c, unsigned n)
{
    return (unsigned)(oxl_random_unit(&c->chance) * n) % n;
}

static void list(char *to, uint8_t pid)
{
    size_t len = strlen(to);
    if (len + 4 < 24)
        snprintf(to + len, 24 - len, "%s%02X", len ? " " : "", pid);
}

/* The PID of a kind in a place, under the layout that is drawn. */
static uint8_t pid_of(const char *kind, unsigned place)
{
    unsigned group = !strcmp(kind, "wide-current")                                 ? 0x34
                     : !strcmp(kind, "wide-volts") || !strcmp(kind, "dummy-volts") ? 0x24
                                                                                   : 0x14;
    return (uint8_t)(group + place);
}

static void draw_sensor(struct car *c, unsigned which, unsigned place)
{
    c->pid[which] = pid_of(c->kind[which], place);
    c->lives[which] = true;
    bool dummy = strncmp(c->kind[which], "dummy", 5) == 0;
    if (chance(c, 0.15)) {
        list(c->mutes, c->pid[which]);
        c->lives[which] = false;
        if (dummy && c->pid[which] < 0x24) /* the dummy beside it is no sensor either */
            list(c->mutes, (uint8_t)(0x24 + place));
    } else if (chance(c, 0.25)) {
        list(c->hides, c->pid[which]);
    }
    for (unsigned group = 0x14; group <= 0x34 && !dummy; group += 0x10)
        if (chance(c, 0.2))
            list(c->announces, (uint8_t)(group + place));
}

static void draw(struct car *c, uint64_t seed)
{
    static const char *const fronts[] = {"switching", "wide-volts", "wide-current"};
    static const char *const rears[] = {"switching",    "switching",   "wide-volts",
                                        "wide-current", "dummy-volts", "dummy-beside"};
    static const unsigned protocols[] = {6, 6, 6, 7, 3, 5, 2};
    static const char *const paddings[] = {"AA", "00", "random", "some"};
    oxl_random_seed(&c->chance, seed);
    unsigned banks = 1 + pick(c, 2);
    bool four = chance(c, 0.4);
    c->bank = banks == 2 ? 1 + pick(c, 2) : 1;
    c->protocol = protocols[pick(c, 7)];
    c->kind[FRONT] = fronts[pick(c, 3)];
    c->kind[REAR] = rears[pick(c, 6)];
    for (unsigned which = FRONT; which <= REAR; which++)
        draw_sensor(c, which, (c->bank - 1) * (four ? 2 : 4) + which);
    c->trim_lives = !chance(c, 0.05);
    if (!c->trim_lives)
        list(c->mutes, c->bank == 2 ? 0x08 : 0x06);
    if (chance(c, 0.15))
        list(c->mutes, c->bank == 2 ? 0x09 : 0x07);
    if (chance(c, 0.1))
        list(c->mutes, 0x0D);
    snprintf(c->text, sizeof c->text,
             "[ecu]\nlayout = %s\nfront = %s\nrear = %s\nannounces = %s\nhides = %s\nmutes = %s\n"
             "trim_bytes = %u\nrear_trim_bytes = %u\npadding = %s\nmulti_pid = %s\n"
             "obd_standard = %u\nsecond_system = %u\ndummy_lambda = %s\nmask_losses = "
             "%u\n[adapter]\nprotocol = %u\n"
             "reply_count = %s\n[plant]\nbanks = %u\n",
             four ? "1D" : "13", c->kind[FRONT], c->kind[REAR], c->announces, c->hides, c->mutes,
             1 + pick(c, 2), pick(c, 3), paddings[pick(c, 4)], chance(c, 0.8) ? "yes" : "no",
             1 + pick(c, 33), chance(c, 0.2) ? 1 : 0, chance(c, 0.5) ? "1" : "1.999",
             chance(c, 0.2) ? pick(c, 5) : 0, c->protocol, chance(c, 0.8) ? "yes" : "no", banks);
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct car *c = ctx;
    if (ev->kind == OXL_EV_SAMPLE && c->last_n < 400)
        c->last[c->last_n++ % 400] = ev->u.sample;
    if (ev->kind == OXL_EV_ADVICE && ev->u.advice.advice == OXL_ADV_ADD_GAS)
        c->gas = true;
}

static unsigned seen(const struct car *c, struct oxl_channel channel)
{
    unsigned n = 0;
    for (unsigned i = 0; i < c->last_n; i++)
        n += oxl_channel_same(c->last[i].channel, channel);
    return n;
}

static void run(struct car *c)
{
    const int64_t limit_us = 150000000, step_us = 20000;
    c->rig.ctx = c;
    c->rig.event = on_event;
    c->rig.bank = c->bank;
    assert_true(rig_start(&c->rig, c->text, 7, OXL_TECH_GUIDED));
    while (!c->gas && !oxl_session_over(c->rig.session) && c->rig.now_us < limit_us) {
        rig_run(&c->rig, c->rig.now_us + step_us);
        struct oxl_live live;
        oxl_session_live(c->rig.session, c->rig.now_us, &live);
        if (!c->gas && memcmp(&c->pair, &live.pair, sizeof c->pair) != 0)
            c->values[FRONT] = c->values[REAR] = 0;
        c->pair = live.pair;
        c->values[FRONT] += seen(c, live.pair.front);
        c->values[REAR] += seen(c, live.pair.rear);
        c->last_n = 0;
    }
}

static void check_gas(const struct car *c)
{
    if (!c->values[FRONT] || !c->values[REAR])
        fail_msg("gas without a value of both sensors: front %u, rear %u\n%s", c->values[FRONT],
                 c->values[REAR], c->text);
    if (!c->lives[FRONT] || !c->lives[REAR] || !c->trim_lives)
        fail_msg("gas by a sensor that never answers\n%s", c->text);
    if (c->pair.front_pid != c->pid[FRONT] || c->pair.rear_pid != c->pid[REAR])
        fail_msg("tested by PIDs %02X and %02X instead of %02X and %02X\n%s", c->pair.front_pid,
                 c->pair.rear_pid, c->pid[FRONT], c->pid[REAR], c->text);
    enum oxl_quantity rear = !strcmp(c->kind[REAR], "dummy-volts") ? OXL_Q_WIDE_V
                             : c->pid[REAR] < 0x24                 ? OXL_Q_O2_V
                                                                   : OXL_Q_LAMBDA;
    if (c->pair.rear.quantity != rear)
        fail_msg("the rear is read by quantity %d\n%s", c->pair.rear.quantity, c->text);
}

static void check_refusal(const struct car *c)
{
    const char *said;
    if (!oxl_session_over(c->rig.session))
        fail_msg("neither gas nor a refusal within %.0f s\n%s", (double)c->rig.now_us / 1e6,
                 c->text);
    enum oxl_status st = oxl_session_outcome(c->rig.session, &said);
    if (c->lives[FRONT] && c->lives[REAR] && c->trim_lives)
        fail_msg("refused although both sensors answer: %s\n%s", said, c->text);
    const char *which = !c->lives[FRONT]  ? "no front sensor"
                        : !c->lives[REAR] ? "no rear sensor"
                                          : "no short-term fuel trim";
    if (st != OXL_ERR_UNSUITABLE || !strstr(said, which) || !strstr(said, "oxylag inspect") ||
        !strstr(said, "See "))
        fail_msg("refused by %d, \"%s\"\n%s", (int)st, said, c->text);
}

static void no_gas_without_both_sensors(void **state)
{
    (void)state;
    const char *only = getenv("OXL_MASK_SEED");
    const unsigned cars = only ? 1 : long_or(150, 50);
    unsigned gas = 0, refused = 0;
    for (uint64_t seed = only ? strtoull(only, NULL, 10) : 1, n = 0; n < cars; n++, seed++) {
        struct car *c = calloc(1, sizeof *c);
        assert_non_null(c);
        draw(c, 977 * seed);
        run(c);
        printf("%s", only ? c->text : "");
        if (c->gas)
            check_gas(c);
        else
            check_refusal(c);
        gas += c->gas;
        refused += !c->gas;
        rig_stop(&c->rig);
        free(c);
    }
    printf("%u asked for gas, %u refused\n", gas, refused);
    assert_true(only || (gas > cars / 3 && refused > cars / 10)); /* else nothing was tested */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_gas_without_both_sensors)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

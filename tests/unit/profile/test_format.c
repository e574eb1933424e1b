/* Writing a profile, the built-in ones, and that the documentation names every key. */
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

static void must_parse(const char *text, const char *file, struct oxl_profile *p)
{
    struct oxl_error err;
    if (oxl_profile_parse(text, file, p, &err) != OXL_OK)
        fail_msg("refused: %s", err.text);
}

/* Bit for bit, but any NAN is as good as another. */
static void assert_same(const struct oxl_profile *a, const struct oxl_profile *b)
{
    for (size_t i = 0; i < OXL_KEYS; i++) {
        const struct oxl_key *k = &oxl_keys[i];
        if (k->kind == OXL_KEY_NUMBER_OR_UNKNOWN) {
            double x = oxl_key_number(k, a), y = oxl_key_number(k, b);
            if (x != x && y != y)
                continue;
        }
        if (memcmp((const char *)a + k->offset, (const char *)b + k->offset, k->size) != 0)
            fail_msg("[%s] %s differs", k->section, k->key);
    }
}

static void round_trip(const struct oxl_profile *p)
{
    char text[8192];
    struct oxl_profile again;
    size_t n = oxl_profile_format(p, text, sizeof text);
    assert_true(n < sizeof text);
    assert_int_equal(strlen(text), n);
    must_parse(text, "again.ini", &again);
    assert_same(p, &again);
}

static void defaults_come_back(void **state)
{
    (void)state;
    struct oxl_profile p;
    oxl_profile_defaults(&p);
    round_trip(&p);
}

static double chance(void)
{
    static uint64_t seed = 88172645463325252u; /* xorshift64 */
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return (double)(seed >> 11) * 0x1p-53;
}

static bool in_order(const struct oxl_profile *p)
{
    for (size_t i = 0; i < OXL_KEY_ORDERS; i++) {
        const struct oxl_key_order *o = &oxl_key_orders[i];
        double a = oxl_key_number(&oxl_keys[oxl_key_find(NULL, o->low)], p);
        double b = oxl_key_number(&oxl_keys[oxl_key_find(NULL, o->high)], p);
        if (!(a < b) && !(o->may_be_equal && a <= b))
            return false;
    }
    return true;
}

/* Numbers with all their 53 bits. */
static void any_number_comes_back(void **state)
{
    (void)state;
    for (unsigned round = 0; round < 400; round++) {
        struct oxl_profile p;
        oxl_profile_defaults(&p);
        for (size_t i = 0; i < OXL_KEYS; i++) {
            const struct oxl_key *k = &oxl_keys[i];
            if (k->kind != OXL_KEY_NUMBER && k->kind != OXL_KEY_NUMBER_OR_UNKNOWN)
                continue;
            double v = k->min + chance() * (k->max - k->min);
            struct oxl_profile changed = p;
            memcpy((char *)&changed + k->offset, &v, sizeof v);
            if (v >= k->min && v <= k->max && in_order(&changed))
                p = changed;
        }
        p.runs = 1 + round % 9;
        p.front = (enum oxl_front_want)(round % 3);
        p.air = (enum oxl_air_want)(round % 4);
        p.link = (enum oxl_link_want)(round / 3 % 3);
        round_trip(&p);
    }
}

static void length_is_told_without_room(void **state)
{
    (void)state;
    struct oxl_profile p;
    char whole[8192], part[100];
    oxl_profile_defaults(&p);
    size_t n = oxl_profile_format(&p, NULL, 0);
    assert_int_equal(oxl_profile_format(&p, whole, sizeof whole), n);
    memset(part, 'x', sizeof part);
    assert_int_equal(oxl_profile_format(&p, part, 50), n);
    assert_int_equal(strlen(part), 49);
    assert_int_equal(strncmp(part, whole, 49), 0);
    assert_int_equal(part[50], 'x');
}

static void built_in(const char *name, struct oxl_profile *p)
{
    for (size_t i = 0; i < oxl_profile_builtin_count(); i++) {
        if (strcmp(oxl_profile_builtin_name(i), name) == 0) {
            must_parse(oxl_profile_builtin_text(i), name, p);
            return;
        }
    }
    fail_msg("%s is not built in", name);
}

static char *read_file(const char *path)
{
    static char text[1 << 16];
    FILE *f = fopen(path, "r");
    if (!f)
        fail_msg("cannot read %s", path);
    size_t n = fread(text, 1, sizeof text - 1, f);
    fclose(f);
    text[n] = '\0';
    return text;
}

static void built_in_profiles_are_the_files(void **state)
{
    (void)state;
    assert_int_equal(oxl_profile_builtin_count(), 4);
    for (size_t i = 0; i < 4; i++) {
        char path[512];
        struct oxl_profile p;
        const char *name = oxl_profile_builtin_name(i);
        snprintf(path, sizeof path, "%s/profiles/%s.ini", OXL_SOURCE_DIR, name);
        assert_string_equal(read_file(path), oxl_profile_builtin_text(i));
        built_in(name, &p);
        assert_string_equal(p.name, name);
        assert_true(p.title[0]);
        round_trip(&p);
    }
}

/* wide-maf.ini says that it names every key and that its numbers are the defaults. */
static void the_pattern_is_whole(void **state)
{
    (void)state;
    struct oxl_profile p, d;
    oxl_profile_defaults(&d);
    built_in("wide-maf", &p);
    assert_true(p.front == OXL_WANT_WIDE && p.air == OXL_AIR_METER && p.link == OXL_LINK_CAN);
    const char *text = read_file(OXL_SOURCE_DIR "/profiles/wide-maf.ini");
    for (size_t i = 0; i < OXL_KEYS; i++) {
        char line[64];
        snprintf(line, sizeof line, "\n%s = ", oxl_keys[i].key);
        if (!strstr(text, line))
            fail_msg("wide-maf.ini does not name %s", oxl_keys[i].key);
    }
    memcpy(d.name, p.name, sizeof d.name);
    memcpy(d.title, p.title, sizeof d.title);
    d.front = p.front;
    d.air = p.air;
    d.link = p.link;
    assert_same(&p, &d);
}

static void what_the_others_change(void **state)
{
    (void)state;
    struct oxl_profile p;
    built_in("wide-speed-density", &p);
    assert_true(p.front == OXL_WANT_WIDE && p.air == OXL_AIR_SPEED_DENSITY);
    assert_true(p.displacement_l != p.displacement_l);
    built_in("switching-maf", &p);
    assert_true(p.front == OXL_WANT_SWITCHING && p.air == OXL_AIR_METER);
    assert_true(p.balance_v == p.switch_v);
    built_in("kline", &p);
    assert_true(p.link == OXL_LINK_KLINE && p.front == OXL_WANT_ANY && p.air == OXL_AIR_ANY);
    /* Three samples a second in all, front and rear in turn: at least ten of each in a window. */
    assert_true(p.window_s * 3 / 2 >= 10 && p.hold_s * 3 / 2 >= 3);
}

static void which_is_chosen(void **state)
{
    (void)state;
    for (unsigned front = 0; front < 3; front++) {
        for (unsigned air = 0; air < 4; air++) {
            for (unsigned link = 0; link < 3; link++) {
                const char *want = front != OXL_WANT_WIDE ? "switching-maf"
                                   : air == OXL_AIR_SPEED_DENSITY || air == OXL_AIR_NONE
                                       ? "wide-speed-density"
                                       : "wide-maf";
                struct oxl_profile p;
                const char *got = oxl_profile_choose(
                    (enum oxl_front_want)front, (enum oxl_air_want)air, (enum oxl_link_want)link);
                assert_string_equal(got, link == OXL_LINK_KLINE ? "kline" : want);
                built_in(got, &p); /* and it exists */
            }
        }
    }
    /* A vehicle that has what a built-in profile asks for gets that profile. */
    for (size_t i = 0; i < oxl_profile_builtin_count(); i++) {
        struct oxl_profile p;
        built_in(oxl_profile_builtin_name(i), &p);
        assert_string_equal(oxl_profile_choose(p.front, p.air, p.link), p.name);
    }
}

static void documentation_names_every_key(void **state)
{
    (void)state;
    const char *doc = read_file(OXL_SOURCE_DIR "/docs/profiles.md");
    struct oxl_profile d;
    oxl_profile_defaults(&d);
    for (size_t i = 0; i < OXL_KEYS; i++) {
        const struct oxl_key *k = &oxl_keys[i];
        char row[80], section[40], range[80];
        snprintf(section, sizeof section, "\n### [%s]\n", k->section);
        snprintf(row, sizeof row, "\n| `%s` |", k->key);
        const char *at = strstr(doc, section);
        at = at ? strstr(at, row) : NULL;
        if (!at)
            fail_msg("docs/profiles.md does not explain [%s] %s", k->section, k->key);
        if (k->kind > OXL_KEY_COUNT)
            continue;
        /* Range and default, as the table of keys has them. */
        char line[600];
        snprintf(line, sizeof line, "%.*s", (int)strcspn(at + 1, "\n"), at + 1);
        snprintf(range, sizeof range, "| %g to %g", k->min, k->max);
        assert_non_null(strstr(line, range));
        char *column = line;
        for (unsigned bar = 0; bar < 5; bar++)
            column = strchr(column, '|') + 1;
        double value = oxl_key_number(k, &d);
        if (value == value)
            assert_true(strtod(column, NULL) == value);
        else
            assert_int_equal(strncmp(column, " unknown |", 10), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(defaults_come_back),
        cmocka_unit_test(any_number_comes_back),
        cmocka_unit_test(length_is_told_without_room),
        cmocka_unit_test(built_in_profiles_are_the_files),
        cmocka_unit_test(the_pattern_is_whole),
        cmocka_unit_test(what_the_others_change),
        cmocka_unit_test(which_is_chosen),
        cmocka_unit_test(documentation_names_every_key),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

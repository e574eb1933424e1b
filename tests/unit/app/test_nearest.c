/* Did you mean: the distance of two words, and what is said of commands, options and scenarios. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "app/commands.h"
#include "app/opts.h"
#include "app/opts_table.h"

static void edits(void **state)
{
    (void)state;
    static const struct {
        const char *a, *b;
        unsigned n;
    } cases[] = {{"", "", 0},
                 {"demo", "demo", 0},
                 {"demo", "", 4},
                 {"dmeo", "demo", 1},
                 {"reprot", "report", 1},
                 {"rep", "report", 3},
                 {"kitten", "sitting", 3},
                 {"ca", "abc", 3},
                 {"replay", "report", 3}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(oxl_edits(cases[i].a, cases[i].b), cases[i].n);
        assert_int_equal(oxl_edits(cases[i].b, cases[i].a), cases[i].n);
    }
    char longest[32];
    memset(longest, 'a', 31);
    longest[31] = '\0';
    assert_int_equal(oxl_edits(longest, "a"), 30);
    assert_int_equal(oxl_edits("a", "an option that is longer than that one"), UINT_MAX);
}

static void refused(char *const *words, const char *said)
{
    struct oxl_opts o;
    struct oxl_error err = {OXL_OK, ""};
    char *argv[6] = {NULL};
    int argc = 0;
    for (; words[argc]; argc++)
        argv[argc] = words[argc];
    assert_int_equal(oxl_opts_parse(argc, argv, NULL, &o, &err), OXL_ERR_USAGE);
    if (!strstr(err.text, said))
        fail_msg("\"%s\" lacks \"%s\"", err.text, said);
    assert_int_equal(strstr(err.text, "did you mean") != NULL,
                     strstr(said, "did you mean") != NULL);
}

#define WORDS(...) ((char *const[]){__VA_ARGS__, NULL})
static char oxylag[] = "oxylag", demo[] = "demo", reprot[] = "reprot", fly[] = "fly",
            hlep[] = "hlep", scenaro[] = "--scenaro=good", runs[] = "--rusn", fast[] = "--fast",
            letter[] = "-x", quiz[] = "--quiz";

static void commands_and_options(void **state)
{
    (void)state;
    refused(WORDS(oxylag, reprot), "unknown command \"reprot\": did you mean report? ");
    refused(WORDS(oxylag, hlep), "unknown command \"hlep\": did you mean help? ");
    refused(WORDS(oxylag, fly), "unknown command \"fly\": expected one of run, demo, ");
    refused(WORDS(oxylag, demo, scenaro), "unknown option \"--scenaro=good\": did you mean "
                                          "--scenario? Try oxylag demo --help");
    refused(WORDS(oxylag, demo, runs), "did you mean --runs?");
    refused(WORDS(oxylag, demo, fast), "unknown option \"--fast\": try oxylag demo --help");
    refused(WORDS(oxylag, demo, letter), "unknown option \"-x\": try oxylag demo --help");
    refused(WORDS(oxylag, demo, quiz), "unknown option \"--quiz\": try"); /* another command's */
}

static void scenarios(void **state)
{
    (void)state;
    struct oxl_scenario *s = NULL;
    struct oxl_error err = {OXL_OK, ""};
    assert_int_equal(oxl_load_scenario("agde", &s, &err), OXL_ERR_USAGE);
    assert_string_equal(err.text, "no scenario \"agde\": did you mean aged? All of them: oxylag "
                                  "scenarios");
    assert_int_equal(oxl_load_scenario("nonsense", &s, &err), OXL_ERR_USAGE);
    assert_null(strstr(err.text, "did you mean"));
    assert_int_equal(oxl_load_scenario("aged", &s, &err), OXL_OK);
    oxl_scenario_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(edits),
        cmocka_unit_test(commands_and_options),
        cmocka_unit_test(scenarios),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Whole simulated tests over every scenario and many seeds, with a technician who takes what is
 * offered, declines it, presses keys or ends early: what is shown beside a verdict agrees with it,
 * and what is to be done next can be done, has not been done, and says one thing.
 *   OXL_VERDICT_SEEDS=200 app_scenario_verdict_words    more seeds of each scenario
 *   OXL_VERDICT_FIRST=13 ...                        beginning with another seed than 1
 *   OXL_VERDICT_ONLY=" dead good " ...              of these scenarios only, a space around each
 *   OXL_VERDICT_DUMP=FILE                           one line a test: verdict and measured figures
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "lead_rules.h"
#include "long.h"

/* ---- what must hold of the steps --------------------------------------------------------------
 */
static bool has_step(const struct whole_test *t, enum oxl_reason step)
{
    enum oxl_reason s;
    for (size_t i = 0; (s = oxl_next_step(&t->record.result, i)) != OXL_R_COUNT; i++)
        if (s == step)
            return true;
    return false;
}

static bool step_says(const struct whole_test *t, const char *words)
{
    enum oxl_reason s;
    for (size_t i = 0; (s = oxl_next_step(&t->record.result, i)) != OXL_R_COUNT; i++)
        if (strstr(oxl_reason_next(s), words))
            return true;
    return false;
}

static bool no_step_twice(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    enum oxl_reason a, b;
    for (size_t i = 0; (a = oxl_next_step(r, i)) != OXL_R_COUNT; i++)
        for (size_t k = 0; k < i && (b = oxl_next_step(r, k)) != OXL_R_COUNT; k++)
            if (a == b || strcmp(oxl_reason_next(a), oxl_reason_next(b)) == 0)
                return false;
    return true;
}

/* Two steps that share their half. */
static bool no_half_step_twice(const struct whole_test *t)
{
    static const char *const halves[] = {"close to the engine", "closer to the engine",
                                         "unmetered air", "full target"};
    size_t closer = 0;
    for (size_t h = 0; h < sizeof halves / sizeof halves[0]; h++) {
        enum oxl_reason s;
        size_t n = 0;
        for (size_t i = 0; (s = oxl_next_step(&t->record.result, i)) != OXL_R_COUNT; i++)
            n += strstr(oxl_reason_next(s), halves[h]) != NULL;
        closer += h < 2 ? n : 0;
        if (n > 1 || closer > 1)
            return false;
    }
    return true;
}

static bool no_step_contradicts(const struct whole_test *t)
{
    static const char *const pairs[][2] = {
        {"less gas", "more gas"},       {"less gas", "deeper run"},
        {"less gas", "open the valve"}, {"Repair the exhaust leak", "leak check"},
        {"then replace", "leak check"}, {"Repair the exhaust leak", "Repeat the test"},
        {"for leaks", "full target"},   {"for leaks", "more gas"},
        {"for leaks", "deeper run"},    {"for leaks", "open the gas quickly"},
    };
    static const enum oxl_reason codes[][2] = {
        {OXL_R_OVER_ENRICHED, OXL_R_UNDER_ENRICHED},
        {OXL_R_OVER_ENRICHED, OXL_R_SUPPLY_TOO_SMALL},
        {OXL_R_OVER_ENRICHED, OXL_R_PART_EMPTIED},
        {OXL_R_TRIM_AT_LIMIT, OXL_R_UNDER_ENRICHED},
        {OXL_R_TRIM_AT_LIMIT, OXL_R_SUPPLY_TOO_SMALL},
        {OXL_R_TRIM_AT_LIMIT, OXL_R_PART_EMPTIED},
        {OXL_R_RPM_DROP, OXL_R_UNDER_ENRICHED},
        {OXL_R_RPM_DROP, OXL_R_SUPPLY_TOO_SMALL},
        {OXL_R_RPM_DROP, OXL_R_PART_EMPTIED},
        {OXL_R_LEAK_FOUND, OXL_R_LEAK_CHECK_FIRST},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        if (step_says(t, pairs[i][0]) && step_says(t, pairs[i][1]))
            return false;
    for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++)
        if (has_step(t, codes[i][0]) && has_step(t, codes[i][1]))
            return false;
    return true;
}

static bool any_run_has(const struct whole_test *t, oxl_reasons set, bool valid_only)
{
    for (size_t i = 0; i < t->record.runs_n; i++)
        if ((t->record.runs[i].reasons & set) && (t->record.runs[i].valid || !valid_only))
            return true;
    return false;
}

static bool deeper_was_taken(const struct whole_test *t)
{
    for (size_t i = 0; i < t->record.runs_n; i++)
        if (t->record.runs[i].deeper && t->record.runs[i].valid)
            return true;
    return false;
}

static bool no_step_was_done(const struct whole_test *t)
{
    if (deeper_was_taken(t) && (step_says(t, "deeper run") || has_step(t, OXL_R_PART_EMPTIED)))
        return false;
    return !(t->leak_clear || t->leak_found) || !step_says(t, "leak check");
}

/* A deeper run is refused for heat and where no air flow is known; and no key is to be pressed in a
 * test that is over. */
static bool no_step_is_impossible(const struct whole_test *t)
{
    const oxl_reasons unsafe = OXL_REASON_BIT(OXL_R_MISFIRE) | OXL_REASON_BIT(OXL_R_RPM_DROP);
    const struct oxl_result *r = &t->record.result;
    const bool refused = any_run_has(t, unsafe, false) || (r->reasons & unsafe) ||
                         t->cat_temp_c > t->profile.deeper_cat_max_c || !oxl_known(r->air_g_s) ||
                         r->valid_runs == 0 || r->verdict != OXL_VERDICT_INCONCLUSIVE;
    if (refused && (step_says(t, "deeper run") || has_step(t, OXL_R_PART_EMPTIED)))
        return false;
    return !step_says(t, "when it is offered") && !step_says(t, "press ") &&
           !step_says(t, "Press ");
}

static bool depth_of_deeper_is_not_blamed(const struct whole_test *t)
{
    const oxl_reasons deep =
        OXL_REASON_BIT(OXL_R_OVER_ENRICHED) | OXL_REASON_BIT(OXL_R_TRIM_AT_LIMIT);
    oxl_reasons others = 0;
    for (size_t i = 0; i < t->record.runs_n; i++) {
        if (!t->record.runs[i].deeper)
            others |= t->record.runs[i].reasons;
        else if (t->record.runs[i].reasons & deep)
            return false;
    }
    return !(t->record.result.reasons & deep & ~others);
}

static bool proven_comes_first(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    if (oxl_reasons_has(r->reasons, OXL_R_LEAK_FOUND))
        return oxl_nth_reason(r, 0) == OXL_R_LEAK_FOUND && oxl_next_step(r, 0) == OXL_R_LEAK_FOUND;
    const oxl_reasons faults = oxl_reasons_pushing(r->reasons, OXL_PUSH_VOID);
    return !faults || oxl_reasons_has(faults, oxl_nth_reason(r, 0));
}

static bool inconclusive_says_what_next(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    return r->verdict != OXL_VERDICT_INCONCLUSIVE || oxl_next_step(r, 0) != OXL_R_COUNT;
}

/* In no order, and nowhere on the page of a test in which a deeper run took out enough. */
static bool no_too_little(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    enum oxl_reason first = oxl_nth_reason(r, 0);
    const char *words = first == OXL_R_COUNT ? "" : oxl_reason_sentence(first);
    if (r->verdict == OXL_VERDICT_GOOD && (strstr(words, "oo little") || strstr(words, "less ")))
        return false;
    bool all = false;
    for (size_t i = 0; i < t->record.runs_n; i++)
        all = all ||
              (t->record.runs[i].deeper && t->record.runs[i].valid && t->record.runs[i].dropped &&
               !oxl_reasons_has(t->record.runs[i].reasons | r->session, OXL_R_PART_EMPTIED));
    return !all || !oxl_reasons_has(r->reasons, OXL_R_PART_EMPTIED);
}

static bool reasons_have_a_point(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    return !(oxl_reasons_has(r->reasons, OXL_R_PART_EMPTIED) && r->valid_runs == 0) &&
           !(oxl_reasons_has(r->reasons, OXL_R_NEW_CONVERTER) && r->verdict == OXL_VERDICT_GOOD);
}

static bool reasons_are_all_said(const struct whole_test *t)
{
    const struct oxl_result *r = &t->record.result;
    oxl_reasons said = 0;
    enum oxl_reason a;
    for (size_t i = 0; (a = oxl_nth_reason(r, i)) != OXL_R_COUNT; i++) {
        if (oxl_reasons_has(said, a))
            return false;
        said = oxl_reasons_add(said, a);
    }
    return said == r->reasons;
}

static const struct rule own_rules[] = {
    {"no step twice", no_step_twice},
    {"no half of a step twice", no_half_step_twice},
    {"no step contradicts another", no_step_contradicts},
    {"no step was done already", no_step_was_done},
    {"no step is impossible", no_step_is_impossible},
    {"the depth that the program asked for is not blamed", depth_of_deeper_is_not_blamed},
    {"a proven cause comes first", proven_comes_first},
    {"an inconclusive result says what comes next", inconclusive_says_what_next},
    {"a good result does not begin with too little, none says it after enough", no_too_little},
    {"no reason speaks of more than nothing, nor of a new converter's lack beside a good result",
     reasons_have_a_point},
    {"every reason is said once", reasons_are_all_said},
};
enum { OWN = sizeof own_rules / sizeof own_rules[0], RULES = LEAD_RULES + OWN };

static const struct rule *rule_at(size_t i)
{
    return i < LEAD_RULES ? &lead_rules[i] : &own_rules[i - LEAD_RULES];
}

/* ---- all of them ------------------------------------------------------------------------------
 */
static unsigned broken[RULES];

static void complain(const struct whole_test *t, size_t rule)
{
    const struct oxl_result *r = &t->record.result;
    char lead[OXL_LEAD_TEXT];
    if (broken[rule]++ >= 3)
        return;
    oxl_lead_text(&r->lead, lead);
    print_error("%s, seed %u, manner %d: %s; %s\n   BROKEN: %s\n", t->scenario, (unsigned)t->seed,
                (int)t->manner, oxl_verdict_name(r->verdict), lead, rule_at(rule)->name);
    enum oxl_reason a;
    for (size_t i = 0; (a = oxl_nth_reason(r, i)) != OXL_R_COUNT; i++)
        print_error("   - %s\n", oxl_reason_code(a));
    for (size_t i = 0; (a = oxl_next_step(r, i)) != OXL_R_COUNT; i++)
        print_error("   > %s\n", oxl_reason_next(a));
}

static void dump(FILE *f, const struct whole_test *t)
{
    const struct oxl_test_record *k = &t->record;
    fprintf(f, "%s\t%u\t%s\t", t->scenario, (unsigned)t->seed,
            k->has_result ? oxl_conclusion_name(k->result.conclusion) : "no result");
    for (size_t i = 0; i < k->runs_n; i++)
        fprintf(f, "%d%d%d %.17g %.17g %.17g %.17g | ", k->runs[i].valid, k->runs[i].deeper,
                k->runs[i].dropped, k->runs[i].delay_s.value, k->runs[i].delay_at_target_s.low,
                k->runs[i].o2_mg.low, k->runs[i].o2_mg.high);
    fprintf(f, "\n");
}

static bool chosen(size_t scenario)
{
    const char *only = getenv("OXL_VERDICT_ONLY");
    char name[64];
    snprintf(name, sizeof name, " %s ", oxl_scenario_builtin_name(scenario));
    return !only || strstr(only, name);
}

static void every_result_agrees_with_itself(void **state)
{
    (void)state;
    static struct whole_test t;
    const char *seeds_text = getenv("OXL_VERDICT_SEEDS"), *file = getenv("OXL_VERDICT_DUMP");
    const char *first_text = getenv("OXL_VERDICT_FIRST");
    const uint64_t seeds = seeds_text ? strtoul(seeds_text, NULL, 10) : long_or(12, 1);
    const uint64_t first = first_text ? strtoul(first_text, NULL, 10) : 1;
    FILE *f = file ? fopen(file, "w") : NULL;
    unsigned results[4] = {0}, deeper = 0, leaks = 0, clear = 0, wrong = 0;
    for (size_t s = 0; s < oxl_scenario_builtin_count(); s++)
        for (uint64_t seed = first; seed < first + seeds && chosen(s); seed++) {
            whole_test_run(&t, oxl_scenario_builtin_name(s), seed);
            if (f)
                dump(f, &t);
            if (!t.record.has_result)
                continue;
            results[t.record.result.verdict]++;
            deeper += deeper_was_taken(&t);
            leaks += t.leak_found;
            clear += t.leak_clear;
            for (size_t i = 0; i < RULES; i++)
                if (!rule_at(i)->holds(&t))
                    complain(&t, i);
        }
    if (f)
        fclose(f);
    print_message("%u good, %u questionable, %u bad, %u inconclusive; %u with a deeper run, %u "
                  "leaks found, %u leak checks clear\n",
                  results[OXL_VERDICT_GOOD], results[OXL_VERDICT_QUESTIONABLE],
                  results[OXL_VERDICT_BAD], results[OXL_VERDICT_INCONCLUSIVE], deeper, leaks,
                  clear);
    for (size_t i = 0; i < RULES; i++) {
        wrong += broken[i];
        if (broken[i])
            print_error("%u times broken: %s\n", broken[i], rule_at(i)->name);
    }
    assert_int_equal(wrong, 0);
    if (getenv("OXL_VERDICT_ONLY"))
        return;
    /* Else the rules would have met nothing. */
    for (size_t i = 0; i < 4; i++)
        assert_true(results[i] > 0 || (seeds < 12 && first > 1));
    /* Fewer seeds need not come to each of these. */
    assert_true(seeds < 12 || (deeper > 0 && clear > 0 && leaks > 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_result_agrees_with_itself)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#include "words.h"

#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"

const char *oxl_verdict_sentence(const struct oxl_test_record *s)
{
    static const char *const words[] = {
        [OXL_CONCLUSION_NONE] =
            "The test gave no answer about the converter; nothing follows from it either way. The "
            "reasons are below.",
        [OXL_CONCLUSION_BAD] =
            "In this test the converter stored little oxygen, less than the lower shop limit. "
            "That points to a worn converter once the points under \"What to do next\" have "
            "been ruled out.",
        [OXL_CONCLUSION_NOT_GOOD] =
            "In this test the converter stored less oxygen than the upper shop limit: good is "
            "excluded. Whether it is bad or questionable this test did not show.",
        [OXL_CONCLUSION_QUESTIONABLE] =
            "In this test the converter stored less oxygen than the upper shop limit and more "
            "than the lower one. The test alone does not decide.",
        [OXL_CONCLUSION_NOT_BAD] =
            "In this test the converter stored more oxygen than the lower shop limit: bad is "
            "excluded, and the test gives no reason to replace it. Whether it is good or "
            "questionable this test did not show.",
        [OXL_CONCLUSION_GOOD] =
            "In this test the converter stored plenty of oxygen, more than the upper shop limit. "
            "This says nothing about a blocked, rattling or leaking converter.",
    };
    return s->has_result ? words[s->result.conclusion]
                         : "Nothing follows about the converter from a test that was not finished.";
}

void oxl_dtcs_shown(const struct oxl_dtc_list *list, char *out, size_t size)
{
    snprintf(out, size, "%s", !list->known ? "not known" : list->n == 0 ? "none" : "");
    for (size_t i = 0; list->known && i < list->n && strlen(out) + 7 < size; i++) {
        char code[6];
        oxl_dtc_text(list->codes[i], code);
        oxl_append_word(out, size, " ", code);
    }
}

/* ---- runs ----------------------------------------------------------------------------------- */

size_t oxl_runs_listed(const struct oxl_test_record *s,
                       bool (*is)(const struct oxl_test_record *s, const struct oxl_run_result *r,
                                  enum oxl_reason reason),
                       enum oxl_reason reason, char out[OXL_RUNS_SHOWN])
{
    size_t all = 0, n = 0;
    for (size_t i = 0; i < s->runs_n; i++)
        all += is(s, &s->runs[i], reason);
    out[0] = '\0';
    for (size_t i = 0; i < s->runs_n && strlen(out) + 12 < OXL_RUNS_SHOWN; i++)
        if (is(s, &s->runs[i], reason)) {
            const char *before = n == 0         ? (all > 1 ? "runs " : "run ")
                                 : n + 1 == all ? " and "
                                                : ", ";
            oxl_append(out, OXL_RUNS_SHOWN, "%s%d", before, s->runs[i].run);
            n++;
        }
    return all;
}

/* Has seconds to be compared with the others': a deeper run has seconds of its own, one that held
 * has none. */
static bool in_seconds(const struct oxl_test_record *s, const struct oxl_run_result *r,
                       enum oxl_reason unused)
{
    (void)unused;
    return r->valid && r->dropped && !r->deeper && r->run != s->result.aside_run;
}

/* Which runs the spread is of. How many they are is judged with the result; they are named where
 * they are those that one would think of. */
static void spread(const struct oxl_test_record *s, char *out, size_t size)
{
    const struct oxl_result *r = &s->result;
    char runs[OXL_RUNS_SHOWN], of[OXL_FIGURE_TEXT];
    if (!oxl_known(r->spread_s) || r->spread_runs < 2)
        return;
    if (oxl_runs_listed(s, in_seconds, OXL_R_COUNT, runs) != (size_t)r->spread_runs)
        snprintf(runs, sizeof runs, "%d of them", r->spread_runs);
    oxl_figure_number(r->spread_s, 2, "s", of);
    oxl_append(out, size, "; the delays of %s lie within %s", runs, of);
}

void oxl_counted_words(const struct oxl_test_record *s, char out[OXL_COUNTED])
{
    const struct oxl_result *r = &s->result;
    snprintf(out, OXL_COUNTED, "%d of %d", r->valid_runs, r->runs);
    if (oxl_result_agreed(r))
        oxl_append(out, OXL_COUNTED, ": they agree");
    spread(s, out, OXL_COUNTED);
    if (r->aside_run > 0)
        oxl_append(out, OXL_COUNTED, "; run %d set aside", r->aside_run);
    if (r->ended_early)
        oxl_append(out, OXL_COUNTED, "; ended early");
    if (r->ended_early && r->runs_wanted > 0)
        oxl_append(out, OXL_COUNTED, ", %d were wanted", r->runs_wanted);
}

/* ---- what stays the same -------------------------------------------------------------------- */

const char oxl_what_it_is[] =
    "A working converter stores oxygen. The test empties the store with a little gas and measures "
    "the time until oxygen comes through again. ";

const char oxl_plot_words[] =
    "Seconds from front-lean. C: cut called. F: front sensor lean. R: rear sensor lean. Bar beside "
    "a letter: the interval that holds the moment. Grey: the delay. Light band: accepted depth of "
    "the gas; dotted: levels.";

const char oxl_table_words[] =
    "\"a (b..c)\": estimate and the interval that holds it; \"at least a\", \"at most a\": a "
    "bound, "
    "since the rear sensor held, the store was only part emptied or a flaw leaves the other end "
    "open; \"a\" alone: both are open; \"--\": not known.";

const char oxl_deeper_words[] =
    "\"d\": the deeper run, over target on purpose so that the whole store is emptied; its mass "
    "counts, its seconds only at the target.";

const char oxl_method_words[] =
    "Propane drives the fuel trims to a set shift from their baseline; when it is cut, the mixture "
    "is lean until the trims recover. The time from the front sensor's lean to the rear sensor's "
    "lean is the delay. Stored oxygen is 0.2314 x air flow x (1 - 1/lambda), summed over that "
    "time, less what was on its way in the pipe. Delay at target is the delay that the same "
    "converter would have shown at the target shift. Each figure stands with the interval that "
    "holds it.";

/* After the duties and terms gathered from public rules (US federal converter policy, emission
 * warranties, state and European rules); they change, so the page only says what to look up. */
const char oxl_verify_words[] =
    "Verify locally: rules on converter replacement, emission warranty and record keeping differ "
    "by country and state and change. Before a converter is sold or fitted, check the underhood "
    "label, the warranty booklet (converters are often covered longer than other parts), the "
    "current rule and the part's approval, and write the need for it down. This page documents a "
    "test of oxygen storage; it is no emission test and says nothing about passing or not passing "
    "one.";

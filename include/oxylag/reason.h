/* Reasons: every statement about a run or a result that a person may read, in one list.
 *
 * Evidence has a direction: a flaw pushes the delay one way, and a verdict stands only when its
 * flaws push against it (docs/method.md).
 *
 * OXL_REASONS(X) rows: identifier, stable code for programs, direction, sentence, next check
 * ("" when there is none).
 */
#ifndef OXYLAG_REASON_H
#define OXYLAG_REASON_H

#include <stddef.h>
#include <stdint.h>

enum oxl_push {
    OXL_PUSH_NONE = 0, /* says something, pushes nothing */
    OXL_PUSH_SHORTER,  /* makes a converter look worse than it is */
    OXL_PUSH_LONGER,   /* makes a converter look better than it is */
    OXL_PUSH_VOID      /* makes the run worthless */
};

#define OXL_REASONS(X)                                                                             \
    /* -- proven: before all others, in every list */                                              \
    X(LEAK_FOUND, "leak-found", VOID,                                                              \
      "The rear sensor or the trims changed when the suspected place was covered: there is a "     \
      "leak.",                                                                                     \
      "Repair the exhaust leak that was found, then repeat the test.")                             \
    /* -- depth of enrichment */                                                                   \
    X(OVER_ENRICHED, "over-enriched", SHORTER,                                                     \
      "The trims went further negative than the accepted range: more lean gas was offered than "   \
      "the limits assume.",                                                                        \
      "Repeat with less gas, stopping at the target.")                                             \
    X(UNDER_ENRICHED, "under-enriched", LONGER,                                                    \
      "The trims stayed short of the accepted range: less lean gas was offered than the limits "   \
      "assume.",                                                                                   \
      "Repeat with more gas, up to the target.")                                                   \
    X(DEPTH_UNKNOWN, "depth-unknown", LONGER,                                                      \
      "The trims did not follow the gas alone, so the depth of enrichment is unknown.",            \
      "Check that the trims are live and in closed loop and no purge comes and goes; repeat the "  \
      "test.")                                                                                     \
    X(TRIM_AT_LIMIT, "trim-at-limit", SHORTER, "The trim reached its limit during enrichment.",    \
      "Repeat with less gas, stopping at the target.")                                             \
    X(PART_EMPTIED, "part-emptied", SHORTER,                                                       \
      "The converter may hold more than this: it may not have been empty at the release.",         \
      "Repeat the test and take the deeper run at its end.")                                       \
    /* -- release */                                                                               \
    X(SLOW_RELEASE, "slow-release", LONGER,                                                        \
      "The front sensor did not go lean in one step: gas was still coming after the cut, or the "  \
      "mixture swung.",                                                                            \
      "Pull the hose clear when cutting, use a short hose, feed close to the engine.")             \
    X(NO_FRONT_LEAN, "no-front-lean", VOID, "The front sensor did not go lean after the cut.",     \
      "Check that the valve shuts.")                                                               \
    X(FUEL_CUT, "fuel-cut", SHORTER, "The engine cut its fuel during the timing.",                 \
      "Keep the throttle steady; repeat the test.")                                                \
    /* -- end of the timing */                                                                     \
    X(REAR_HELD, "rear-held", NONE,                                                                \
      "The rear sensor stayed rich for as long as lean gas was on offer: the stored oxygen is at " \
      "least what was fed.",                                                                       \
      "")                                                                                          \
    X(SUPPLY_TOO_SMALL, "supply-too-small", LONGER,                                                \
      "Not enough oxygen was on offer to prove anything: the run was too shallow, or the trims "   \
      "came back too fast.",                                                                       \
      "Repeat at the full target depth.")                                                          \
    X(FAST_TRIM_RECOVERY, "fast-trim-recovery", LONGER,                                            \
      "The trims recovered quickly, so the lean gas faded while the clock ran.",                   \
      "Repeat and open the gas quickly, so that the converter is empty before the trims follow.")  \
    /* -- sensors */                                                                               \
    X(REAR_NOT_SEEN_LEAN, "rear-not-seen-lean", LONGER,                                            \
      "The rear sensor has not been seen lean in this session: a dead or stuck sensor would look " \
      "the same.",                                                                                 \
      "Repeat with a snap of the throttle: the fuel cut proves the rear sensor.")                  \
    X(REAR_NOT_SEEN_RICH, "rear-not-seen-rich", SHORTER,                                           \
      "The rear sensor has not been seen rich in this session.",                                   \
      "Prove the rear sensor: hold the enrichment until it goes rich.")                            \
    X(REAR_MISSING, "rear-missing", VOID, "There is no reading from the rear sensor.",             \
      "Check the rear sensor and its wiring.")                                                     \
    X(REAR_SLOW, "rear-slow", LONGER,                                                              \
      "The rear sensor falls slowly: it may be slow, or outside air may reach it. Part of the "    \
      "delay may be the sensor's own.",                                                            \
      "Check how fast the rear sensor falls in a fuel cut.")                                       \
    X(FRONT_SLOW, "front-slow", SHORTER,                                                           \
      "The front sensor is slow, or the mixture stood close to balance at the release: the clock " \
      "may have started late.",                                                                    \
      "Check how fast the front sensor answers.")                                                  \
    X(REAR_LEAN_FIRST, "rear-lean-first", SHORTER,                                                 \
      "The rear sensor went lean before the front one.",                                           \
      "Look for an exhaust leak at the rear sensor. Front and rear sensor connectors swapped?")    \
    X(REAR_FALL_UNSEEN, "rear-fall-unseen", NONE,                                                  \
      "How quickly the rear sensor falls was not seen: part of the delay may be the sensor's "     \
      "own.",                                                                                      \
      "Repeat the test, and snap the throttle when you are asked to.")                             \
    X(REAR_RESTS_LEAN, "rear-rests-lean", SHORTER,                                                 \
      "The rear sensor is lean at a warm idle without gas: an exhaust leak ahead of it or a "      \
      "stuck sensor does that, or a lean mixture behind a converter that holds little.",           \
      "Check the exhaust for leaks from the front sensor to the rear sensor.")                     \
    X(LEAK_SUSPECTED, "leak-suspected", SHORTER,                                                   \
      "The rear sensor turned lean while the front was rich: outside air seems to reach it.",      \
      "Check the exhaust for leaks from the front sensor to the rear sensor.")                     \
    X(REAR_STUCK, "rear-stuck", VOID,                                                              \
      "The rear sensor's reading did not move in gas that must move it: dead, unplugged or "       \
      "without heat.",                                                                             \
      "Check the rear sensor's heater, connector and wiring.")                                     \
    X(REAR_BIASED_LEAN, "rear-biased-lean", SHORTER,                                               \
      "The rear sensor never read fully rich while the mixture was rich: dead, poisoned, a bad "   \
      "ground, or air at its boss.",                                                               \
      "Check the rear sensor, its ground, and its boss for a leak; it should pass 0.8 V when "     \
      "rich.")                                                                                     \
    X(REAR_BIASED_RICH, "rear-biased-rich", LONGER,                                                \
      "The rear sensor never read fully lean in a fuel cut: contaminated, or a short to voltage.", \
      "Check the rear sensor's wiring; replace the sensor if it stays high in a fuel cut.")        \
    X(SENSORS_SWAPPED, "sensors-swapped", VOID,                                                    \
      "The rear reading switches while the front one is calm: front and rear sensor connectors "   \
      "are swapped, or the front sensor is far too slow.",                                         \
      "Sensor connectors swapped? Trace the front and rear connectors of this bank.")              \
    X(CROSSED_FRONTS, "crossed-fronts", VOID,                                                      \
      "This bank's trims do not answer its own front sensor: the front sensors seem to be "        \
      "crossed between the banks.",                                                                \
      "Trace the front connectors of both banks; unplug one at idle and see which bank answers.")  \
    X(SHARED_REAR, "shared-rear", NONE,                                                            \
      "One rear sensor watches both banks: the figure is that of both converters combined.",       \
      "Judge both converters together, or test each by other means.")                              \
    X(LEAK_NOT_FOUND, "leak-not-found", NONE,                                                      \
      "The leak check was done: covering the suspected place changed nothing.", "")                \
    /* -- conditions */                                                                            \
    X(COOL_CONVERTER, "cool-converter", SHORTER,                                                   \
      "The converter may have been too cool to store oxygen.",                                     \
      "Warm the converter at raised engine speed and repeat at once.")                             \
    X(HIGH_AIR_FLOW, "high-air-flow", SHORTER,                                                     \
      "The air flow was above the range that the limits in seconds were made for.",                \
      "Repeat at idle.")                                                                           \
    X(NOT_CLOSED_LOOP, "not-closed-loop", VOID, "The bank was not in closed loop.",                \
      "Warm the engine; check for trouble codes.")                                                 \
    X(TRIM_FROZEN, "trim-frozen", VOID,                                                            \
      "The short-term trim stood at exactly 0 %: the engine was not in closed loop, whatever the " \
      "status says.",                                                                              \
      "Warm the engine; look for what holds it in open loop; check the trouble codes.")            \
    X(TRIMS_HIGH, "trims-high", SHORTER,                                                           \
      "The ECU adds much fuel at idle: air gets in ahead of the front sensor, the air meter "      \
      "reads low, or the front sensor reads lean.",                                                \
      "Look for an exhaust leak ahead of the front sensor and for unmetered air.")                 \
    X(IDLED_LONG, "idled-long", SHORTER,                                                           \
      "The engine idled for long before the run: the converter may have cooled.",                  \
      "Hold 2000-2500 rpm until the converter is hot again and repeat at once.")                   \
    X(SECONDARY_AIR, "secondary-air", SHORTER, "Secondary air is being blown into the exhaust.",   \
      "Wait until the air pump is off; if it never stops, check its trouble codes.")               \
    X(MISFIRE, "misfire", VOID,                                                                    \
      "The engine misfires, or a misfire code is stored: unburned oxygen and fuel reach the "      \
      "sensors.",                                                                                  \
      "Repair the misfire before the converter is tested; watch the heat.")                        \
    X(NEW_CONVERTER, "new-converter", SHORTER,                                                     \
      "The converter is new: it may store little until it has been driven hot.",                   \
      "Drive 10 to 60 minutes at highway speed and repeat the test.")                              \
    X(RPM_UNSTEADY, "rpm-unsteady", VOID, "The engine speed was not steady during the timing.",    \
      "Switch off the air conditioning, hold the throttle still, repeat.")                         \
    X(RPM_DROP, "rpm-drop", VOID, "The engine stumbled under the gas.",                            \
      "Repeat with less gas: the engine must not stumble.")                                        \
    X(BASELINE_DRIFT, "baseline-drift", NONE,                                                      \
      "The trims did not return to the baseline after the run.",                                   \
      "Look for residual gas or purge flow; take a new baseline.")                                 \
    X(EARLY_SHIFT, "early-shift", NONE, "The trims moved before gas was called for.",              \
      "Check that the valve shuts tight.")                                                         \
    X(OVERRIDDEN, "overridden", NONE, "A check was passed by hand.", "")                           \
    X(CODES_PRESENT, "codes-present", NONE, "Trouble codes are stored that can disturb the test.", \
      "Deal with the stored trouble codes.")                                                       \
    /* -- link and measurement */                                                                  \
    X(GAP_AT_EVENT, "gap-at-event", VOID, "Samples are missing at the moment of an event.",        \
      "Check the connector, the adapter and the ignition; repeat the test.")                       \
    X(LINK_LOST, "link-lost", VOID, "The link was lost during the run.",                           \
      "Check the connector, the adapter and the ignition; repeat the test.")                       \
    X(IMPORTED, "imported", NONE,                                                                  \
      "The samples come from an imported table: this program did not time them, and no figure is " \
      "finer than the step between them.",                                                         \
      "")                                                                                          \
    X(RESAMPLED, "resampled", VOID,                                                                \
      "The table's values were interpolated onto an even grid: it does not show when the sensors " \
      "changed.",                                                                                  \
      "Export the samples as they were read, without interpolation.")                              \
    X(TABLE_ENDS, "table-ends", VOID, "The table ends before this run does.", "")                  \
    X(COARSE_SAMPLING, "coarse-sampling", NONE,                                                    \
      "The samples are so far apart that the interval is wide.", "")                               \
    X(AIR_UNKNOWN, "air-unknown", NONE,                                                            \
      "No air flow is known, so the stored oxygen is not computed.",                               \
      "Give the displacement in the profile if the ECU reports manifold pressure.")                \
    X(AIR_ESTIMATED, "air-estimated", NONE,                                                        \
      "The air flow is a speed-density estimate with an assumed volumetric efficiency.", "")       \
    X(LAMBDA_TRIM_DISAGREE, "lambda-trim-disagree", NONE,                                          \
      "Oxygen from the front sensor's lambda and from the trims disagree.",                        \
      "Feed the gas closer to the engine; check for unmetered air.")                               \
    X(RESTARTED, "restarted", VOID, "The technician restarted the run.", "")                       \
    X(TIME_LIMIT, "time-limit", VOID, "The step took longer than its limit.", "")                  \
    /* -- result */                                                                                \
    X(NO_VALID_RUN, "no-valid-run", NONE, "No run gave a valid measurement.", "Repeat the test.")  \
    X(RUNS_SCATTER, "runs-scatter", NONE,                                                          \
      "The runs differ by more than their own intervals explain.",                                 \
      "Look for what changed between the runs; repeat the test.")                                  \
    X(RUN_SET_ASIDE, "run-set-aside", NONE,                                                        \
      "One run lies far from the others and was set aside, not deleted.", "")                      \
    X(RUNS_UNLIKE, "runs-unlike", NONE,                                                            \
      "Runs at different engine speed or air flow, or from other sensors, were not combined.",     \
      "Keep engine speed and load the same from run to run.")                                      \
    X(STRADDLES_LIMIT, "straddles-limit", NONE, "The interval reaches across a limit.",            \
      "Repeat the test to narrow the interval.")                                                   \
    X(SECONDS_AND_GRAMS_DISAGREE, "seconds-and-grams-disagree", NONE,                              \
      "The limit in seconds and the limit in grams give different answers.",                       \
      "Check the air flow reading, or the displacement in the profile; repeat the test.")          \
    X(LEAK_CHECK_FIRST, "leak-check-first", NONE,                                                  \
      "An exhaust leak ahead of the rear sensor looks the same as an empty converter.",            \
      "Repeat with the leak check before the converter is replaced.")                              \
    X(LOW_STORAGE, "low-storage", NONE, "The converter stored little oxygen.",                     \
      "Rule out the other causes in the report, then replace the converter.")                      \
    X(GOOD_STORAGE, "good-storage", NONE, "The converter stored plenty of oxygen.", "")            \
    X(MIDDLE_STORAGE, "middle-storage", NONE,                                                      \
      "The converter stored less oxygen than a good one and more than a bad one.",                 \
      "Repeat when fully hot; compare with the ECU's own monitor results.")

enum oxl_reason {
#define X(id, code, push, sentence, next) OXL_R_##id,
    OXL_REASONS(X)
#undef X
        OXL_R_COUNT
};

const char *oxl_reason_code(enum oxl_reason r);
enum oxl_push oxl_reason_push(enum oxl_reason r);
const char *oxl_reason_sentence(enum oxl_reason r);
const char *oxl_reason_next(enum oxl_reason r); /* "" when there is nothing to do */

/* What no data of this test show, for a person to rule out: the i-th line for a conclusion
 * (enum oxl_conclusion of measure.h), NULL past the last. */
const char *oxl_other_cause(unsigned conclusion, size_t i);

/* A set of reasons. OXL_R_COUNT is at most 64 (checked at compile time in reason.c). */
typedef uint64_t oxl_reasons;
#define OXL_REASON_BIT(r) ((oxl_reasons)1 << (r))
static inline oxl_reasons oxl_reasons_add(oxl_reasons set, enum oxl_reason r)
{
    return set | OXL_REASON_BIT(r);
}
static inline int oxl_reasons_has(oxl_reasons set, enum oxl_reason r)
{
    return (set & OXL_REASON_BIT(r)) != 0;
}
/* The members that push in a direction. */
oxl_reasons oxl_reasons_pushing(oxl_reasons set, enum oxl_push push);
/* The members after which there is something to do. */
oxl_reasons oxl_reasons_with_step(oxl_reasons set);

#endif

/* Events: what the core says. Screen, recording, report and other programs read this one
 * stream; nothing of it flows back.
 */
#ifndef OXYLAG_EVENT_H
#define OXYLAG_EVENT_H

#include <stdbool.h>
#include <stdint.h>

#include "oxylag/channel.h"
#include "oxylag/measure.h"
#include "oxylag/poll.h"
#include "oxylag/vehicle.h"

/* The states. X(id, name, advice that stands until the first one is given). */
#define OXL_STATES(X)                                                                              \
    X(PRECHECK, "precheck", CONNECTING) /* also while the link is being made */                    \
    X(BASELINE, "baseline", STEADY)                                                                \
    X(ENRICHMENT, "enrichment", ADD_GAS)                                                           \
    X(RELEASE, "release", CUT)      /* begins when the tool says "cut now" */                      \
    X(TIMING, "timing", FRONT_LEAN) /* begins at front-lean */                                     \
    X(RECOVERY, "recovery", RECOVER)                                                               \
    X(DONE, "done", FINISHED)                                                                      \
    X(STOPPED, "stopped", ABORTED)                                                                 \
    X(LEAK_CHECK, "leak-check", LEAK_STEADY) /* asked for by a key, between runs */

enum oxl_state {
#define X(id, name, advice) OXL_STATE_##id,
    OXL_STATES(X)
#undef X
        OXL_STATE_COUNT
};
const char *oxl_state_name(enum oxl_state s); /* "precheck", ... */

/* Things said to the technician. X(id, code, is_caution, hand, headline, text). `text` is one short
 * plain line; `headline` the same in large letters, at most 76 points wide, so that each fits 80
 * columns (src/ui/large.c), NULL where it is only a note. */
#define OXL_ADVICES(X)                                                                             \
    X(CONNECTING, "connecting", false, AS_IT_IS, "CONNECTING",                                     \
      "Looking for the vehicle: ignition on, gas valve shut.")                                     \
    X(WAIT_WARM, "wait-warm", false, OTHER, "WARM THE ENGINE",                                     \
      "Warm the engine: hold 2000-2500 rpm.")                                                      \
    X(WAIT_CLOSED_LOOP, "wait-closed-loop", true, AS_IT_IS, "NOT IN CLOSED LOOP",                  \
      "Not in closed loop yet: wait, or check the trouble codes.")                                 \
    X(STAND_STILL, "stand-still", true, OTHER, "STAND STILL",                                      \
      "The vehicle moves: it must stand still.")                                                   \
    X(STEADY, "steady", false, STAY_SHUT, "KEEP IT STEADY",                                        \
      "Valve shut, let it idle: taking the baseline.")                                             \
    X(OPENING_TOO_LARGE, "opening-too-large", true, OTHER, "SMALLER PORT",                         \
      "Too much air: use a smaller port.")                                                         \
    X(NOT_STEADY, "not-steady", false, STAY_SHUT, "WAIT",                                          \
      "Trims or engine speed still move: valve shut, let it idle.")                                \
    X(RESIDUAL_GAS, "residual-gas", true, SHUT, "SHUT THE VALVE",                                  \
      "Trims fall although no gas is asked for: is the valve shut?")                               \
    X(ADD_GAS, "add-gas", false, OPEN, "ADD PROPANE SLOWLY", "Add propane slowly.")                \
    X(NO_EFFECT, "no-effect", true, MORE, "NO EFFECT YET",                                         \
      "No effect yet: is gas being drawn in?")                                                     \
    X(SLOW, "slow", false, MORE, "SLOW NOW", "Slow now: nearly there.")                            \
    X(HOLD, "hold", false, HOLD, "HOLD", "Hold it there.")                                         \
    X(MORE, "more", false, MORE, "A LITTLE MORE GAS", "A little more gas.")                        \
    X(TOO_MUCH, "too-much", true, LESS, "A LITTLE LESS GAS",                                       \
      "Too much gas: close the valve a little.")                                                   \
    X(BACK_OFF, "back-off", true, LESS, "BACK OFF NOW", "Far too much gas: back off now.")         \
    X(TRIM_LIMIT, "trim-limit", true, LESS, "A LITTLE LESS GAS",                                   \
      "The trim is at its limit: close the valve a little.")                                       \
    X(STUMBLE, "stumble", true, SHUT, "SHUT THE VALVE", "The engine stumbles: shut the valve.")    \
    X(WAIT_RICH, "wait-rich", false, HOLD, "HOLD",                                                 \
      "Hold: waiting for the rear sensor to go rich.")                                             \
    X(DEPTH_UNKNOWN, "depth-unknown", true, HOLD, "HOLD",                                          \
      "Trims do not move: going by the front sensor.")                                             \
    X(CUT, "cut", false, SHUT, "CUT THE GAS NOW",                                                  \
      "CUT THE GAS NOW: shut the valve, pull the hose clear.")                                     \
    X(CUT_HEAT, "cut-heat", true, SHUT, "CUT THE GAS NOW",                                         \
      "Time is up for the heat: cut the gas now.")                                                 \
    X(STILL_RICH, "still-rich", true, SHUT, "SHUT THE VALVE",                                      \
      "Still rich: is the valve shut and the hose clear?")                                         \
    X(FRONT_LEAN, "front-lean", false, STAY_SHUT, "TIMING",                                        \
      "Front is lean, timing: keep the valve shut.")                                               \
    X(REAR_LEAN, "rear-lean", false, STAY_SHUT, "TIME TAKEN", "Rear is lean: time taken.")         \
    X(REAR_HELD, "rear-held", false, STAY_SHUT, "REAR HELD",                                       \
      "Rear held: the converter took up all that was fed.")                                        \
    X(RECOVER, "recover", false, STAY_SHUT, "WAIT",                                                \
      "Wait, valve shut: the engine returns to its baseline.")                                     \
    X(PROVE_REAR, "prove-rear", false, OTHER, NULL,                                                \
      "Snap the throttle once, so that the rear sensor goes lean.")                                \
    X(START_ENGINE, "start-engine", false, OTHER, "START THE ENGINE", "Start the engine.")         \
    X(REWARM, "rewarm", false, OTHER, "WARM IT AGAIN",                                             \
      "Idled too long: hold 2000-2500 rpm for two minutes, then idle.")                            \
    X(SECONDARY_AIR, "secondary-air", true, AS_IT_IS, "WAIT",                                      \
      "Secondary air is on: wait until the pump stops.")                                           \
    X(TRIM_FROZEN, "trim-frozen", true, AS_IT_IS, "TRIM IS FROZEN",                                \
      "Trim frozen at 0: not in closed loop. Wait, check the trouble codes.")                      \
    X(CROSSED, "crossed", true, OTHER, "SWAPPED?",                                                 \
      "Front sensor connectors swapped between the banks? Trace both.")                            \
    X(LEAK_STEADY, "leak-steady", false, AS_IT_IS, "KEEP IT STEADY",                               \
      "Leak check: leave everything as it is.")                                                    \
    X(LEAK_COVER, "leak-cover", false, OTHER, "COVER IT NOW",                                      \
      "Cover the suspected place now and keep it covered.")                                        \
    X(LEAK_UNCOVER, "leak-uncover", false, OTHER, "UNCOVER IT NOW", "Uncover it now.")             \
    X(LEAK_YES, "leak-yes", true, AS_IT_IS, NULL, "It changed when covered: there is a leak.")     \
    X(LEAK_NO, "leak-no", false, AS_IT_IS, NULL, "No change when covered: no leak seen there.")    \
    X(LEAK_UNCLEAR, "leak-unclear", false, AS_IT_IS, NULL,                                         \
      "Leak check unclear: the signals moved by themselves.")                                      \
    X(LEAK_OFFER, "leak-offer", true, OTHER, "PRESS L OR N",                                       \
      "Looks low. l: leak check. n: the converter is new.")                                        \
    X(ASK_NEW, "ask-new", true, OTHER, "IS IT NEW?",                                               \
      "Looks low. Is the converter new? Press n if it is.")                                        \
    X(LEAK_LATER, "leak-later", false, AS_IT_IS, NULL,                                             \
      "The leak check comes when this run is over.")                                               \
    X(DEEPER_OFFER, "deeper-offer", true, OTHER, "ONE MORE RUN",                                   \
      "Not decided yet. Keep the valve shut until OPEN QUICKLY. d: end the test.")                 \
    X(DEEPER_ADD, "deeper-add", false, OPEN, "OPEN QUICKLY",                                       \
      "Deeper run: open the valve quickly.")                                                       \
    X(DEEPER_MORE, "deeper-more", false, MORE, "MORE GAS", "Deeper: more gas, at once.")           \
    X(DEEPER_HOLD, "deeper-hold", true, HOLD, "HOLD IT RICH",                                      \
      "Hold it there, rich, for a short time: watch the heat.")                                    \
    X(RUN_INVALID, "run-invalid", true, AS_IT_IS, NULL,                                            \
      "That run does not count; it will be repeated.")                                             \
    X(LINK_TROUBLE, "link-trouble", true, SHUT, "NO DATA",                                         \
      "No data: check connector, adapter and ignition.")                                           \
    X(LINK_BACK, "link-back", false, AS_IT_IS, NULL, "Data again.")                                \
    X(RESTARTED, "restarted", false, AS_IT_IS, NULL, "Run restarted.")                             \
    X(SHUT_VALVE, "shut-valve", true, SHUT, "SHUT THE VALVE", "Shut the gas valve now.")           \
    X(VALVE_DRIPS, "valve-drips", true, SHUT, "SHUT THE CYLINDER",                                 \
      "Gas still comes with the valve shut: it drips. Shut the cylinder.")                         \
    X(ENGINE_STOPPED, "engine-stopped", true, SHUT, "SHUT THE VALVE",                              \
      "The engine has stopped: shut the gas valve now.")                                           \
    X(LET_IDLE, "let-idle", false, OTHER, "LET IT IDLE",                                           \
      "Let the engine idle: this test is made at idle.")                                           \
    X(CHECK_STOPS, "check-stops", true, OTHER, "FIX THIS FIRST",                                   \
      "Fix what says STOP, or press space to go on. The report will say so.")                      \
    X(ABORT_AGAIN, "abort-again", true, AS_IT_IS, NULL, "Press a once more to end the test.")      \
    X(MARKED, "marked", false, AS_IT_IS, NULL, "Marked.")                                          \
    X(OVERRIDE, "override", true, AS_IT_IS, NULL, "Passed by hand: it will be on the report.")     \
    X(UNSUITABLE, "unsuitable", true, STAY_SHUT, "CANNOT BE TESTED",                               \
      "This vehicle cannot be tested this way.")                                                   \
    X(FINISHED, "finished", false, STAY_SHUT, "FINISHED",                                          \
      "Finished: shut the cylinder, refit every hose.")                                            \
    X(ABORTED, "aborted", true, SHUT, "STOPPED", "Stopped: shut the gas, refit every hose.")

enum oxl_advice {
#define X(id, code, caution, hand, headline, text) OXL_ADV_##id,
    OXL_ADVICES(X)
#undef X
        OXL_ADV_COUNT
};
const char *oxl_advice_code(enum oxl_advice a);
const char *oxl_advice_text(enum oxl_advice a);
bool oxl_advice_is_caution(enum oxl_advice a);
/* NULL: it does not change what to do now; it is shown for some seconds, the headline stays. */
const char *oxl_advice_headline(enum oxl_advice a);

/* What an advice asks of the hand at the gas valve. Every screen, word and sound about the valve
 * comes from here. */
enum oxl_hand {
    OXL_HAND_AS_IT_IS = 0, /* says nothing about the valve */
    OXL_HAND_OPEN,         /* open it slowly, or quickly */
    OXL_HAND_MORE,
    OXL_HAND_HOLD, /* leave it where it is, gas flowing */
    OXL_HAND_LESS,
    OXL_HAND_SHUT,      /* now */
    OXL_HAND_STAY_SHUT, /* it is shut, and stays so */
    OXL_HAND_OTHER      /* not the valve, but a hand: cover the place, start the engine, a key */
};
enum oxl_hand oxl_advice_hand(enum oxl_advice a);
/* For programs: "as-it-is", "open", "more", "hold", "less", "shut", "stay-shut", "other". */
const char *oxl_hand_name(enum oxl_hand h);

/* A line of the pre-check. */
enum oxl_grade { OXL_GRADE_UNKNOWN = 0, OXL_GRADE_PASS, OXL_GRADE_CAUTION, OXL_GRADE_STOP };
const char *oxl_grade_name(enum oxl_grade g); /* "unknown", "pass", "caution", "stop" */
struct oxl_check {
    char id[24]; /* stable: "closed-loop", "coolant", "codes-stored", "layout", ... */
    enum oxl_grade grade;
    char found[96];   /* what was found, for a person: "coolant 88 C" */
    char advice[128]; /* what to do, "" when nothing */
};

/* Room for what a check found and what to do about it, in one sentence. */
enum { OXL_DETAIL = 288 };

enum oxl_event_kind {
    OXL_EV_STATE,    /* u.state             */
    OXL_EV_SAMPLE,   /* u.sample            */
    OXL_EV_ADVICE,   /* u.advice            */
    OXL_EV_CHECK,    /* u.check             */
    OXL_EV_RUN,      /* u.run               */
    OXL_EV_RESULT,   /* u.result            */
    OXL_EV_LINK,     /* u.link              */
    OXL_EV_VEHICLE,  /* u.vehicle (pointer, valid only during the call) */
    OXL_EV_PROFILE,  /* u.profile_name: which profile was chosen and why */
    OXL_EV_BASELINE, /* u.baseline          */
    OXL_EV_MARK      /* u.mark              */
};

struct oxl_event {
    enum oxl_event_kind kind;
    int64_t t_us;
    union {
        struct {
            enum oxl_state state;
            int run; /* 0 before the first run */
        } state;
        struct oxl_sample sample;
        struct {
            enum oxl_advice advice;
            char detail[OXL_DETAIL]; /* a figure, or what the link said; may be "" */
        } advice;
        struct oxl_check check;
        struct oxl_run_result run;
        struct oxl_result result;
        struct {
            enum oxl_link_state state;
            char text[160];
        } link;
        const struct oxl_vehicle *vehicle;
        struct {
            char name[32];
            char why[96];
            const struct oxl_profile *profile; /* in full; valid only during the call */
        } profile;
        struct {
            double trim_pct, trim_sd_pct, rpm, front_level, rear_level;
        } baseline;
        struct {
            char text[96];
        } mark;
    } u;
};

#endif

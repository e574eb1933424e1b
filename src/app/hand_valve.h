/* By hand: the trainee's simulated gas valve, and how well each run was done. */
#ifndef OXL_APP_HAND_VALVE_H
#define OXL_APP_HAND_VALVE_H

#include <stdbool.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/report.h"

struct oxl_hand_valve {
    double valve;     /* 0 shut .. 1 wide open; NAN: not by hand */
    int64_t call_us;  /* "cut now" of the run at hand; 0: not called yet */
    int64_t shut_us;  /* when the valve was shut for it; 0: not yet */
    bool was_open;    /* gas has flowed in this run */
    int64_t early_us; /* shut before the call; 0: it was not */
    /* Of each run of the record: NAN unknown; negative: before the call. */
    double shut_after_s[OXL_RECORD_MAX_RUNS];
    int runs_n, last_run;
};

void oxl_hand_valve_start(struct oxl_hand_valve *b, bool on);
/* Arrow keys and digits. True when the valve was moved. */
bool oxl_hand_valve_key(struct oxl_hand_valve *b, int key, int64_t now_us);
void oxl_hand_valve_event(struct oxl_hand_valve *b, const struct oxl_event *ev);
/* A line a run: how deep, how quick. The record has taken the same events. */
void oxl_hand_valve_text(const struct oxl_hand_valve *b, const struct oxl_test_record *record,
                         struct oxl_buf *out);

#endif

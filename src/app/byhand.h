/* By hand: the trainee's simulated gas valve, and how well each run was done. */
#ifndef OXL_APP_BYHAND_H
#define OXL_APP_BYHAND_H

#include <stdbool.h>
#include <stdint.h>

#include "oxylag/event.h"
#include "oxylag/profile.h"
#include "oxylag/report.h"

enum { OXL_BYHAND_RUNS = 16 };

struct oxl_byhand {
    double valve;     /* 0 shut .. 1 wide open; NAN: not by hand */
    int64_t call_us;  /* "cut now" of the run at hand; 0 none */
    int64_t shut_us;  /* when the valve was shut for it; 0 not yet */
    bool was_open;    /* gas has flowed in this run */
    int64_t early_us; /* shut before the call; 0 not */
    struct {
        int run;
        bool valid;
        double shift_pct, shut_after_s; /* NAN unknown; negative: before the call */
    } runs[OXL_BYHAND_RUNS];
    int runs_n;
};

void oxl_byhand_start(struct oxl_byhand *b, bool on);
/* Arrow keys and digits. True when the valve was moved. */
bool oxl_byhand_key(struct oxl_byhand *b, int key, int64_t now_us);
void oxl_byhand_event(struct oxl_byhand *b, const struct oxl_event *ev);
/* A line a run: how deep, how quick. */
void oxl_byhand_text(const struct oxl_byhand *b, const struct oxl_profile *p, struct oxl_buf *out);

#endif

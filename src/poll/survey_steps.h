/* The steps of the survey that stand in files of their own, each with what it has found. */
#ifndef OXYLAG_POLL_SURVEY_STEPS_H
#define OXYLAG_POLL_SURVEY_STEPS_H

#include "oxylag/poll.h"
#include "survey.h"

/* ---- abilities.c: what adapter and ECU can do, found by behaviour ---- */

struct oxl_poll_abilities {
    bool count_multi_frame;  /* the digit may be used for answers of several frames */
    bool all_there;          /* every PID asked for was in the answer */
    unsigned frames;         /* that were expected of it */
    unsigned most_pids;      /* in one request, as verified */
    unsigned cuts, refusals; /* in a row: counted answers cut off, counted requests refused */
};

void oxl_poll_abilities_forget(struct oxl_poll *p); /* a survey begins */
void oxl_poll_abilities_live(struct oxl_poll *p);   /* live data begin */
void oxl_poll_digit_worked(struct oxl_poll *p);     /* the counted request was answered */
void oxl_poll_digit_doubted(struct oxl_poll *p, bool refused);
void oxl_poll_pids_at_most(struct oxl_poll *p, unsigned n);
extern const struct oxl_poll_step oxl_poll_count_step, oxl_poll_several_step, oxl_poll_full_step;

/* ---- adapter_timing.c: shortening the adapter's wait by its own settings ---- */

struct oxl_poll_timing {
    unsigned stage, asked, answered;
    int64_t gap_us, usual_gap_us; /* from the last answer to the prompt: sum; mean before */
    int64_t longest_us;           /* from asking to answer */
    bool aggressive;              /* ATAT2 is on */
    unsigned timeout;             /* count of ATST that is on; 0: the adapter's own */
    unsigned losses, good;        /* in live data, since it was set */
    unsigned undo;                /* commands still to be sent */
};

void oxl_poll_timing_forget(struct oxl_poll *p);
void oxl_poll_timing_judge(struct oxl_poll *p, bool lost);
bool oxl_poll_timing_undo(struct oxl_poll *p, int64_t t_us); /* true: a command is on its way */
extern const struct oxl_poll_step oxl_poll_timing_step;

/* ---- monitors.c: service 06: which monitor's results are being asked for ---- */

struct oxl_poll_monitors {
    struct oxl_support listed; /* numbers that service 06 answers to */
    unsigned at;
    bool masks_answered;
};

void oxl_poll_monitors_forget(struct oxl_poll *p);
/* A request that was repeated brings the same once more. False: no room. */
bool oxl_poll_list_result(struct oxl_monitor_result *list, size_t *n, size_t max,
                          const struct oxl_monitor_result *r);
/* For the vehicle and for an inspection. */
void oxl_poll_keep_result(struct oxl_poll *p, const struct oxl_monitor_result *r);
extern const struct oxl_poll_step oxl_poll_monitor_masks_step, oxl_poll_monitors_step;

/* ---- sensor_tests.c: service 05: which oxygen sensor's results are being asked for ---- */

struct oxl_poll_sensor_tests {
    struct oxl_support listed; /* tests of the sensor at this place */
    unsigned place, test;
    int64_t begun_us; /* when they were begun to be asked for; NEVER: not yet */
};

void oxl_poll_sensor_tests_forget(struct oxl_poll *p);
extern const struct oxl_poll_step oxl_poll_sensor_tests_step;

/* ---- inspect.c: what only an inspection asks for, and all that it has found ---- */

struct oxl_poll_inspect {
    struct oxl_onboard onboard;
    struct oxl_info info[OXL_MAX_ECUS]; /* of one service 09 PID, by ECU */
    struct oxl_support infotypes;       /* those that any ECU supports */
    bool info_known;
    struct oxl_support freeze_frame_pids;
    uint8_t frozen_pid; /* the one that is being asked for */
};

const struct oxl_poll_step *oxl_poll_inspect_step(unsigned i); /* NULL: no more */
void oxl_poll_inspect_start(struct oxl_poll *p);
void oxl_poll_inspect_done(struct oxl_poll *p);
void oxl_poll_inspect_results_known(struct oxl_poll *p, bool known);
void oxl_poll_inspect_result(struct oxl_poll *p, const struct oxl_monitor_result *r);
void oxl_poll_ecu_readiness(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_ecu_dtcs(struct oxl_poll *p, const struct oxl_message *m);

#endif

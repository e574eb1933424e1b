/* What only an inspection asks for, and all that it has found. */
#ifndef OXYLAG_POLL_INSPECT_H
#define OXYLAG_POLL_INSPECT_H

#include "oxylag/poll.h"
#include "survey.h"

struct oxl_poll_inspect {
    struct oxl_onboard onboard;
    struct oxl_info info[OXL_MAX_ECUS]; /* of one service 09 PID, by ECU */
    uint8_t infotypes[4];               /* its support mask, of all ECUs */
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

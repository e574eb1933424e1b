/* The ECUs that answer, and the PIDs that each supports. */
#ifndef OXYLAG_POLL_ECUS_H
#define OXYLAG_POLL_ECUS_H

#include "oxylag/poll.h"
#include "survey.h"

enum { OXL_POLL_ECUS = 8 }; /* most ECUs that answer a functional request, ISO 15765-4 */

struct oxl_poll_ecu {
    uint32_t id;
    struct oxl_support support;
};

struct oxl_poll_ecus {
    struct oxl_poll_ecu list[OXL_POLL_ECUS];
    unsigned n;
    uint8_t mask_pid; /* the one that is being asked for */
    unsigned mask_tries;
};

void oxl_poll_ecus_forget(struct oxl_poll *p);
void oxl_poll_ecu_mask(struct oxl_poll *p, const struct oxl_message *m, uint8_t mask_pid);
bool oxl_poll_any_ecu_supports(const struct oxl_poll *p, uint8_t pid);
/* By the masks of the ECU used for the test. */
bool oxl_poll_announced(const struct oxl_poll *p, uint8_t pid);
/* 0 for an ECU that was not there when PID 00 was asked. */
unsigned oxl_poll_ecu_bit(const struct oxl_poll *p, uint32_t ecu);
/* How many frames all ECUs together send to a service 01 request; 0 when it is not known. */
unsigned oxl_poll_expected_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n);
/* How many the ECU used for the test sends; 0 when it is not known. */
unsigned oxl_poll_own_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n);
unsigned oxl_poll_digit(const struct oxl_poll *p, unsigned frames);
extern const struct oxl_poll_step oxl_poll_masks_step; /* masks 20, 40, .. */

#endif

/* A poll and a simulated adapter in virtual time, without plant or procedure. */
#ifndef DESK_H
#define DESK_H

#include "oxylag/poll.h"
#include "sim/parts.h"

struct desk {
    struct oxl_adapter *adapter;
    struct oxl_poll *poll;
    int64_t now_us;
    uint64_t samples;
    void *ctx;
    void (*sent)(void *ctx, const char *bytes, size_t n); /* may be NULL */
};

/* Set ctx and sent before, the rest is made anew. Ends the program when there is no memory. */
void desk_open(struct desk *d, const struct oxl_adapter_settings *set,
               const struct oxl_ecu_settings *ecu, const struct oxl_poll_config *config,
               uint64_t seed);
void desk_run(struct desk *d, int64_t for_us);
void desk_close(struct desk *d);

#endif

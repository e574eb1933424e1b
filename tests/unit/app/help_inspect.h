/* An inspection against the simulated vehicle, in virtual time. The simulated unit is written from
 * the standards' tables in the other direction and shares nothing with the decoders. */
#ifndef HELP_INSPECT_H
#define HELP_INSPECT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "oxylag/inspect.h"
#include "oxylag/sim.h"

struct bench {
    struct oxl_sim *sim;
    struct oxl_inspect *core;
    int64_t now_us;
    char sent[20000]; /* everything that was sent, '\r' as '\n'; '~' behind what had none */
    size_t sent_n;
    unsigned checks;
    bool out; /* the adapter, of its socket */
};

/* Inspects a scenario given as INI text; what was found belongs to the bench until done(). */
const struct oxl_inspection *inspect_with(struct bench *b, const char *ini,
                                          const struct oxl_session_config *config, uint64_t seed);
const struct oxl_inspection *inspect_seed(struct bench *b, const char *ini, unsigned bank,
                                          uint64_t seed);
const struct oxl_inspection *inspect_bank(struct bench *b, const char *ini, unsigned bank);
const struct oxl_inspection *inspect(struct bench *b, const char *ini);
enum oxl_status outcome(const struct bench *b);
/* Whatever was inspected: nothing but readings was asked for. */
void done(struct bench *b);

const struct oxl_check *check_of(const struct oxl_inspection *v, const char *id);
void graded(const struct oxl_inspection *v, const char *id, enum oxl_grade grade);
/* NULL when there is none. */
const struct oxl_monitor_result *result_of(const struct oxl_inspection *v, unsigned monitor,
                                           unsigned test, unsigned component);

#endif

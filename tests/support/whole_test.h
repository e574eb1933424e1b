/* A whole simulated test in virtual time, with a technician who has a will of his own: what he
 * was told, and what the record of the test holds in the end. */
#ifndef WHOLE_TEST_H
#define WHOLE_TEST_H

#include "oxylag/test_record.h"
#include "rig.h"

enum manner {
    TAKES_ALL,    /* no key is pressed */
    DECLINES,     /* d when the deeper run is offered */
    CHECKS_LEAK,  /* l when it is offered, or after the first run */
    SAYS_NEW,     /* n at the start */
    ENDS_EARLY,   /* e after the first run that counts */
    WANTS_DEEPER, /* d at the start: a deeper run at the end, whatever the others say */
    MANNERS
};

struct whole_test {
    struct rig rig;
    struct oxl_test_record record;
    const char *scenario;
    uint64_t seed;
    enum manner manner;
    enum oxl_key press; /* wished for in an event, pressed after it */
    bool leak_clear, leak_found;
    double cat_temp_c;
    struct oxl_profile profile;
};

/* How he works goes by the seed. */
void whole_test_run(struct whole_test *t, const char *scenario, uint64_t seed);

#endif

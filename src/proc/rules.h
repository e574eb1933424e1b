/* Which rules each procedure has: the replay of a recording goes by those that it was made with. */
#ifndef OXL_PROC_RULES_H
#define OXL_PROC_RULES_H

#include <stdbool.h>

#include "oxylag/session.h"

struct oxl_rules {
    bool until_decided; /* two runs that agree end the test; gas is held while it gains something */
    bool watches_level; /* a rear that went lean is called at once, and watched on for its level */
    bool proves_rear;   /* a snap is asked for behind the last run; one quick fall tells, too */
    double leak_offer_s; /* how long the leak check, or the question for a new one, stands */
};

const struct oxl_rules *oxl_rules_of(enum oxl_procedure procedure); /* 0: today's */

#endif

/* What must hold of the figure that leads a result, and of the figures beside it. */
#ifndef LEAD_RULES_H
#define LEAD_RULES_H

#include "whole_test.h"

struct rule {
    const char *name;
    bool (*holds)(const struct whole_test *t);
};
enum { LEAD_RULES = 10 };
extern const struct rule lead_rules[LEAD_RULES];

#endif

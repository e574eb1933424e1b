/* How much of a sweep a test takes: all of it in `tests/run.sh --long` (OXL_LONG), some by default.
 */
#ifndef LONG_H
#define LONG_H

#include <stdlib.h>

static inline unsigned long_or(unsigned all, unsigned some)
{
    const char *on = getenv("OXL_LONG");
    return on && *on ? all : some;
}

#endif

/* One full and one unknown event of each kind. Made up. */
#ifndef OXYLAG_TEST_HELP_EVENTS_H
#define OXYLAG_TEST_HELP_EVENTS_H

#include "oxylag/event.h"

enum { EXAMPLE_EVENTS = 12 }; /* advice comes twice: as advice and as caution */
/* The i-th example. full: everything known; else everything unknown that may be. */
struct oxl_event example_event(unsigned i, bool full);

#endif

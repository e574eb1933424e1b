/* What the poll says and asks in a situation, as a text file to be read and compared:
 * tests/data/conversations/NAME.txt. One line for each thing, with its time in seconds:
 *   >  sent with its CR      >| sent without, to be proven by its echo first
 *   =  state and its text    *  something new is known of the vehicle
 * Live data is told in full for the first half second, then counted. */
#ifndef HELP_TRANSCRIPT_H
#define HELP_TRANSCRIPT_H

#include "help_rig.h"

/* Lines of `out` (help_rig.h) since `from`, whose live data began at live_us (INT64_MAX: never). */
void transcript_add(char *text, size_t size, const char *out, int64_t live_us);
/* What is known of the vehicle, the pair and the numbers of the link. */
void transcript_facts(char *text, size_t size, const struct oxl_poll *p, int64_t now_us);
/* What an inspection found. */
void transcript_onboard(char *text, size_t size, const struct oxl_onboard *o);
/* Fails where the file says something else; with OXL_ACCEPT=1 the file is written anew. */
void transcript_compare(const char *name, const char *text);

#endif

/* What damage may make of a text, held against what an ECU makes of that (help_changing.c): it
 * shares nothing with the program's own (src/poll/safe_request.c). */
#ifndef HELP_HARM_H
#define HELP_HARM_H

#include <stdbool.h>
#include <stddef.h>

#include "help_changing.h"
#include "help_rig.h"

enum harm { HARM_LOSS, HARM_BIT, HARM_TWO }; /* each holds those before it */

/* One of the lines that the harm makes of it is a request that changes something. */
bool harmed_changes(const char *text, enum harm harm);
/* So is an end of it. */
bool tail_changes(const char *text);
/* CR was lost, or became another character, and the next text came behind it. */
bool joined_changes(const char *text, const char *next);
/* Holds each line that went out with its CR at once against all that; returns how many there were.
 * A part was proven, or spoiled. */
unsigned check_sent(const struct rig *r, enum harm harm);

#endif

/* May this text be sent? What an adapter makes of a line that was damaged on its way, and whether
 * that would be a request that changes something in the vehicle. Pure functions of a text. */
#ifndef OXYLAG_POLL_SAFE_REQUEST_H
#define OXYLAG_POLL_SAFE_REQUEST_H

#include <stdbool.h>
#include <stddef.h>

/* What a line may do to a text; each holds those before it. */
enum oxl_threat {
    OXL_THREAT_LOSS,       /* one character lost or doubled */
    OXL_THREAT_BIT,        /* or one wrong bit in one character */
    OXL_THREAT_NEIGHBOURS, /* or two neighbouring characters lost */
};

/* A request (hex digits, two at least, without CR) changes nothing, however the threat damages it.
 * CR lost or damaged belongs to every threat: it joins the text to whatever is sent next, which
 * leaves its first byte, and so its service, as it was. */
bool oxl_request_stands(const char *text, enum oxl_threat threat);

/* Nor does what is left of it when its first characters are lost, however many: an adapter that
 * was still speaking takes only the end of a line. */
bool oxl_request_tails_stand(const char *text);

#endif

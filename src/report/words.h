/* Values and verdicts as a person reads them, the same in every form of the report. */
#ifndef OXYLAG_REPORT_WORDS_H
#define OXYLAG_REPORT_WORDS_H

#include <stddef.h>

#include "oxylag/report.h"

enum { OXL_SHOWN = 48 };

/* Two decimals below 10, else one; "--" when unknown. */
void oxl_show_number(double v, char out[OXL_SHOWN]);
/* Whole numbers; "--" when unknown. */
void oxl_show_whole(double v, char out[OXL_SHOWN]);
/* "3.42 (3.30..3.55)"; ">= 12.3" when only the low end is known; "--" when nothing is. */
void oxl_show_span(const struct oxl_span *s, bool whole, char out[OXL_SHOWN]);

/* The verdict in a few words, and in a sentence or two for the customer. They speak of stored
 * oxygen only: no part is called failed, and no legal test is judged. */
const char *oxl_verdict_headline(const struct oxl_story *s);
const char *oxl_verdict_sentence(const struct oxl_story *s);

const char *oxl_protocol_words(enum oxl_protocol p);

/* "P0420 P0171", "none", or "not known". */
void oxl_codes_shown(bool known, const uint16_t *list, size_t n, char *out, size_t size);

/* What stays the same on every page. */
extern const char oxl_method_words[];
extern const char oxl_verify_words[];

#endif

/* Figures as the printed page says them, in words instead of signs. */
#ifndef OXYLAG_REPORT_SAY_H
#define OXYLAG_REPORT_SAY_H

#include "oxylag/report.h"

enum { OXL_SAID = 96 };
/* "4.47 s (4.25 to 4.55)"; "at least 12.3 s"; "not known". unit "" leaves it out. */
void oxl_say_span(const struct oxl_span *s, int decimals, const char *unit, char out[OXL_SAID]);
/* "3.13 g/s" or "not known". */
void oxl_say_number(double v, int decimals, const char *unit, char out[OXL_SAID]);
/* Adds to a line about the runs that the test was ended before all that were wanted had counted. */
void oxl_say_early(const struct oxl_result *r, char *line, size_t n);

#endif

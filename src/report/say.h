/* What the printed pages say alike about the runs. */
#ifndef OXYLAG_REPORT_SAY_H
#define OXYLAG_REPORT_SAY_H

#include "oxylag/report.h"

/* Adds to a line about the runs that the test was ended before all that were wanted had counted. */
void oxl_say_early(const struct oxl_result *r, char *line, size_t n);

#endif

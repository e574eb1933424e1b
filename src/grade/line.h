/* A graded line. */
#ifndef OXYLAG_GRADE_LINE_H
#define OXYLAG_GRADE_LINE_H

#include "oxylag/grade.h"

struct oxl_check oxl_grade_line(const char *id, enum oxl_grade grade, const char *advice,
                                const char *fmt, ...) OXL_PRINTF(4, 5);

#endif

/* Numbers for the screen: unknown is "--", never 0. */
#ifndef OXYLAG_UI_FORMAT_H
#define OXYLAG_UI_FORMAT_H

#include <stdbool.h>
#include <stddef.h>

#include "oxylag/measure.h"

enum { OXL_NUM = 24 };
struct oxl_num {
    char text[OXL_NUM];
};

/* "12.3", "--" when unknown. */
struct oxl_num oxl_num(double v, int decimals);
/* The same with its sign. */
struct oxl_num oxl_num_signed(double v, int decimals);
/* The value of a span; "> 9.1" when only a lower bound is known. */
struct oxl_num oxl_span_value(struct oxl_span s, int decimals);
/* "5.9 to 7.1", "9.1 or more", "not known". */
void oxl_span_interval(struct oxl_span s, int decimals, char *out, size_t n);
/* Both in one: "6.4 (5.9 to 7.1)", "> 9.1", "--". */
void oxl_span_text(struct oxl_span s, int decimals, char *out, size_t n);

#endif

/* Rows among each other. */
#ifndef OXYLAG_CATALOGUE_ORDER_H
#define OXYLAG_CATALOGUE_ORDER_H

#include "oxylag/catalogue.h"

/* Newest first, what has no date last, and each finds the test before it. */
void oxl_past_sort(struct oxl_past *rows, size_t n);

#endif

/* Text from outside made harmless. */
#ifndef OXYLAG_PAGE_CLEAN_H
#define OXYLAG_PAGE_CLEAN_H

#include "oxylag/report.h"

/* Adds text as it may stand in a page: valid UTF-8, blanks for line ends and tabs, '?' for all
 * else that is not safe (safe.h), which is more than XML 1.0 section 2.2 refuses. */
void oxl_clean_add(struct oxl_buf *out, const char *text);
/* The same, with & < > " ' as references, for HTML content and attribute values. */
void oxl_markup_add(struct oxl_buf *out, const char *text);

#endif

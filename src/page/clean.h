/* Text from outside made harmless for a page or a table. */
#ifndef OXYLAG_PAGE_CLEAN_H
#define OXYLAG_PAGE_CLEAN_H

/* Valid UTF-8; blanks for line ends and tabs, '?' for all else that is not safe (safe.h), which is
 * more than XML 1.0 section 2.2 refuses. */
void oxl_clean(char *text);

#endif

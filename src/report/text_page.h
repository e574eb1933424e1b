/* Lines of a page 80 columns wide. */
#ifndef OXYLAG_REPORT_TEXT_PAGE_H
#define OXYLAG_REPORT_TEXT_PAGE_H

#include "oxylag/report.h"

enum { OXL_PAGE_COLUMNS = 80 };

/* A heading with a rule under it, after an empty line. */
void oxl_page_heading(struct oxl_buf *out, const char *words);
/* Text broken into lines; `first` stands before the first of them and blanks of the same width
 * before the others. Controls and bytes that are no UTF-8 become '?'. */
void oxl_page_text(struct oxl_buf *out, const char *first, const char *text);
/* "Name:        value" */
void oxl_page_field(struct oxl_buf *out, const char *name, const char *value);

/* Sections. */
void oxl_page_runs(struct oxl_buf *out, const struct oxl_test_record *s);
void oxl_page_result(struct oxl_buf *out, const struct oxl_test_record *s);
void oxl_page_monitors(struct oxl_buf *out, const struct oxl_test_record *s); /* when asked for */
void oxl_page_notes(struct oxl_buf *out, const struct oxl_test_record *s);
void oxl_page_basis(struct oxl_buf *out, const struct oxl_test_record *s);
void oxl_page_ending(struct oxl_buf *out, const struct oxl_test_record *s);

#endif

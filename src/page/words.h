/* The sentences of the pages and what is listed in words. */
#ifndef OXYLAG_PAGE_WORDS_H
#define OXYLAG_PAGE_WORDS_H

#include <stddef.h>

#include "oxylag/report.h"

/* The verdict in a sentence or two for the customer. It speaks of stored oxygen only: no part is
 * called failed, and no legal test is judged. */
const char *oxl_verdict_sentence(const struct oxl_test_record *s);

/* Text from outside made harmless for a page or a table: valid UTF-8; blanks for line ends and
 * tabs,
 * '?' for all else that is not safe (safe.h), which is more than XML 1.0 section 2.2 refuses. */
void oxl_clean(char *text);

/* "P0420 P0171", "none", or "not known". */
void oxl_dtcs_shown(const struct oxl_dtc_list *list, char *out, size_t size);

/* The runs that `is` picks: "run 3", "runs 1, 2 and 4", "" when there is none. Returns how many. */
enum { OXL_RUNS_SHOWN = 8 * OXL_RECORD_MAX_RUNS };
size_t oxl_runs_listed(const struct oxl_test_record *s,
                       bool (*is)(const struct oxl_test_record *s, const struct oxl_run_result *r,
                                  enum oxl_reason reason),
                       enum oxl_reason reason, char out[OXL_RUNS_SHOWN]);
/* How many runs counted, which ones the spread is of, and what else is to be said of them. */
enum { OXL_COUNTED = 512 };
void oxl_counted_words(const struct oxl_test_record *s, char out[OXL_COUNTED]);

/* The comparison of two tests, in a few words and in some sentences. */
enum { OXL_COMPARED = 600 };
struct oxl_comparison;
const char *oxl_compared_headline(const struct oxl_comparison *c);
void oxl_compared_words(const struct oxl_comparison *c, char out[OXL_COMPARED]);
extern const char oxl_compared_method[];

/* What stays the same on every page. */
extern const char oxl_what_it_is[], oxl_method_words[], oxl_verify_words[];
extern const char oxl_deeper_words[], oxl_table_words[], oxl_plot_words[];

#endif

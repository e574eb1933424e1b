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
const char *oxl_verdict_headline(const struct oxl_test_record *s);
const char *oxl_verdict_sentence(const struct oxl_test_record *s);

/* What the mark of a deeper run means. */
const char *oxl_deeper_words(void);

const char *oxl_protocol_words(enum oxl_protocol p);

/* "P0420 P0171", "none", or "not known". */
void oxl_dtcs_shown(bool known, const uint16_t *list, size_t n, char *out, size_t size);

/* What the verdict rests on, a line each. */
enum { OXL_BASIS = 480 };
void oxl_limits_words(const struct oxl_test_record *s, char out[OXL_BASIS]);
void oxl_limits_mg_words(const struct oxl_test_record *s, char out[OXL_BASIS]);
void oxl_origin_words(const struct oxl_test_record *s, char out[OXL_BASIS]);
void oxl_profile_words(const struct oxl_test_record *s, char out[OXL_BASIS]);
void oxl_assumed_words(const struct oxl_test_record *s, char out[OXL_BASIS]);

/* The runs that show a reason: " (runs 1, 3)". */
enum { OXL_RUNS_SHOWN = 8 * OXL_RECORD_MAX_RUNS };
void oxl_runs_with(const struct oxl_test_record *s, enum oxl_reason reason,
                   char out[OXL_RUNS_SHOWN]);

/* The comparison of two tests, in a few words and in some sentences. */
enum { OXL_COMPARED = 600 };
struct oxl_comparison;
const char *oxl_compared_headline(const struct oxl_comparison *c);
void oxl_compared_words(const struct oxl_comparison *c, char out[OXL_COMPARED]);
extern const char oxl_compared_method[];

/* What stays the same on every page. */
extern const char oxl_method_words[];
extern const char oxl_verify_words[];

#endif

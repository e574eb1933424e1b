/* The description of a page: everything that stands on it, made once and set three times, as text,
 * HTML and PDF (src/set). No setter makes a sentence, leaves a block out or judges anything. */
#ifndef OXYLAG_PAGE_PAGE_H
#define OXYLAG_PAGE_PAGE_H

#include "oxylag/compare.h"
#include "oxylag/inspect.h"
#include "oxylag/report.h"
#include "plot.h"

enum oxl_block_kind {
    OXL_BLOCK_TITLE,   /* what kind of page it is: small */
    OXL_BLOCK_BANNER,  /* what must not be overlooked: framed */
    OXL_BLOCK_VERDICT, /* the largest type on the page */
    OXL_BLOCK_LEAD,    /* the second largest */
    OXL_BLOCK_HEADING,
    OXL_BLOCK_TEXT,
    OXL_BLOCK_FIELD,   /* name and text; no text: a line to write on */
    OXL_BLOCK_POINT,   /* name ("1.", "-") and text */
    OXL_BLOCK_TABLE,   /* of `index` */
    OXL_BLOCK_RULER,   /* drawing of `index`; text: the same in words */
    OXL_BLOCK_PLOT,    /* drawing of `index`; text: the same in words */
    OXL_BLOCK_HISTORY, /* drawing of `index`, over the whole width */
    OXL_BLOCK_KEY,     /* explains the plots */
    OXL_BLOCK_NOTE,    /* explains the table */
    OXL_BLOCK_SIGN,    /* a line to sign on, text below it; consecutive ones side by side */
    OXL_BLOCK_KINDS
};

/* Where a block stands. Areas follow one another; where there is width, a left one and the right
 * one after it stand side by side. */
enum oxl_area {
    OXL_AREA_HEAD,
    OXL_AREA_VERDICT, /* framed together with the rulers */
    OXL_AREA_RULERS,
    OXL_AREA_WHY,
    OXL_AREA_FIGURES,
    OXL_AREA_ORDER_LEFT,
    OXL_AREA_ORDER_RIGHT,
    OXL_AREA_RUNS,
    OXL_AREA_CHECK_LEFT,
    OXL_AREA_CHECK_RIGHT,
    OXL_AREA_BASIS_LEFT,
    OXL_AREA_BASIS_RIGHT,
    OXL_AREA_FOOT,
    OXL_AREA_COUNT
};
/* The rows of a page, from top to bottom. */
struct oxl_page_row {
    enum oxl_area left, right; /* equal: one over the whole width */
    bool framed;
    double name_left_em, name_right_em; /* width of the names of fields */
};
enum { OXL_PAGE_ROWS = 8 };
extern const struct oxl_page_row oxl_page_rows[OXL_PAGE_ROWS];

/* Texts are offsets into the page's arena, clean UTF-8 without markup; 0 is the empty text. */
struct oxl_block {
    enum oxl_block_kind kind;
    enum oxl_area area;
    size_t name, text, index;
};

/* How much is said. The parts are the same at each; within them less is said. */
enum oxl_detail {
    OXL_DETAIL_WHOLE, /* everything: of any length */
    OXL_DETAIL_FULL,  /* from here on: one printed sheet */
    OXL_DETAIL_SHORT,
    OXL_DETAIL_LEAST,
    OXL_DETAIL_CLIPPED, /* over-long texts are cut too: only absurd ones come to this */
    OXL_DETAIL_COUNT
};

enum {
    OXL_PAGE_BLOCKS = 640,
    OXL_PAGE_CELLS = 1024,
    OXL_PAGE_TABLES = 4,
    OXL_PAGE_PLOTS = 12,
    OXL_PAGE_RULERS = 2
};
struct oxl_table {
    size_t columns, rows;  /* row 0: headings */
    size_t first, end;     /* its cells, row by row; the last row may be short */
    const double *weights; /* of the columns' widths */
};
struct oxl_page_plot {
    const struct oxl_run_result *run;
    struct oxl_span delay_s; /* as judged */
    const struct oxl_track *track;
    const struct oxl_profile *profile;
    size_t test; /* 0 or 1 */
    char name[32];
};
struct oxl_page {
    struct oxl_buf arena;
    enum oxl_detail detail;
    enum oxl_area area; /* where the next block goes */
    size_t title;
    const char *names[2]; /* of the tests: "Before", "After"; "First", "Second"; "" of one */
    struct oxl_comparison comparison; /* of two */
    struct oxl_block blocks[OXL_PAGE_BLOCKS];
    size_t blocks_n;
    struct oxl_table tables[OXL_PAGE_TABLES];
    size_t tables_n;
    size_t cells[OXL_PAGE_CELLS];
    size_t cells_n;
    struct oxl_ruler rulers[OXL_PAGE_RULERS];
    size_t rulers_n;
    struct oxl_page_plot plots[OXL_PAGE_PLOTS];
    size_t plots_n;
    struct oxl_tests_plot history[2]; /* delay at target, stored oxygen */
};

/* Fills *p; the sources must outlive it. Free it with oxl_page_free. arena.failed: something found
 * no room. One test or two (n), or an inspection. */
void oxl_page_make(struct oxl_page *p, const struct oxl_report_input *tests, size_t n,
                   enum oxl_detail detail);
void oxl_page_make_inspection(struct oxl_page *p, const struct oxl_inspection *v,
                              const struct oxl_record_header *h, enum oxl_detail detail);
void oxl_page_make_history(struct oxl_page *p, const struct oxl_vehicle_tests *h,
                           enum oxl_detail detail);
void oxl_page_free(struct oxl_page *p);

/* ---- read by setters ------------------------------------------------------------------------ */
const char *oxl_page_str(const struct oxl_page *p, size_t at);
/* The first block of the area at or after `from`; blocks_n when there is none. */
size_t oxl_page_next(const struct oxl_page *p, enum oxl_area area, size_t from);
size_t oxl_table_cell(const struct oxl_page *p, const struct oxl_table *t, size_t row,
                      size_t column);

/* ---- written by parts ----------------------------------------------------------------------- */
/* Nothing stands on it yet; the head comes first. */
void oxl_page_start(struct oxl_page *p, enum oxl_detail detail);
void oxl_page_title(struct oxl_page *p, const char *title);
/* Puts a block into p->area. */
void oxl_page_block(struct oxl_page *p, enum oxl_block_kind kind, const char *name,
                    const char *text);
/* A heading; `name` marks the test in a page of two ("" in a page of one). */
void oxl_page_heading(struct oxl_page *p, const char *words, const char *name);
void oxl_page_text(struct oxl_page *p, const char *fmt, ...) OXL_PRINTF(2, 3);
void oxl_page_field(struct oxl_page *p, const char *name, const char *fmt, ...) OXL_PRINTF(3, 4);
void oxl_page_point(struct oxl_page *p, const char *label, const char *fmt, ...) OXL_PRINTF(3, 4);
/* A table that grows by cells, row by row; the row of headings first. */
void oxl_page_table(struct oxl_page *p, size_t columns, const double *weights);
void oxl_page_cell(struct oxl_page *p, const char *fmt, ...) OXL_PRINTF(2, 3);

/* ---- parts ---------------------------------------------------------------------------------- */
void oxl_part_head(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_order(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
/* Of an inspection what was given. */
void oxl_part_inspected_order(struct oxl_page *p, const struct oxl_record_header *h);
void oxl_part_record(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_result(struct oxl_page *p, const struct oxl_test_record *s);
void oxl_part_difference(struct oxl_page *p, const struct oxl_report_input *tests);
void oxl_part_why(struct oxl_page *p, const struct oxl_test_record *s, const char *name);
void oxl_part_next(struct oxl_page *p, const struct oxl_test_record *s, const char *name);
void oxl_part_figures(struct oxl_page *p, const struct oxl_test_record *s);
void oxl_part_runs(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_checks(struct oxl_page *p, const struct oxl_test_record *s, const char *name);
void oxl_part_vehicle(struct oxl_page *p, const struct oxl_test_record *s, const char *name);
void oxl_part_notes(struct oxl_page *p, const struct oxl_test_record *s, const char *name);
void oxl_part_basis(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
/* One graded line. */
void oxl_part_check(struct oxl_page *p, const struct oxl_check *c);
/* A table of values, two beside each other; of none there is none. */
void oxl_part_values(struct oxl_page *p, const char *title, const struct oxl_sample *s, size_t n);
/* "complete", "not complete", `unsupported`; NULL: "not known". */
const char *oxl_readiness_words(const struct oxl_readiness *r, enum oxl_monitor m,
                                const char *unsupported);
/* How many points of one kind a page has room for. */
size_t oxl_page_most(const struct oxl_page *p, size_t least);
/* Says how many were left out, if any. */
void oxl_page_more(struct oxl_page *p, size_t n, size_t shown);

#endif

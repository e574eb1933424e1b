/* The content of the printed page, made once and set twice: by CSS in HTML, by pango in PDF. */
#ifndef OXYLAG_REPORT_PAGE_H
#define OXYLAG_REPORT_PAGE_H

#include "oxylag/compare.h"
#include "oxylag/report.h"
#include "plot.h"

enum oxl_item_kind {
    OXL_ITEM_HEADING,
    OXL_ITEM_TEXT,
    OXL_ITEM_FIELD, /* name and value; no value: a line to write on */
    OXL_ITEM_POINT, /* label ("1.", "-") and text */
};
/* Texts are offsets into the page's arena, clean UTF-8 without markup. */
struct oxl_item {
    enum oxl_item_kind kind;
    size_t name, text;
};
enum { OXL_LIST_ITEMS = 96 };
struct oxl_list {
    struct oxl_item items[OXL_LIST_ITEMS];
    size_t n;
};

/* How much is left out so that all fits one page. */
enum oxl_detail {
    OXL_DETAIL_FULL,
    OXL_DETAIL_SHORT,
    OXL_DETAIL_LEAST,
    OXL_DETAIL_CLIPPED, /* over-long texts are cut too: only absurd ones come to this */
    OXL_DETAIL_COUNT
};

enum { OXL_TABLE_COLUMNS = 8, OXL_TABLE_ROWS = 16, OXL_PAGE_PLOTS = 12, OXL_PAGE_SCALES = 2 };

struct oxl_page {
    struct oxl_buf arena;
    enum oxl_detail detail;
    size_t title,
        banner; /* banner: what must not be overlooked; offset of "" when there is nothing */
    struct oxl_list order_left, order_right;
    size_t headline, sentence;
    struct oxl_list figures;
    struct oxl_ruler scales[OXL_PAGE_SCALES];
    size_t scales_n;
    struct {
        const struct oxl_run_result *run;
        const struct oxl_track *track;
        const struct oxl_profile *profile;
        size_t test; /* 0 or 1 */
        char name[32];
    } plots[OXL_PAGE_PLOTS];
    size_t plots_n;
    size_t plot_key; /* what the letters mean, or why there is no plot */
    size_t cells[OXL_TABLE_ROWS + 1][OXL_TABLE_COLUMNS]; /* row 0: headings */
    size_t rows_n;
    size_t table_note;
    struct oxl_list left, right, low_left, low_right, foot;
};

const char *oxl_page_str(const struct oxl_page *p, size_t at);
/* Into the arena; the empty text is 0. */
size_t oxl_page_keep(struct oxl_page *p, const char *fmt, ...) OXL_PRINTF(2, 3);
void oxl_list_heading(struct oxl_page *p, struct oxl_list *l, const char *words);
void oxl_list_text(struct oxl_page *p, struct oxl_list *l, const char *text);
void oxl_list_field(struct oxl_page *p, struct oxl_list *l, const char *name, const char *value);
void oxl_list_point(struct oxl_page *p, struct oxl_list *l, const char *label, const char *text);

/* Fills *p for one test or two. Free with oxl_page_free. */
void oxl_page_make(struct oxl_page *p, const struct oxl_report_input *tests, size_t n,
                   enum oxl_detail detail);
void oxl_page_free(struct oxl_page *p);

/* Parts, used by oxl_page_make. `name` marks the test in a page of two ("" in a page of one). */
void oxl_part_order(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_plots(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_table(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_why(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                  const char *name, enum oxl_detail detail);
void oxl_part_checks(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                     const char *name, enum oxl_detail detail);
void oxl_part_notes(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                    const char *name, enum oxl_detail detail);
void oxl_part_basis(struct oxl_page *p, const struct oxl_report_input *tests, size_t n);
void oxl_part_record(struct oxl_page *p, const struct oxl_test_record *s, const char *name);
void oxl_part_result(struct oxl_page *p, const struct oxl_test_record *s);
void oxl_part_difference(struct oxl_page *p, const struct oxl_report_input *tests);
/* "Before", "After" of two that may be compared, else "First", "Second"; "" of one. */
const char *oxl_test_name(const struct oxl_report_input *tests, size_t n, size_t i);

/* ---- layout, the same in both forms --------------------------------------------------------- */
struct oxl_layout {
    double paper_w, paper_h, margin; /* points */
    double w;                        /* between the margins */
    double font;                     /* size of the running text */
    enum oxl_detail detail;
    size_t plots_across, plot_rows;
    double plot_w, plot_h, scale_w, scale_h;
};
enum { OXL_COLUMN_GAP = 14, OXL_PLOT_GAP = 8 };
/* Width of the names of fields, em. */
enum {
    OXL_NAMES_ORDER = 11,
    OXL_NAMES_FIGURES = 11,
    OXL_NAMES_LEFT = 6,
    OXL_NAMES_RIGHT = 7,
    OXL_NAMES_FOOT = 10
};
/* The largest font (and detail) at which the page fits, leaving `spare` (0..1) of the height free,
 * by measuring the text. False when even the smallest does not fit. */
bool oxl_layout_fit(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                    double spare, struct oxl_layout *out);
extern const double oxl_table_weights[OXL_TABLE_COLUMNS];

#endif

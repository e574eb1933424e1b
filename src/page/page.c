#include "page.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"
#include "words.h"

const struct oxl_page_row oxl_page_rows[OXL_PAGE_ROWS] = {
    {OXL_AREA_HEAD, OXL_AREA_HEAD, false, 0, 0},
    {OXL_AREA_VERDICT, OXL_AREA_RULERS, true, 9.5, 0},
    {OXL_AREA_WHY, OXL_AREA_FIGURES, false, 8, 11},
    {OXL_AREA_ORDER_LEFT, OXL_AREA_ORDER_RIGHT, false, 11, 11},
    {OXL_AREA_RUNS, OXL_AREA_RUNS, false, 0, 0},
    {OXL_AREA_CHECK_LEFT, OXL_AREA_CHECK_RIGHT, false, 7, 7},
    {OXL_AREA_BASIS_LEFT, OXL_AREA_BASIS_RIGHT, false, 7, 7},
    {OXL_AREA_FOOT, OXL_AREA_FOOT, false, 11, 0},
};

enum { KEPT = 1200 }; /* bytes of the longest text */

/* ---- the arena ------------------------------------------------------------------------------ */

void oxl_clean(char *text)
{
    char *to = text;
    for (size_t n; *text; text += n ? n : 1) {
        n = oxl_utf8_length(text, strnlen(text, 4));
        if (n > 0 && oxl_safe_length(text, n) > 0) {
            memmove(to, text, n);
            to += n;
        } else {
            *to++ = strchr("\n\r\t", *text) ? ' ' : '?';
        }
    }
    *to = '\0';
}

const char *oxl_page_str(const struct oxl_page *p, size_t at)
{
    return p->arena.data ? p->arena.data + at : "";
}

static size_t keep(struct oxl_page *p, const char *fmt, va_list args)
{
    char text[KEPT];
    vsnprintf(text, sizeof text, fmt, args);
    if (!text[0])
        return 0;
    const size_t at = p->arena.len;
    oxl_clean(text);
    oxl_buf_put(&p->arena, text, strlen(text) + 1);
    return p->arena.failed ? 0 : at;
}

static size_t OXL_PRINTF(2, 3) kept(struct oxl_page *p, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    const size_t at = keep(p, fmt, args);
    va_end(args);
    return at;
}

/* The whole text, or its beginning where over-long ones are cut. Never cut within a character. */
static size_t keep_some(struct oxl_page *p, const char *text)
{
    const size_t most = 90;
    if (p->detail != OXL_DETAIL_CLIPPED || strlen(text) <= most)
        return kept(p, "%s", text);
    size_t n = most;
    while (n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80)
        n--;
    return kept(p, "%.*s...", (int)n, text);
}

void oxl_page_start(struct oxl_page *p, enum oxl_detail detail)
{
    memset(p, 0, sizeof *p);
    p->detail = detail;
    p->area = OXL_AREA_HEAD;
    oxl_buf_put(&p->arena, "", 1);
}

void oxl_page_title(struct oxl_page *p, const char *title)
{
    p->title = kept(p, "%s", title);
    oxl_page_block(p, OXL_BLOCK_TITLE, "", title);
}

/* ---- blocks --------------------------------------------------------------------------------- */

static struct oxl_block *block(struct oxl_page *p, enum oxl_block_kind kind)
{
    static struct oxl_block spare;
    p->arena.failed = p->arena.failed || p->blocks_n == OXL_PAGE_BLOCKS;
    struct oxl_block *b = p->blocks_n < OXL_PAGE_BLOCKS ? &p->blocks[p->blocks_n++] : &spare;
    *b = (struct oxl_block){.kind = kind, .area = p->area};
    return b;
}

void oxl_page_block(struct oxl_page *p, enum oxl_block_kind kind, const char *name,
                    const char *text)
{
    /* What decided is never cut. */
    const bool may_be_cut =
        (kind == OXL_BLOCK_FIELD || kind == OXL_BLOCK_POINT) && p->area != OXL_AREA_VERDICT;
    const size_t n = kept(p, "%s", name);
    const size_t t = may_be_cut ? keep_some(p, text) : kept(p, "%s", text);
    struct oxl_block *b = block(p, kind);
    b->name = n;
    b->text = t;
    b->index = kind == OXL_BLOCK_TABLE   ? p->tables_n
               : kind == OXL_BLOCK_RULER ? p->rulers_n
               : kind == OXL_BLOCK_PLOT  ? p->plots_n
                                         : 0;
}

void oxl_page_heading(struct oxl_page *p, const char *words, const char *name)
{
    char text[96];
    snprintf(text, sizeof text, "%s%s%s", words, name[0] ? ": " : "", name);
    oxl_page_block(p, OXL_BLOCK_HEADING, "", text);
}

void oxl_page_text(struct oxl_page *p, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    const size_t at = keep(p, fmt, args);
    va_end(args);
    block(p, OXL_BLOCK_TEXT)->text = at;
}

static void named(struct oxl_page *p, enum oxl_block_kind kind, const char *name, const char *fmt,
                  va_list args)
{
    char text[KEPT];
    vsnprintf(text, sizeof text, fmt, args);
    oxl_page_block(p, kind, name, text);
}

void oxl_page_field(struct oxl_page *p, const char *name, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    named(p, OXL_BLOCK_FIELD, name, fmt, args);
    va_end(args);
}

void oxl_page_point(struct oxl_page *p, const char *label, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    named(p, OXL_BLOCK_POINT, label, fmt, args);
    va_end(args);
}

size_t oxl_page_next(const struct oxl_page *p, enum oxl_area area, size_t from)
{
    while (from < p->blocks_n && p->blocks[from].area != area)
        from++;
    return from;
}

size_t oxl_page_most(const struct oxl_page *p, size_t least)
{
    return p->detail == OXL_DETAIL_CLIPPED ? least / 2
           : p->detail == OXL_DETAIL_LEAST ? least
                                           : SIZE_MAX;
}

void oxl_page_more(struct oxl_page *p, size_t n, size_t shown)
{
    if (n > shown)
        oxl_page_text(p, "%zu more are in the report as text.", n - shown);
}

/* ---- tables --------------------------------------------------------------------------------- */

void oxl_page_table(struct oxl_page *p, size_t columns, const double *weights)
{
    if (p->tables_n == OXL_PAGE_TABLES) {
        p->arena.failed = true;
        return;
    }
    oxl_page_block(p, OXL_BLOCK_TABLE, "", "");
    p->tables[p->tables_n++] =
        (struct oxl_table){.columns = columns, .first = p->cells_n, .weights = weights};
}

void oxl_page_cell(struct oxl_page *p, const char *fmt, ...)
{
    struct oxl_table *t = &p->tables[p->tables_n - 1];
    va_list args;
    if (p->cells_n == OXL_PAGE_CELLS) {
        p->arena.failed = true;
        return;
    }
    va_start(args, fmt);
    p->cells[p->cells_n++] = keep(p, fmt, args);
    va_end(args);
    t->end = p->cells_n;
    t->rows = (t->end - t->first + t->columns - 1) / t->columns;
}

size_t oxl_table_cell(const struct oxl_page *p, const struct oxl_table *t, size_t row,
                      size_t column)
{
    const size_t at = t->first + row * t->columns + column;
    return at < t->end ? p->cells[at] : 0;
}

/* ---- the page of one test, or of two -------------------------------------------------------- */

static void compare(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    p->names[0] = p->names[1] = "";
    if (n < 2)
        return;
    oxl_compare(tests[0].record, tests[1].record, &p->comparison);
    p->names[0] = p->comparison.allowed ? "Before" : "First";
    p->names[1] = p->comparison.allowed ? "After" : "Second";
}

/* Each test of two has its column. */
static void columns(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const struct oxl_test_record *s = tests[i].record;
        const char *name = p->names[i];
        p->area = i ? OXL_AREA_FIGURES : OXL_AREA_WHY;
        if (n > 1)
            oxl_part_next(p, s, name);
        oxl_part_why(p, s, name);
        p->area = i ? OXL_AREA_CHECK_RIGHT : OXL_AREA_CHECK_LEFT;
        oxl_part_vehicle(p, s, name);
        oxl_part_checks(p, s, name);
        oxl_part_notes(p, s, name);
    }
}

void oxl_page_make(struct oxl_page *p, const struct oxl_report_input *tests, size_t n,
                   enum oxl_detail detail)
{
    if (tests[0].history) {
        oxl_page_make_history(p, tests[0].history, detail);
        return;
    }
    if (tests[0].inspection) {
        oxl_page_make_inspection(p, tests[0].inspection, &tests[0].record->header, detail);
        return;
    }
    oxl_page_start(p, detail);
    compare(p, tests, n);
    oxl_part_head(p, tests, n);
    if (n == 1)
        oxl_part_result(p, tests[0].record);
    else
        oxl_part_difference(p, tests);
    columns(p, tests, n);
    p->area = OXL_AREA_FIGURES;
    if (n == 1)
        oxl_part_figures(p, tests[0].record);
    oxl_part_order(p, tests, n);
    oxl_part_runs(p, tests, n);
    oxl_part_basis(p, tests, n);
    oxl_part_record(p, tests, n);
}

void oxl_page_free(struct oxl_page *p)
{
    oxl_buf_free(&p->arena);
}

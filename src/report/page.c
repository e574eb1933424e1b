#include "page.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "markup.h"
#include "words.h"

const double oxl_table_weights[OXL_TABLE_COLUMNS] = {1.3, 1.1, 2.45, 2.45, 2.4, 1.1, 1.1, 1.7};

const char *oxl_page_str(const struct oxl_page *p, size_t at)
{
    return p->arena.data ? p->arena.data + at : "";
}

size_t oxl_page_keep(struct oxl_page *p, const char *fmt, ...)
{
    char text[1024];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    if (!text[0])
        return 0;
    const size_t at = p->arena.len;
    oxl_clean_add(&p->arena, text);
    oxl_buf_put(&p->arena, "", 1);
    return p->arena.failed ? 0 : at;
}

static void item(struct oxl_list *l, enum oxl_item_kind kind, size_t name, size_t text)
{
    if (l->n < OXL_LIST_ITEMS)
        l->items[l->n++] = (struct oxl_item){kind, name, text};
}

void oxl_list_heading(struct oxl_page *p, struct oxl_list *l, const char *words)
{
    item(l, OXL_ITEM_HEADING, 0, oxl_page_keep(p, "%s", words));
}

void oxl_list_text(struct oxl_page *p, struct oxl_list *l, const char *text)
{
    item(l, OXL_ITEM_TEXT, 0, oxl_page_keep(p, "%s", text));
}

/* The whole text, or its beginning where over-long ones are cut. Never cut within a character. */
static size_t keep_some(struct oxl_page *p, const char *text)
{
    const size_t most = 90;
    if (p->detail != OXL_DETAIL_CLIPPED || strlen(text) <= most)
        return oxl_page_keep(p, "%s", text);
    size_t n = most;
    while (n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80)
        n--;
    return oxl_page_keep(p, "%.*s...", (int)n, text);
}

void oxl_list_field(struct oxl_page *p, struct oxl_list *l, const char *name, const char *value)
{
    const size_t n = oxl_page_keep(p, "%s", name);
    item(l, OXL_ITEM_FIELD, n, keep_some(p, value));
}

void oxl_list_point(struct oxl_page *p, struct oxl_list *l, const char *label, const char *text)
{
    const size_t n = oxl_page_keep(p, "%s", label);
    item(l, OXL_ITEM_POINT, n, keep_some(p, text));
}

const char *oxl_test_name(const struct oxl_report_input *tests, size_t n, size_t i)
{
    struct oxl_comparison c;
    if (n < 2)
        return "";
    oxl_compare(tests[0].story, tests[1].story, &c);
    return c.allowed ? (i ? "After" : "Before") : (i ? "Second" : "First");
}

/* What a table cannot tell must stand where nobody overlooks it. */
static size_t imported(struct oxl_page *p, const struct oxl_imported *a)
{
    return oxl_page_keep(
        p,
        "IMPORTED - table \"%s\", not timed by this program: rows %.0f ms apart, a "
        "front value stands for %.0f ms and a rear value for %.0f ms.%s",
        a->table, (double)a->row_us / 1e3, (double)a->step_us[0] / 1e3, (double)a->step_us[1] / 1e3,
        a->resampled ? " Its values were interpolated: no time is claimed." : "");
}

static void banner(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    for (size_t i = 0; i < n && !p->banner; i++) {
        const struct oxl_record_header *h = &tests[i].story->header;
        if (h->simulated && n == 1)
            p->banner =
                oxl_page_keep(p,
                              "SIMULATED - no vehicle was tested: scenario \"%s\", seed %llu of "
                              "the built-in simulator.",
                              h->scenario, (unsigned long long)h->seed);
        else if (h->simulated)
            p->banner = oxl_page_keep(
                p, "SIMULATED - %s made by the built-in simulator; no vehicle was tested there.",
                tests[0].story->header.simulated && tests[1].story->header.simulated
                    ? "both tests were"
                : i ? "the second test was"
                    : "the first test was");
    }
}

void oxl_page_make(struct oxl_page *p, const struct oxl_report_input *tests, size_t n,
                   enum oxl_detail detail)
{
    memset(p, 0, sizeof *p);
    p->detail = detail;
    oxl_buf_put(&p->arena, "", 1);
    const char *first = oxl_test_name(tests, n, 0);
    p->title = oxl_page_keep(p, "Catalytic converter: oxygen storage test with propane%s",
                             n < 2             ? ""
                             : first[0] == 'B' ? " - before and after"
                                               : " - two tests");
    banner(p, tests, n);
    for (size_t i = 0; i < n && !p->banner; i++)
        if (tests[i].story->header.imported.on)
            p->banner = imported(p, &tests[i].story->header.imported);
    oxl_part_order(p, tests, n);
    if (n == 1)
        oxl_part_result(p, tests[0].story);
    else
        oxl_part_difference(p, tests);
    oxl_part_plots(p, tests, n);
    oxl_part_table(p, tests, n);
    for (size_t i = 0; i < n; i++) {
        const char *name = oxl_test_name(tests, n, i);
        struct oxl_list *l = i ? &p->right : &p->left;
        oxl_part_why(p, l, tests[i].story, name, detail);
        oxl_part_checks(p, l, tests[i].story, name,
                        n > 1 && detail < OXL_DETAIL_LEAST ? OXL_DETAIL_LEAST : detail);
        oxl_part_notes(p, l, tests[i].story, name, detail);
    }
    oxl_part_basis(p, tests, n);
    for (size_t i = 0; i < n; i++)
        oxl_part_record(p, tests[i].story, oxl_test_name(tests, n, i));
}

void oxl_page_free(struct oxl_page *p)
{
    oxl_buf_free(&p->arena);
}

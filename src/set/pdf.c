#include <cairo-pdf.h>
#include <stdio.h>
#include <string.h>

#include "pango.h"
#include "pdf_whole.h"

/* The recording's own time and not that of printing, so that a page made again is the same. */
static void metadata(struct oxl_set *s, const struct oxl_page *p,
                     const struct oxl_test_record *record)
{
    char date[20];
    cairo_pdf_surface_set_metadata(s->surface, CAIRO_PDF_METADATA_TITLE, oxl_page_str(p, p->title));
    cairo_pdf_surface_set_metadata(s->surface, CAIRO_PDF_METADATA_CREATOR, "oxylag");
    snprintf(date, sizeof date, "%.19s", record->header.started);
    if (strlen(date) == 19 && strspn(date, "0123456789-:T") == 19)
        cairo_pdf_surface_set_metadata(s->surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
}

void oxl_report_pdf(const struct oxl_report_input *tests, size_t n, enum oxl_paper paper,
                    struct oxl_buf *out)
{
    struct oxl_layout l;
    struct oxl_page p;
    struct oxl_set s;
    const size_t from = out->len;
    if (!oxl_layout_fit(tests, n, paper, 0, &l)) {
        out->failed = true;
        return;
    }
    oxl_page_make(&p, tests, n, l.detail);
    oxl_set_open(&s, l.paper_w, l.paper_h, out);
    metadata(&s, &p, tests[n - 1].record);
    oxl_set_page(&s, &p, &l);
    cairo_show_page(s.cr);
    oxl_set_close(&s);
    /* cairo 1.16 does not tell of every object that it had no memory to write at the end. */
    out->failed = out->failed || s.failed || p.arena.failed || !out->data ||
                  !oxl_pdf_is_whole(out->data + from, out->len - from);
    oxl_page_free(&p);
}

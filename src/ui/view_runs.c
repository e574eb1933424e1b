#include "view.h"

#include <stdio.h>
#include <string.h>

#include "oxylag/figure.h"
#include "oxylag/safe.h"

enum {
    COL_DELAY = 4,
    COL_OXYGEN = 28,
    COL_SHIFT = 48,
    COL_RPM = 57,
    COL_AIR = 62,
    COL_NOTE = 68,
    WIDE_COLS = 76
};

/* "counts" or "void", and the codes of the reasons as far as whole ones fit; "+2" for the rest. */
static void note_text(const struct oxl_run_result *r, int cols, char *out, size_t n)
{
    int left_out = 0;
    snprintf(out, n, "%s", r->valid ? "counts" : "void");
    for (unsigned i = 0; i < OXL_R_COUNT; i++) {
        if (!oxl_reasons_has(r->reasons, (enum oxl_reason)i))
            continue;
        const char *code = oxl_reason_code((enum oxl_reason)i);
        size_t need = strlen(out) + strlen(code) + 1;
        if (left_out || need + 3 > (size_t)cols || need >= n)
            left_out++;
        else
            oxl_append(out, n, " %s", code);
    }
    if (left_out)
        oxl_append(out, n, " +%d", left_out);
}

static void draw_run(struct oxl_canvas *c, struct oxl_area a, const struct oxl_test_record *record,
                     const struct oxl_run_result *r)
{
    const struct oxl_run_figures f = oxl_run_shown(record, r);
    enum oxl_ink ink = r->valid ? OXL_INK_TEXT : OXL_INK_DIM;
    char text[160];
    bool wide = a.cols >= WIDE_COLS;
    oxl_view_print(c, a.row, a.col, COL_DELAY, ink, "%d%s", r->run, r->deeper ? "d" : "");
    oxl_figure_span(&f.delay_s, 2, "", text);
    oxl_canvas_text(c, a.row, a.col + COL_DELAY, COL_OXYGEN - COL_DELAY - 1, ink, text);
    oxl_figure_span(&f.o2_mg, 0, "", text);
    oxl_canvas_text(c, a.row, a.col + COL_OXYGEN, COL_SHIFT - COL_OXYGEN - 1, ink, text);
    /* Why a run is void matters more than its depth: it gets that room where room is short. */
    bool depth = wide && (r->valid || a.cols >= 100);
    if (depth) {
        oxl_view_print(c, a.row, a.col + COL_SHIFT, 8, ink, "%7s",
                       oxl_figure_cell(r->shift_pct, 1, true).text);
        oxl_view_print(c, a.row, a.col + COL_RPM, 4, ink, "%4s",
                       oxl_figure_cell(r->rpm, 0, false).text);
        oxl_view_print(c, a.row, a.col + COL_AIR, 5, ink, "%5s",
                       oxl_figure_cell(r->air_g_s, 1, false).text);
    }
    int note = depth ? COL_NOTE : COL_SHIFT;
    note_text(r, a.cols - note, text, sizeof text);
    oxl_canvas_text(c, a.row, a.col + note, a.cols - note, r->valid ? ink : OXL_INK_CAUTION, text);
}

void oxl_view_runs(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    bool wide = a.cols >= WIDE_COLS;
    if (a.rows < 2)
        return;
    oxl_canvas_text(c, a.row, a.col, a.cols, OXL_INK_FRAME, "run delay, s");
    oxl_canvas_text(c, a.row, a.col + COL_OXYGEN, 20, OXL_INK_FRAME, "oxygen, mg");
    if (wide) {
        oxl_canvas_text(c, a.row, a.col + COL_SHIFT, 20, OXL_INK_FRAME, "shift, %");
        oxl_canvas_text(c, a.row, a.col + COL_RPM + 1, 4, OXL_INK_FRAME, "rpm");
        oxl_canvas_text(c, a.row, a.col + COL_AIR + 2, 5, OXL_INK_FRAME, "g/s");
    }
    int runs = (int)m->record->runs_n;
    if (runs == 0)
        oxl_canvas_text(c, a.row + 1, a.col, a.cols, OXL_INK_DIM, "-- no run yet");
    int room = a.rows - 1, first = runs > room ? runs - room : 0;
    for (int i = first; i < runs; i++) {
        struct oxl_area one = {a.row + 1 + i - first, a.col, 1, a.cols};
        draw_run(c, one, m->record, &m->record->runs[i]);
    }
}

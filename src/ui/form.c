#include "form.h"

#include "utf8.h"
#include "view.h"

enum { MARK_COLS = 2, SAY_ROWS = 2 };

/* ---- faults ---------------------------------------------------------------------------------- */
bool oxl_field_fault(const struct oxl_field *f, char *why, size_t n)
{
    why[0] = '\0';
    return f->kind == OXL_FIELD_TEXT && f->check && !f->check(f->id, f->text, why, n);
}

bool oxl_form_go_to_fault(struct oxl_form *f)
{
    char why[160];
    for (size_t i = 0; i < f->n; i++)
        if (oxl_field_fault(&f->fields[i], why, sizeof why)) {
            f->at = i;
            return true;
        }
    return false;
}

/* ---- keys ------------------------------------------------------------------------------------ */
static enum oxl_form_did step(struct oxl_form *f, int by)
{
    f->at = (f->at + f->n + (size_t)by) % f->n;
    return OXL_FORM_USED;
}

static enum oxl_form_did turn(struct oxl_field *f, int by)
{
    if (f->kind != OXL_FIELD_CHOICE || !f->words_n)
        return OXL_FORM_NOTHING;
    f->word = (f->word + f->words_n + (size_t)by) % f->words_n;
    return OXL_FORM_USED;
}

static enum oxl_form_did typed(struct oxl_field *f, int key)
{
    if (f->kind != OXL_FIELD_TEXT)
        return key == ' ' ? turn(f, 1) : OXL_FORM_NOTHING;
    return oxl_utf8_type(f->text, sizeof f->text, key) ? OXL_FORM_USED : OXL_FORM_NOTHING;
}

enum oxl_form_did oxl_form_key(struct oxl_form *f, int key)
{
    struct oxl_field *at = &f->fields[f->at];
    switch (key) {
    case OXL_TERM_UP:
    case OXL_TERM_BACK_TAB:
        return step(f, -1);
    case OXL_TERM_DOWN:
    case '\t':
        return step(f, 1);
    case OXL_TERM_LEFT:
        return turn(at, -1);
    case OXL_TERM_RIGHT:
        return turn(at, 1);
    case ' ':
        return at->kind == OXL_FIELD_BUTTON ? OXL_FORM_PRESSED : typed(at, key);
    case '\n':
        return at->kind == OXL_FIELD_BUTTON ? OXL_FORM_PRESSED : step(f, 1);
    default:
        return typed(at, key);
    }
}

enum oxl_form_did oxl_form_click(struct oxl_form *f, int row, int col)
{
    (void)col;
    int at = row - f->rows.row;
    if (at < 0 || at >= f->rows.rows || f->first + (size_t)at >= f->n)
        return OXL_FORM_NOTHING;
    size_t was = f->at;
    f->at = f->first + (size_t)at;
    if (f->fields[f->at].kind == OXL_FIELD_BUTTON)
        return OXL_FORM_PRESSED;
    if (f->at == was)
        (void)turn(&f->fields[f->at], 1);
    return OXL_FORM_USED;
}

/* ---- drawing --------------------------------------------------------------------------------- */
static int label_cols(const struct oxl_form *f, int cols)
{
    int most = 0;
    for (size_t i = 0; i < f->n; i++)
        if (f->fields[i].kind != OXL_FIELD_BUTTON && oxl_utf8_columns(f->fields[i].label) > most)
            most = oxl_utf8_columns(f->fields[i].label);
    return most < cols / 2 ? most : cols / 2;
}

/* The end of a long text is where one types. */
static const char *tail(const char *text, int cols)
{
    for (int skip = oxl_utf8_columns(text) - cols; skip > 0; skip--)
        (void)oxl_utf8_next(&text);
    return text;
}

static void draw_value(const struct oxl_field *k, struct oxl_canvas *c, struct oxl_area a, bool at)
{
    enum oxl_ink ink = at ? OXL_INK_ACTION : OXL_INK_TEXT;
    for (int x = 0; x < a.cols; x++)
        oxl_canvas_put(c, a.row, a.col + x, ' ', at ? OXL_INK_ACTION : OXL_INK_FRAME);
    if (k->kind == OXL_FIELD_CHOICE) {
        oxl_view_print(c, a.row, a.col, a.cols, ink, at ? "< %s >" : "  %s",
                       k->words_n ? k->words[k->word] : "");
        return;
    }
    int room = at ? a.cols - 1 : a.cols;
    int n = oxl_canvas_text(c, a.row, a.col, room, at ? ink : OXL_INK_FRAME, tail(k->text, room));
    if (at)
        oxl_canvas_put(c, a.row, a.col + n, '_', ink);
}

static void draw_field(const struct oxl_form *f, size_t i, struct oxl_canvas *c, struct oxl_area a)
{
    const struct oxl_field *k = &f->fields[i];
    char why[160];
    bool at = i == f->at, fault = oxl_field_fault(k, why, sizeof why);
    int labels = label_cols(f, a.cols), col = a.col + MARK_COLS;
    if (k->kind == OXL_FIELD_BUTTON) {
        oxl_view_print(c, a.row, col, a.cols - MARK_COLS, at ? OXL_INK_ACTION : OXL_INK_KEY,
                       "[ %s ]", k->label);
    } else {
        oxl_canvas_text(c, a.row, col, labels, at ? OXL_INK_TITLE : OXL_INK_TEXT, k->label);
        draw_value(k, c, (struct oxl_area){a.row, col + labels + 2, 1, a.cols - labels - 4}, at);
    }
    if (at || fault)
        oxl_canvas_put(c, a.row, a.col, fault ? '!' : '>', fault ? OXL_INK_BAD : OXL_INK_KEY);
}

static void draw_saying(const struct oxl_form *f, struct oxl_canvas *c, struct oxl_area a)
{
    char why[160];
    const struct oxl_field *k = &f->fields[f->at];
    bool fault = oxl_field_fault(k, why, sizeof why);
    struct oxl_flow say = {c, a, 0, 0};
    if (fault)
        oxl_flow_text(&say, OXL_INK_BAD, "!", MARK_COLS, OXL_INK_BAD, why);
    else if (k->hint)
        oxl_flow_text(&say, OXL_INK_DIM, "", MARK_COLS, OXL_INK_DIM, k->hint);
}

void oxl_form_draw(struct oxl_form *f, struct oxl_canvas *c, struct oxl_area a)
{
    size_t room = a.rows > SAY_ROWS + 1 ? (size_t)(a.rows - SAY_ROWS - 1) : 1;
    if (f->at < f->first)
        f->first = f->at;
    if (f->at >= f->first + room)
        f->first = f->at - room + 1;
    size_t n = f->n - f->first < room ? f->n - f->first : room;
    f->rows = (struct oxl_area){a.row, a.col, (int)n, a.cols};
    for (size_t i = 0; i < n; i++)
        draw_field(f, f->first + i, c, (struct oxl_area){a.row + (int)i, a.col, 1, a.cols});
    if (a.rows > SAY_ROWS + 1)
        draw_saying(f, c, (struct oxl_area){a.row + (int)n + 1, a.col, SAY_ROWS, a.cols});
}

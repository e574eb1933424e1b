#include "gauge.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "oxylag/figure.h"

enum {
    BAR_PLAIN = 0x2500,
    BAR_BAND = 0x2588,
    BAR_MUCH = 0x2592,
    BAR_FAR = 0x2573,
    DOWN = 0x25BC,
    UP = 0x25B2
};

struct scale {
    double left, right;
    int col, cols;
};

int oxl_gauge_cell(double value, double left, double right, int cols)
{
    if (isnan(value) || cols < 1)
        return -1;
    double f = (value - left) / (right - left);
    f = fmin(fmax(f, 0), 1);
    return (int)lround(f * (cols - 1));
}

const char *oxl_gauge_word(enum oxl_hand hand)
{
    static const char *const words[] = {
        [OXL_HAND_AS_IT_IS] = "",           [OXL_HAND_OPEN] = "open",
        [OXL_HAND_MORE] = "more gas",       [OXL_HAND_HOLD] = "hold",
        [OXL_HAND_LESS] = "less gas",       [OXL_HAND_SHUT] = "SHUT",
        [OXL_HAND_STAY_SHUT] = "keep shut", [OXL_HAND_OTHER] = "",
    };
    return words[hand];
}

const char *oxl_depth_words(double shift_pct, double low_pct, double high_pct)
{
    if (!oxl_known(shift_pct))
        return "not known";
    return shift_pct < low_pct ? "too deep" : shift_pct > high_pct ? "too shallow" : "in range";
}

/* A little room on both ends; a default scale while the limits are unknown. */
static struct scale scale_for(const struct oxl_live *live, struct oxl_area a)
{
    struct scale s = {5, -40, a.col, a.cols};
    if (live->back_off_pct < 0 && live->back_off_pct >= -100)
        s.right = live->back_off_pct - 10;
    return s;
}

static int col_of(const struct scale *s, double value)
{
    int cell = oxl_gauge_cell(value, s->left, s->right, s->cols);
    return cell < 0 ? -1 : s->col + cell;
}

/* Every zone has its own character besides its colour. */
static void draw_bar(struct oxl_canvas *c, int row, const struct scale *s,
                     const struct oxl_live *live)
{
    for (int i = 0; i < s->cols; i++) {
        double v = s->cols > 1 ? s->left + (s->right - s->left) * i / (s->cols - 1) : s->left;
        uint32_t ch = BAR_PLAIN;
        enum oxl_ink ink = OXL_INK_DIM;
        if (v <= live->back_off_pct) {
            ch = BAR_FAR;
            ink = OXL_INK_BAD;
        } else if (v < live->accept_low_pct) {
            ch = BAR_MUCH;
            ink = OXL_INK_CAUTION;
        } else if (v <= live->accept_high_pct) {
            ch = BAR_BAND;
            ink = OXL_INK_GOOD;
        }
        oxl_canvas_put(c, row, s->col + i, ch, ink);
    }
}

static void draw_marks(struct oxl_canvas *c, int row, const struct scale *s,
                       const struct oxl_live *live)
{
    int slow = col_of(s, live->slow_pct), target = col_of(s, live->target_pct);
    int off = col_of(s, live->back_off_pct), end = s->col + s->cols;
    if (slow >= 0) {
        if (slow - s->col >= 5)
            oxl_canvas_text(c, row, slow - 5, 5, OXL_INK_TEXT, "near ");
        oxl_canvas_put(c, row, slow, DOWN, OXL_INK_TEXT);
    }
    if (target >= 0) {
        oxl_canvas_put(c, row, target, DOWN, OXL_INK_TITLE);
        int room = (off >= 0 ? off : end) - target - 2;
        oxl_canvas_text(c, row, target + 1, room, OXL_INK_TITLE, room >= 7 ? " target" : "");
    }
    if (off >= 0) {
        oxl_canvas_put(c, row, off, DOWN, OXL_INK_BAD);
        oxl_canvas_text(c, row, off + 1, end - off - 1, OXL_INK_BAD,
                        end - off - 1 >= 6 ? " limit" : " far");
    }
}

static void draw_numbers(struct oxl_canvas *c, int row, const struct scale *s)
{
    const int step = s->cols >= 45 ? 5 : 10;
    for (int v = 0; v >= s->right; v -= step) {
        struct oxl_figure_cell n = oxl_figure_cell(v, 0, false);
        int len = (int)strlen(n.text), at = col_of(s, v) - len / 2;
        if (at >= s->col && at + len <= s->col + s->cols)
            oxl_canvas_text(c, row, at, len, OXL_INK_DIM, n.text);
    }
}

/* "^ -18.4 % more gas", the words on whichever side has room. */
static void draw_pointer(struct oxl_canvas *c, int row, const struct scale *s,
                         const struct oxl_live *live, const char *word)
{
    int at = col_of(s, live->shift_pct);
    char text[48];
    if (at < 0) {
        snprintf(text, sizeof text, "shift --  %s", word);
        oxl_canvas_text(c, row, s->col, s->cols, word[0] ? OXL_INK_TITLE : OXL_INK_DIM, text);
        return;
    }
    snprintf(text, sizeof text, "%s %%%s%s", oxl_figure_cell(live->shift_pct, 1, true).text,
             word[0] ? " " : "", word);
    int len = (int)strlen(text);
    bool right = at + 2 + len <= s->col + s->cols;
    oxl_canvas_put(c, row, at, UP, OXL_INK_TITLE);
    if (right)
        oxl_canvas_text(c, row, at + 2, len, OXL_INK_TITLE, text);
    else if (at - 1 - len >= s->col)
        oxl_canvas_text(c, row, at - 1 - len, len, OXL_INK_TITLE, text);
}

void oxl_gauge_draw(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *live,
                    enum oxl_hand hand)
{
    struct scale s = scale_for(live, a);
    draw_marks(c, a.row, &s, live);
    draw_bar(c, a.row + 1, &s, live);
    draw_pointer(c, a.row + 2, &s, live, oxl_gauge_word(hand));
    draw_numbers(c, a.row + 3, &s);
    int at = col_of(&s, live->shift_pct);
    if (at >= 0)
        oxl_canvas_put(c, a.row + 1, at, UP, OXL_INK_ACTION);
}

void oxl_gauge_line(struct oxl_canvas *c, struct oxl_area a, const struct oxl_live *live)
{
    struct scale s = scale_for(live, a);
    draw_bar(c, a.row, &s, live);
    int target = col_of(&s, live->target_pct), at = col_of(&s, live->shift_pct);
    if (target >= 0)
        oxl_canvas_put(c, a.row, target, DOWN, OXL_INK_TITLE);
    if (at >= 0)
        oxl_canvas_put(c, a.row, at, UP, OXL_INK_ACTION);
}

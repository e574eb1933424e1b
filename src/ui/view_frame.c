#include "view.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "headline.h"
#include "large.h"

void oxl_view_fill(struct oxl_canvas *c, int row, int rows, enum oxl_ink ink)
{
    for (int r = row; r < row + rows; r++)
        for (int x = 0; x < oxl_canvas_cols(c); x++)
            oxl_canvas_put(c, r, x, ' ', ink);
}

/* Capitals with a space between them, or closer when there is no room. */
static void draw_spaced(struct oxl_canvas *c, int row, enum oxl_ink ink, const char *words)
{
    int cols = oxl_canvas_cols(c), len = (int)strlen(words);
    int step = 2 * len - 1 <= cols - 2 ? 2 : 1;
    int col = (cols - (step * len - step + 1)) / 2;
    col = col < 0 ? 0 : col;
    for (int i = 0; i < len; i++)
        oxl_canvas_put(c, row, col + i * step, (unsigned char)words[i], ink);
}

/* The second sign of the band's colour, at both ends. */
static const char *sign_for(enum oxl_ink ink)
{
    return ink == OXL_INK_BAND_STOP      ? "!!"
           : ink == OXL_INK_BAND_CAUTION ? "!"
           : ink == OXL_INK_BAND_GOOD    ? "+"
                                         : "";
}

void oxl_view_banner(struct oxl_canvas *c, int rows, enum oxl_ink ink, const char *words,
                     bool ascii)
{
    int cols = oxl_canvas_cols(c);
    oxl_view_fill(c, 0, rows, ink);
    int scale = 2;
    while (scale > 0 && (!oxl_large_can(words, scale, ascii) || oxl_large_rows(scale) > rows ||
                         oxl_large_cols(words, scale) > cols - 2))
        scale--;
    int row = rows / 2;
    if (scale > 0) {
        int col = (cols - oxl_large_cols(words, scale)) / 2;
        oxl_large_draw(c, (rows - oxl_large_rows(scale)) / 2, col, words, scale, ink, ascii);
    } else {
        draw_spaced(c, row, ink, words);
    }
    const char *sign = sign_for(ink);
    int len = (int)strlen(sign);
    if (oxl_canvas_at(c, row, len).ch == ' ' && oxl_canvas_at(c, row, cols - 1 - len).ch == ' ') {
        oxl_canvas_text(c, row, 0, len, ink, sign);
        oxl_canvas_text(c, row, cols - len, len, ink, sign);
    }
}

/* "hold 1.3 s   shut the gas within 42 s", only what is known; no "hold" while the headline says
 * otherwise. At 0 it says what is waited for. */
static void countdown(const struct oxl_model *m, enum oxl_hand hand, bool narrow, char *out,
                      size_t n)
{
    size_t used = 0;
    double hold_s = m->live.hold_left_s, heat_s = m->live.heat_left_s,
           offer_s = m->live.offer_left_s;
    bool gas = m->state == OXL_STATE_ENRICHMENT;
    out[0] = '\0';
    if (!m->has_live || oxl_headline_link_is_down(m))
        return;
    if (offer_s > 0)
        snprintf(out, n,
                 gas                                             ? "open it within %.0f s"
                 : oxl_headline_noted_new(m)                     ? "result in %.0f s"
                 : oxl_headline_advice(m) == OXL_ADV_CHECK_STOPS ? "%.0f s to answer"
                                                                 : "no key: result in %.0f s",
                 ceil(offer_s));
    if (!gas || offer_s > 0)
        return;
    if (oxl_known(hold_s) && hand == OXL_HAND_HOLD)
        used =
            (size_t)(hold_s > 0 ? snprintf(out, n, "hold %.1f s   ", ceil(10 * hold_s) / 10)
                                : snprintf(out, n,
                                           narrow ? "until rich   " : "until the rear is rich   "));
    if (oxl_known(heat_s) && used < n)
        snprintf(out + used, n - used,
                 heat_s > 0 ? "shut the gas within %.0f s" : "shut the gas now", ceil(heat_s));
}

/* What does not fit goes by whole sentences; the page below has the rest. */
static void drop_begun_sentence(char *text, int room)
{
    if ((int)strlen(text) <= room)
        return;
    for (int i = room - 1; i > 0; i--)
        if (text[i + 1] == ' ' && (text[i] == '.' || text[i] == '?')) {
            text[i + 1] = '\0';
            return;
        }
}

/* The sentence, and the countdown beside it or beneath. One row, two where it needs them, and all
 * the time where a countdown comes and goes. Returns the rows used. */
static int draw_sentence(const struct oxl_model *m, struct oxl_canvas *c, int row)
{
    char left[80];
    struct oxl_headline h = oxl_headline(m);
    int cols = oxl_canvas_cols(c);
    countdown(m, h.hand, cols < 60, left, sizeof left);
    int len = (int)strlen(left);
    bool two = cols < 60 || oxl_flow_rows(h.sentence, cols - 2) > 1 ||
               (m->state == OXL_STATE_ENRICHMENT && cols < 100) ||
               (int)strlen(h.sentence) + len + 2 > cols;
    bool beneath = two && len;
    struct oxl_flow f = {c, {row, 1, two && !beneath ? 2 : 1, cols - 2}, 0, 0};
    drop_begun_sentence(h.sentence, f.area.rows * f.area.cols);
    oxl_flow_text(&f, h.sentence_ink, "", 0, h.sentence_ink, h.sentence);
    oxl_canvas_text(c, beneath ? row + 1 : row, beneath ? 1 : cols - 1 - len, len, OXL_INK_TITLE,
                    left);
    return two ? 2 : 1;
}

static int band_rows(int rows, int cols)
{
    if (rows < 20 || cols < 60)
        return rows >= 16 ? 3 : 1;
    if (cols < 100 || rows < 34)
        return 3;
    return rows < 44 ? 5 : 7;
}

/* Words alone, wrapped: a screen that is too small for more. */
static int draw_words(const struct oxl_model *m, struct oxl_canvas *c)
{
    const struct oxl_headline h = oxl_headline(m);
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    struct oxl_flow f = {c, {0, 0, rows, cols}, 0, 0};
    oxl_view_fill(c, 0, oxl_flow_rows(h.words, cols), h.band);
    oxl_flow_text(&f, h.band, "", 0, h.band, h.words);
    return f.count;
}

int oxl_view_head(const struct oxl_model *m, struct oxl_canvas *c)
{
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    if (oxl_view_is_tiny(c))
        return draw_words(m, c);
    int band = band_rows(rows, cols);
    const struct oxl_headline h = oxl_headline(m);
    oxl_view_banner(c, band, h.band, h.words, m->config.ascii);
    return band + draw_sentence(m, c, band);
}

bool oxl_view_is_tiny(const struct oxl_canvas *c)
{
    return oxl_canvas_rows(c) < 10 || oxl_canvas_cols(c) < 40;
}

static int draw_step(struct oxl_canvas *c, int row, int col, const struct oxl_model *m,
                     enum oxl_state s)
{
    enum oxl_state at = m->state == OXL_STATE_STOPPED ? m->stopped_in : m->state;
    char text[32];
    const char *name = s == OXL_STATE_PRECHECK ? "pre-check" : oxl_state_name(s);
    snprintf(text, sizeof text, s == at ? "[%s]" : "%s", name);
    for (char *p = text; s == at && *p; p++)
        if (*p >= 'a' && *p <= 'z')
            *p = (char)(*p - 'a' + 'A');
    enum oxl_ink now = m->state == OXL_STATE_STOPPED ? OXL_INK_BAND_STOP : OXL_INK_ACTION;
    return oxl_canvas_text(c, row, col, 32,
                           s == at  ? now
                           : s < at ? OXL_INK_TEXT
                                    : OXL_INK_DIM,
                           text);
}

static void run_text(const struct oxl_model *m, char *out, size_t n)
{
    int runs = m->has_live ? m->live.runs : 0, least = m->live.least_runs;
    if (m->state == OXL_STATE_DONE)
        snprintf(out, n, "DONE");
    else if (m->state == OXL_STATE_STOPPED)
        snprintf(out, n, "STOPPED");
    else if (m->run < 1)
        snprintf(out, n, "run --");
    else if (least >= m->run && least < runs) /* two that agree are enough */
        snprintf(out, n, "run %d of %d-%d", m->run, least, runs);
    else if (runs >= m->run) /* a deeper or a repeated run is over and above */
        snprintf(out, n, "run %d of %d", m->run, runs);
    else
        snprintf(out, n, "run %d", m->run);
}

/* A note takes its place, and of what is drawn before it as much as it needs. */
void oxl_view_path(const struct oxl_model *m, struct oxl_canvas *c, int row)
{
    int cols = oxl_canvas_cols(c);
    char run[64];
    const struct oxl_headline h = oxl_headline(m);
    if (h.note[0]) {
        struct oxl_flow f = {c, {row, 1, 2, cols - 2}, 0, 0};
        oxl_view_fill(c, row, oxl_flow_rows(h.note, cols - 2) > 1 ? 2 : 1, OXL_INK_TEXT);
        oxl_flow_text(&f, h.note_ink, "", 0, h.note_ink, h.note);
        return;
    }
    run_text(m, run, sizeof run);
    int len = (int)strlen(run);
    oxl_canvas_text(c, row, cols - 1 - len, len, OXL_INK_TITLE, run);
    if (cols >= 80) {
        int col = 1;
        for (int s = OXL_STATE_PRECHECK; s <= OXL_STATE_RECOVERY; s++) {
            if (s)
                col += oxl_canvas_text(c, row, col, 3, OXL_INK_DIM, " > ");
            col += draw_step(c, row, col, m, (enum oxl_state)s);
        }
    } else if (m->state <= OXL_STATE_RECOVERY) {
        int col = 1 + oxl_view_print(c, row, 1, 20, OXL_INK_DIM, "step %d of %d: ", m->state + 1,
                                     OXL_STATE_RECOVERY + 1);
        draw_step(c, row, col, m, m->state);
    }
}

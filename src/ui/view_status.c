#include "view.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "headline.h"
#include "oxylag/figure.h"

static int bar_between(struct oxl_canvas *c, int row, int col)
{
    return col + oxl_canvas_text(c, row, col, 3, OXL_INK_DIM, " | ");
}

static int draw_rates(const struct oxl_model *m, struct oxl_canvas *c, int row, int col)
{
    return col + oxl_view_print(c, row, col, 60, OXL_INK_TEXT, "front %s/s  rear %s/s",
                                oxl_figure_cell(m->live.front_hz, 1, false).text,
                                oxl_figure_cell(m->live.rear_hz, 1, false).text);
}

static int draw_link(const struct oxl_model *m, struct oxl_canvas *c, int row, int col)
{
    bool good = m->link == OXL_LINK_READY;
    bool bad = m->link >= OXL_LINK_STALLED || m->link == OXL_LINK_CLOSED;
    return col + oxl_view_print(c, row, col, 40,
                                good  ? OXL_INK_GOOD
                                : bad ? OXL_INK_BAD
                                      : OXL_INK_CAUTION,
                                "%slink %s", bad ? "! " : "", oxl_link_state_name(m->link));
}

static int draw_recording(const struct oxl_model *m, struct oxl_canvas *c, int row, int col)
{
    const struct oxl_surroundings *s = &m->around;
    if (s->recording_trouble) { /* what the system says of it, behind where it stopped */
        const char *why = strstr(s->recording_trouble, ": ");
        return col + oxl_view_print(c, row, col, 60, OXL_INK_BAD, "! not recording: %s",
                                    why ? why + 2 : s->recording_trouble);
    }
    if (m->config.mode == OXL_UI_REPLAY)
        return col + oxl_canvas_text(c, row, col, 20, OXL_INK_DIM, "recorded");
    if (!s->recording)
        return col + oxl_canvas_text(c, row, col, 20, OXL_INK_CAUTION, "not recording");
    double kb = (double)s->recorded_bytes / 1000;
    if (kb < 1000)
        return col + oxl_view_print(c, row, col, 30, OXL_INK_GOOD, "recording %.0f kB", kb);
    return col + oxl_view_print(c, row, col, 30, OXL_INK_GOOD, "recording %.1f MB", kb / 1000);
}

static const char *sound_word(const struct oxl_model *m)
{
    return !m->around.sound ? "silent " : m->around.bell_only ? "bell only " : "";
}

static void source_text(const struct oxl_model *m, char *out, size_t n)
{
    static const char *const modes[] = {"vehicle", "demo", "replay"};
    /* What a replay stands at leaves no room for more than that it is silent. */
    const char *silent = m->config.mode == OXL_UI_REPLAY && m->around.sound ? "" : sound_word(m);
    if (m->config.mode == OXL_UI_REPLAY)
        snprintf(out, n, "%s%s %s s x%s%s", silent, modes[m->config.mode],
                 oxl_figure_cell((double)m->around.now_us / 1e6, 1, false).text,
                 oxl_figure_cell(m->around.replay_rate, 2, false).text,
                 m->around.paused ? " PAUSED" : "");
    else
        snprintf(out, n, "%s%s %s", silent, modes[m->config.mode], m->config.title);
}

bool oxl_view_key(struct oxl_canvas *c, int row, int *col, int end, const char *key,
                  enum oxl_ink ink, const char *word)
{
    if (*col + (int)(strlen(key) + strlen(word)) + 1 > end)
        return false;
    *col += oxl_canvas_text(c, row, *col, 20, OXL_INK_KEY, key);
    *col += oxl_view_print(c, row, *col, 20, ink, " %s", word) + 2;
    return true;
}

/* By hand: the valve has the status row to itself, beneath the gauge that it moves. */
static void draw_valve(const struct oxl_model *m, struct oxl_canvas *c, int row)
{
    enum { CELLS = 20 };
    static const char *const keys[][2] = {
        {"down", "shut"}, {"left/right", "5 %"}, {"up", "1 %"}, {"0-9", "tens"}};
    double v = fmin(fmax(m->around.valve, 0), 1);
    enum oxl_hand hand = oxl_advice_hand(oxl_headline_advice(m));
    bool must_shut = v > 0 && (hand == OXL_HAND_SHUT || hand == OXL_HAND_STAY_SHUT);
    enum oxl_ink ink = must_shut ? OXL_INK_BAD : OXL_INK_TITLE;
    int cols = oxl_canvas_cols(c), col = 1;
    col +=
        oxl_view_print(c, row, col, cols, ink, "%svalve %3.0f %% ", must_shut ? "! " : "", 100 * v);
    for (int i = 0; i < CELLS && col < cols; i++)
        oxl_canvas_put(c, row, col++, i < (int)lround(v * CELLS) ? 0x2588 : 0x2500, ink);
    col += 2;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (!oxl_view_key(c, row, &col, cols - 1, keys[i][0], OXL_INK_TEXT, keys[i][1]))
            return;
}

void oxl_view_status(const struct oxl_model *m, struct oxl_canvas *c, int row)
{
    bool in_run = m->state >= OXL_STATE_BASELINE && m->state <= OXL_STATE_RECOVERY;
    if (in_run && oxl_known(m->around.valve) && !m->around.recording_trouble) {
        draw_valve(m, c, row);
        return;
    }
    int cols = oxl_canvas_cols(c);
    int col = 1;
    /* Trouble with the recording needs the room more than the rates do. */
    if (!m->around.recording_trouble && cols >= 60)
        col = bar_between(c, row, draw_rates(m, c, row, col));
    col = draw_link(m, c, row, col);
    col = draw_recording(m, c, row, bar_between(c, row, col));
    char source[120];
    source_text(m, source, sizeof source);
    int room = cols - 1 - col - 2, len = (int)strlen(source);
    if (len > room && m->config.mode != OXL_UI_REPLAY) { /* the name matters more than the mode */
        snprintf(source, sizeof source, "%s%s", sound_word(m), m->config.title);
        len = (int)strlen(source);
    }
    if (room >= len || room >= 12)
        oxl_canvas_text(c, row, len < room ? cols - 1 - len : col + 2, room, OXL_INK_DIM, source);
}

struct key_word {
    const char *key, *word;
};

/* Where room is short the last ones go. */
static const struct key_word live_keys[] = {{"space", "now"}, {"d", "end now"}, {"r", "restart"},
                                            {"l", "leak"},    {"n", "new"},     {"a", "abort"},
                                            {"?", "help"},    {"c", "checks"},  {"m", "mark"},
                                            {"s", "sound"},   {NULL, NULL}};
static const struct key_word replay_keys[] = {
    {"p", "pause"},  {".", "step"},  {"+/-", "rate"}, {"n", "next event"}, {"left/right", "10 s"},
    {"c", "checks"}, {"q", "leave"}, {"?", "help"},   {NULL, NULL}};
static const struct key_word checks_keys[] = {
    {"any key", "back"}, {"?", "help"}, {"up/down", "turn"}, {NULL, NULL}};
static const struct key_word over_keys[] = {
    {"Enter", "what next"}, {"c", "checks"}, {"?", "help"}, {"up/down", "turn"}, {NULL, NULL}};

/* Before the baseline there is no run to restart and no leak to look for; d answers an offer. */
static bool means_nothing(const struct oxl_model *m, const char *key)
{
    if (strcmp(key, "d") == 0)
        return oxl_headline_advice(m) != OXL_ADV_DEEPER_OFFER;
    return m->state == OXL_STATE_PRECHECK && strchr("rlc", key[0]) && !key[1];
}

/* What a key has led to stands beside it: the leak check's result, the converter's age. */
static const char *word_of(const struct oxl_model *m, const struct key_word *k, enum oxl_ink *ink)
{
    static const char *const found[] = {"leak: unclear", "leak: none", "leak", "leak: FOUND"};
    const struct oxl_check *leak = oxl_test_record_check(m->record, "leak-check-");
    *ink = OXL_INK_CAUTION;
    if (strcmp(k->key, "space") == 0 && oxl_headline_advice(m) == OXL_ADV_CHECK_STOPS)
        return "go on anyway";
    if (strcmp(k->key, "l") == 0 && m->leak_next)
        return "leak next";
    if (strcmp(k->key, "l") == 0 && leak && (unsigned)leak->grade <= OXL_GRADE_STOP)
        return found[leak->grade];
    if (strcmp(k->word, "new") == 0 && oxl_headline_is_new(m))
        return "NEW";
    *ink = OXL_INK_TEXT;
    return k->word;
}

void oxl_view_keys(const struct oxl_model *m, struct oxl_canvas *c, int row)
{
    bool over = m->state == OXL_STATE_DONE || m->state == OXL_STATE_STOPPED;
    const struct key_word *k = m->page == OXL_PAGE_CHECKS        ? checks_keys
                               : m->config.mode == OXL_UI_REPLAY ? replay_keys
                               : over                            ? over_keys
                                                                 : live_keys;
    int cols = oxl_canvas_cols(c), col = 1;
    for (; k->key; k++) {
        enum oxl_ink ink;
        const char *word = word_of(m, k, &ink);
        if (!means_nothing(m, k->key) && !oxl_view_key(c, row, &col, cols - 1, k->key, ink, word))
            return;
    }
}

/* The only file that knows curses. */
#include "oxylag/ui.h"

#include <locale.h>
#include <stdlib.h>
#include <unistd.h>

#define NCURSES_WIDECHAR 1
#include <curses.h>

#include "term_tty.h"

enum { BELL_STEP_US = 180000, ESCAPE_DELAY_MS = 25 };

struct oxl_term {
    struct oxl_tty tty;
    SCREEN *screen;
    attr_t attrs[OXL_INK_COUNT];
    short pairs[OXL_INK_COUNT];
    struct oxl_canvas *shown; /* what the terminal has */
    bool all_stale;
    int bells_left;
    int64_t next_bell_us;
    int click_row, click_col;
};

static bool look_at_size(struct oxl_term *t)
{
    if (!oxl_tty_resized(&t->tty))
        return false;
    resize_term(t->tty.rows, t->tty.cols);
    t->all_stale = true;
    return true;
}

static attr_t curses_attrs(unsigned look)
{
    return (look & OXL_LOOK_BOLD ? A_BOLD : A_NORMAL) | (look & OXL_LOOK_DIM ? A_DIM : A_NORMAL) |
           (look & OXL_LOOK_REVERSE ? A_REVERSE : A_NORMAL) |
           (look & OXL_LOOK_UNDERLINE ? A_UNDERLINE : A_NORMAL);
}

static void set_inks(struct oxl_term *t, enum oxl_theme theme)
{
    if (theme == OXL_THEME_AUTO) {
        const char *no_color = getenv("NO_COLOR");
        if (no_color && no_color[0])
            theme = OXL_THEME_MONO;
    }
    bool colour = theme != OXL_THEME_MONO && has_colors() && start_color() == OK;
    if (colour && theme == OXL_THEME_AUTO && use_default_colors() != OK)
        theme = OXL_THEME_DARK;
    for (int i = 0; i < OXL_INK_COUNT; i++) {
        struct oxl_paint p =
            oxl_ink_paint((enum oxl_ink)i, colour ? theme : OXL_THEME_MONO, COLORS);
        t->attrs[i] = curses_attrs(p.look);
        t->pairs[i] = 0;
        if (colour && init_pair((short)(i + 1), p.fg, p.bg) == OK)
            t->pairs[i] = (short)(i + 1);
    }
    if (colour)
        bkgd((chtype)COLOR_PAIR(t->pairs[OXL_INK_TEXT]) | ' ');
}

/* Curses shall not know the terminal itself (term_tty.h). newterm, as initscr would end the program
 * on a terminal that it does not know. */
static bool start_curses(struct oxl_term *t)
{
    setlocale(LC_CTYPE, "");
    t->screen = newterm(NULL, t->tty.page, stdin);
    if (!t->screen)
        return false;
    noecho();
    nonl();
    intrflush(stdscr, FALSE);
    keypad(stdscr, TRUE);
    nodelay(stdscr, TRUE);
    scrollok(stdscr, FALSE);
    set_escdelay(ESCAPE_DELAY_MS);
    curs_set(0);
    resize_term(t->tty.rows, t->tty.cols);
    return true;
}

static void free_all(struct oxl_term *t)
{
    oxl_tty_close(&t->tty);
    oxl_canvas_free(t->shown);
    free(t);
}

struct oxl_term *oxl_term_open(enum oxl_theme theme)
{
    if (!isatty(STDOUT_FILENO) || !isatty(STDIN_FILENO))
        return NULL;
    struct oxl_term *t = calloc(1, sizeof *t);
    if (!t)
        return NULL;
    t->shown = oxl_canvas_new(1, 1);
    if (t->shown && oxl_tty_open(&t->tty)) {
        oxl_tty_begin(&t->tty);
        if (start_curses(t)) {
            oxl_term_again(t);
            set_inks(t, theme);
            return t;
        }
        oxl_tty_end(&t->tty);
    }
    free_all(t);
    return NULL;
}

bool oxl_term_close(struct oxl_term *t)
{
    if (!t)
        return true;
    endwin();
    bool taken = oxl_tty_end(&t->tty);
    delscreen(t->screen);
    free_all(t);
    return taken;
}

void oxl_term_again(struct oxl_term *t)
{
    if (!t)
        return;
    oxl_tty_modes(&t->tty);
    t->all_stale = true;
}

void oxl_term_size(struct oxl_term *t, int *rows, int *cols)
{
    look_at_size(t);
    getmaxyx(stdscr, *rows, *cols);
}

static void draw_cell(struct oxl_term *t, int row, int col, struct oxl_cell cell)
{
    wchar_t text[2] = {(wchar_t)cell.ch, L'\0'};
    cchar_t cc;
    unsigned ink = cell.ink < OXL_INK_COUNT ? cell.ink : (unsigned)OXL_INK_TEXT;
    if (setcchar(&cc, text, t->attrs[ink], t->pairs[ink], NULL) == OK)
        mvadd_wch(row, col, &cc); /* ERR in the last corner is no error: the cell is drawn */
}

void oxl_term_show(struct oxl_term *t, const struct oxl_canvas *c)
{
    int rows = oxl_canvas_rows(c), cols = oxl_canvas_cols(c);
    if (!oxl_tty_free(&t->tty)) {
        /* A session that hung may come back as another terminal, with nothing on it. */
        t->all_stale = t->all_stale || oxl_tty_stalled(&t->tty);
        return;
    }
    bool all =
        t->all_stale || rows != oxl_canvas_rows(t->shown) || cols != oxl_canvas_cols(t->shown);
    if (all) {
        if (!oxl_canvas_resize(t->shown, rows, cols))
            return;
        erase();
        clearok(stdscr, TRUE);
    }
    bool changed = all;
    for (int row = 0; row < rows; row++)
        for (int col = 0; col < cols; col++) {
            struct oxl_cell now = oxl_canvas_at(c, row, col);
            struct oxl_cell old = oxl_canvas_at(t->shown, row, col);
            if (!all && now.ch == old.ch && now.ink == old.ink)
                continue;
            draw_cell(t, row, col, now);
            oxl_canvas_put(t->shown, row, col, now.ch, (enum oxl_ink)now.ink);
            changed = true;
        }
    t->all_stale = false;
    if (changed)
        refresh();
    if (!oxl_tty_send(&t->tty))
        t->all_stale = true;
}

void oxl_term_bell(struct oxl_term *t, enum oxl_cue cue, int64_t now_us)
{
    if (oxl_cue_strokes(cue) == 0)
        return;
    t->bells_left = oxl_cue_strokes(cue);
    t->next_bell_us = now_us;
    oxl_term_tick(t, now_us);
}

void oxl_term_tick(struct oxl_term *t, int64_t now_us)
{
    if (t->bells_left <= 0 || now_us < t->next_bell_us)
        return;
    if (!oxl_tty_stalled(&t->tty)) { /* a stroke that came late would be a wrong call */
        beep();
        (void)oxl_tty_send(&t->tty);
    }
    t->bells_left--;
    t->next_bell_us = now_us + BELL_STEP_US;
}

void oxl_term_mouse(struct oxl_term *t)
{
    (void)t;
    mouseinterval(0); /* else a press waits for its release */
    (void)mousemask(BUTTON1_PRESSED | BUTTON4_PRESSED | BUTTON5_PRESSED, NULL);
}

void oxl_term_clicked(const struct oxl_term *t, int *row, int *col)
{
    *row = t->click_row;
    *col = t->click_col;
}

static int mouse_key(struct oxl_term *t)
{
    MEVENT ev;
    if (getmouse(&ev) != OK)
        return OXL_TERM_NONE;
    t->click_row = ev.y;
    t->click_col = ev.x;
    return ev.bstate & BUTTON4_PRESSED   ? OXL_TERM_UP
           : ev.bstate & BUTTON5_PRESSED ? OXL_TERM_DOWN
           : ev.bstate & BUTTON1_PRESSED ? OXL_TERM_CLICK
                                         : OXL_TERM_NONE;
}

int oxl_term_key(struct oxl_term *t)
{
    int key = t ? getch() : ERR;
    if (t && key == ERR && look_at_size(t))
        return OXL_TERM_RESIZED;
    if (key == KEY_MOUSE)
        return mouse_key(t);
    static const int keys[][2] = {{KEY_LEFT, OXL_TERM_LEFT},
                                  {KEY_RIGHT, OXL_TERM_RIGHT},
                                  {KEY_UP, OXL_TERM_UP},
                                  {KEY_DOWN, OXL_TERM_DOWN},
                                  {KEY_PPAGE, OXL_TERM_PAGE_UP},
                                  {KEY_NPAGE, OXL_TERM_PAGE_DOWN},
                                  {KEY_HOME, OXL_TERM_HOME},
                                  {KEY_END, OXL_TERM_END},
                                  {KEY_BTAB, OXL_TERM_BACK_TAB},
                                  {KEY_BACKSPACE, OXL_TERM_BACKSPACE},
                                  {0x7F, OXL_TERM_BACKSPACE},
                                  {'\b', OXL_TERM_BACKSPACE},
                                  {KEY_ENTER, '\n'},
                                  {'\r', '\n'}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (key == keys[i][0])
            return keys[i][1];
    return key >= 0 && key <= 0xFF ? key : OXL_TERM_NONE; /* ERR is negative */
}

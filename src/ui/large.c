#include "large.h"

#include <stdint.h>

struct glyph {
    char ch;
    uint8_t width;
    uint8_t rows[5]; /* most significant used bit is the left point */
};

static const struct glyph glyphs[] = {
    {' ', 2, {0, 0, 0, 0, 0}}, {'0', 3, {7, 5, 5, 5, 7}},      {'1', 3, {2, 6, 2, 2, 7}},
    {'2', 3, {7, 1, 7, 4, 7}}, {'3', 3, {7, 1, 3, 1, 7}},      {'4', 3, {5, 5, 7, 1, 1}},
    {'5', 3, {7, 4, 7, 1, 7}}, {'6', 3, {7, 4, 7, 5, 7}},      {'7', 3, {7, 1, 2, 2, 2}},
    {'8', 3, {7, 5, 7, 5, 7}}, {'9', 3, {7, 5, 7, 1, 7}},      {'.', 1, {0, 0, 0, 0, 1}},
    {'-', 3, {0, 0, 7, 0, 0}}, {'+', 3, {0, 2, 7, 2, 0}},      {'>', 3, {4, 2, 1, 2, 4}},
    {'<', 3, {1, 2, 4, 2, 1}}, {'!', 1, {1, 1, 1, 0, 1}},      {'?', 3, {6, 1, 2, 0, 2}},
    {':', 1, {0, 1, 0, 1, 0}}, {'A', 3, {2, 5, 7, 5, 5}},      {'B', 3, {6, 5, 6, 5, 6}},
    {'C', 3, {3, 4, 4, 4, 3}}, {'D', 4, {14, 9, 9, 9, 14}},    {'E', 3, {7, 4, 6, 4, 7}},
    {'F', 3, {7, 4, 6, 4, 4}}, {'G', 4, {7, 8, 11, 9, 7}},     {'H', 3, {5, 5, 7, 5, 5}},
    {'I', 1, {1, 1, 1, 1, 1}}, {'J', 3, {1, 1, 1, 5, 2}},      {'K', 3, {5, 5, 6, 5, 5}},
    {'L', 3, {4, 4, 4, 4, 7}}, {'M', 5, {17, 27, 21, 17, 17}}, {'N', 4, {9, 13, 11, 9, 9}},
    {'O', 4, {6, 9, 9, 9, 6}}, {'P', 3, {6, 5, 6, 4, 4}},      {'Q', 4, {6, 9, 9, 10, 5}},
    {'R', 3, {6, 5, 6, 5, 5}}, {'S', 3, {3, 4, 2, 1, 6}},      {'T', 3, {7, 2, 2, 2, 2}},
    {'U', 4, {9, 9, 9, 9, 6}}, {'V', 3, {5, 5, 5, 5, 2}},      {'W', 5, {17, 17, 21, 21, 10}},
    {'X', 3, {5, 5, 2, 5, 5}}, {'Y', 3, {5, 5, 2, 2, 2}},      {'Z', 3, {7, 1, 2, 4, 7}},
};

/* Figures of strokes, three cells by three, for scale 1 in ASCII. */
static const struct {
    char ch;
    char rows[3][4];
} strokes[] = {
    {'0', {" _ ", "| |", "|_|"}}, {'1', {"   ", "  |", "  |"}},  {'2', {" _ ", " _|", "|_ "}},
    {'3', {" _ ", " _|", " _|"}}, {'4', {"   ", "|_|", "  |"}},  {'5', {" _ ", "|_ ", " _|"}},
    {'6', {" _ ", "|_ ", "|_|"}}, {'7', {" _ ", "  |", "  |"}},  {'8', {" _ ", "|_|", "|_|"}},
    {'9', {" _ ", "|_|", " _|"}}, {'-', {"   ", " _ ", "   "}},  {'+', {"   ", "_|_", " | "}},
    {'.', {" ", " ", "."}},       {'>', {"   ", "\\  ", "/  "}}, {' ', {"  ", "  ", "  "}},
};

static const struct glyph *find_glyph(char ch)
{
    for (size_t i = 0; i < sizeof glyphs / sizeof glyphs[0]; i++)
        if (glyphs[i].ch == ch)
            return &glyphs[i];
    return NULL;
}

static int find_strokes(char ch)
{
    for (size_t i = 0; i < sizeof strokes / sizeof strokes[0]; i++)
        if (strokes[i].ch == ch)
            return (int)i;
    return -1;
}

static const struct glyph *glyph_or_space(char ch)
{
    const struct glyph *g = find_glyph(ch);
    return g ? g : &glyphs[0];
}

int oxl_large_rows(int scale)
{
    return (5 * scale + 1) / 2;
}

int oxl_large_cols(const char *text, int scale)
{
    int points = 0;
    for (const char *p = text; *p; p++)
        points += glyph_or_space(*p)->width + (p[1] ? 1 : 0);
    return points * scale;
}

bool oxl_large_can(const char *text, int scale, bool ascii)
{
    for (const char *p = text; *p; p++)
        if (ascii && scale == 1 ? find_strokes(*p) < 0 : !find_glyph(*p))
            return false;
    return true;
}

static bool point(const struct glyph *g, int x, int half_row, int scale)
{
    int row = half_row / scale;
    return row < 5 && (g->rows[row] >> (g->width - 1 - x) & 1);
}

static void draw_points(struct oxl_canvas *c, int row, int col, const struct glyph *g, int scale,
                        enum oxl_ink ink, bool ascii)
{
    for (int r = 0; r < oxl_large_rows(scale); r++)
        for (int x = 0; x < g->width * scale; x++) {
            bool up = point(g, x / scale, 2 * r, scale);
            bool down = point(g, x / scale, 2 * r + 1, scale);
            if (!up && !down)
                continue;
            uint32_t ch = up && down ? 0x2588 : up ? 0x2580 : 0x2584;
            oxl_canvas_put(c, row + r, col + x, ascii ? '#' : ch, ink);
        }
}

int oxl_large_draw(struct oxl_canvas *c, int row, int col, const char *text, int scale,
                   enum oxl_ink ink, bool ascii)
{
    int start = col;
    for (const char *p = text; *p; p++) {
        const struct glyph *g = glyph_or_space(*p);
        int stroke = ascii && scale == 1 ? find_strokes(*p) : -1;
        if (stroke >= 0)
            for (int r = 0; r < 3; r++)
                oxl_canvas_text(c, row + r, col, 3, ink, strokes[stroke].rows[r]);
        else
            draw_points(c, row, col, g, scale, ink, ascii);
        col += g->width * scale + (p[1] ? scale : 0);
    }
    return col - start;
}

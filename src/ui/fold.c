#include "fold.h"

static uint32_t fold(uint32_t ch)
{
    static const struct {
        uint32_t from, to;
    } table[] = {
        {0x2500, '-'}, {0x2550, '='}, {0x2502, '|'}, {0x250C, '|'}, {0x2514, '|'},
        {0x2588, '='}, {0x2592, '+'}, {0x2591, ':'}, {0x2573, 'X'}, {0x25BC, 'v'},
        {0x25B2, '^'}, {0x25B6, '>'}, {0x25CF, '*'}, {0x2713, '+'}, {0x2717, 'x'},
        {0x2026, '.'}, {0x00B7, '.'}, {0x00B0, ' '}, {0x2014, '-'}, {0x2013, '-'},
    };
    if (ch < 0x7F)
        return ch;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (table[i].from == ch)
            return table[i].to;
    return '?';
}

void oxl_fold_ascii(struct oxl_canvas *c)
{
    for (int row = 0; row < oxl_canvas_rows(c); row++)
        for (int col = 0; col < oxl_canvas_cols(c); col++) {
            struct oxl_cell cell = oxl_canvas_at(c, row, col);
            if (cell.ch > 0x7E)
                oxl_canvas_put(c, row, col, fold(cell.ch), (enum oxl_ink)cell.ink);
        }
}

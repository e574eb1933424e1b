#include "help_dump.h"

#include <string.h>

size_t utf8_put(char out[4], uint32_t ch)
{
    if (ch < 0x80) {
        out[0] = (char)ch;
        return 1;
    }
    size_t n = ch < 0x800 ? 2 : ch < 0x10000 ? 3 : 4;
    static const unsigned char lead[] = {0, 0, 0xC0, 0xE0, 0xF0};
    for (size_t i = n; i-- > 1; ch >>= 6)
        out[i] = (char)(0x80 | (ch & 0x3F));
    out[0] = (char)(lead[n] | ch);
    return n;
}

static int last_used(const struct oxl_canvas *c, int row)
{
    int col = oxl_canvas_cols(c) - 1;
    while (col >= 0 && oxl_canvas_at(c, row, col).ch == ' ')
        col--;
    return col;
}

size_t canvas_dump(const struct oxl_canvas *c, char *out, size_t n)
{
    size_t used = 0;
    for (int row = 0; row < oxl_canvas_rows(c); row++) {
        int last = last_used(c, row);
        for (int col = 0; col <= last + 1; col++) {
            char bytes[4];
            size_t k = utf8_put(bytes, col <= last ? oxl_canvas_at(c, row, col).ch : '\n');
            if (used + k < n)
                memcpy(out + used, bytes, k);
            else if (used < n) /* never end inside a character */
                out[used] = '\0';
            used += k;
        }
    }
    if (n)
        out[used < n ? used : n - 1] = '\0';
    return used;
}

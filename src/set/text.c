/* The page as text, 80 columns. */
#include <string.h>

#include "oxylag/safe.h"
#include "page/page.h"

enum { COLUMNS = 80, LABEL = 20, TABLE_COLUMNS = 12 };

/* ---- words and lines ------------------------------------------------------------------------ */

static size_t columns_of(const char *text)
{
    size_t n = 0;
    for (; *text; text++)
        n += ((unsigned char)*text & 0xc0) != 0x80;
    return n;
}

/* The next line of *text, at most max columns, broken between words where that can be; its bytes go
 * to out. Returns its columns (one a code point); the texts of a page are clean. */
static size_t next_line(const char **text, size_t max, char *out)
{
    size_t n = 0, bytes = 0, last_n = 0, last_bytes = 0;
    *text += strspn(*text, " ");
    const char *from = *text;
    while (from[bytes] && n < max) {
        bytes += oxl_utf8_length(from + bytes, strnlen(from + bytes, 4));
        n++;
        if (from[bytes] == ' ' || !from[bytes]) {
            last_bytes = bytes;
            last_n = n;
        }
    }
    if (last_bytes == 0) { /* one word that is longer than the line */
        last_bytes = bytes;
        last_n = n;
    }
    memcpy(out, from, last_bytes);
    out[last_bytes] = '\0';
    *text = from + last_bytes + strspn(from + last_bytes, " ");
    return last_n;
}

static void rule(struct oxl_buf *out, char c, size_t n)
{
    for (size_t i = 0; i < n; i++)
        oxl_buf_put(out, &c, 1);
    oxl_buf_put(out, "\n", 1);
}

/* `first` stands before the first line, padded to `indent`, and blanks before the others. */
static void paragraph(struct oxl_buf *out, const char *first, size_t indent, const char *text)
{
    char line[4 * COLUMNS + 1];
    const size_t used = columns_of(first);
    oxl_buf_add(out, "%s%*s", first, (int)(indent > used ? indent - used : 0), "");
    do {
        next_line(&text, COLUMNS - indent, line);
        oxl_buf_add(out, "%s\n%*s", line, *text ? (int)indent : 0, "");
    } while (*text);
}

/* ---- tables --------------------------------------------------------------------------------- */

static size_t longest_word(const char *text)
{
    size_t most = 0;
    while (*text) {
        size_t n = 0;
        for (; *text && *text != ' '; text++)
            n += ((unsigned char)*text & 0xc0) != 0x80;
        most = n > most ? n : most;
        text += *text == ' ';
    }
    return most;
}

/* Wide enough for the cells, headings broken into words; where that is too wide, cells from the
 * left on are broken, too. */
static void widths_of(const struct oxl_page *p, const struct oxl_table *t, size_t *widths)
{
    size_t least[TABLE_COLUMNS] = {0}, sum = 0;
    for (size_t c = 0; c < t->columns; c++) {
        widths[c] = 0;
        for (size_t r = 0; r < t->rows; r++) {
            const char *cell = oxl_page_str(p, oxl_table_cell(p, t, r, c));
            const size_t word = longest_word(cell), whole = r ? columns_of(cell) : word;
            least[c] = word > least[c] ? word : least[c];
            widths[c] = whole > widths[c] ? whole : widths[c];
        }
        sum += widths[c] + (c > 0);
    }
    for (size_t c = 0; c < t->columns; c++)
        for (; sum > COLUMNS && widths[c] > least[c]; sum--)
            widths[c]--;
    /* Where there is room, headings in one line and one more blank between columns. */
    for (size_t c = 0; c < t->columns; c++)
        for (const char *head = oxl_page_str(p, oxl_table_cell(p, t, 0, c));
             sum < COLUMNS && widths[c] < columns_of(head); sum++)
            widths[c]++;
    for (size_t c = 0; c + 1 < t->columns && sum < COLUMNS; c++, sum++)
        widths[c]++;
}

static void table_row(struct oxl_buf *out, const struct oxl_page *p, const struct oxl_table *t,
                      size_t row, const size_t *widths)
{
    const char *rest[TABLE_COLUMNS];
    bool more = true;
    for (size_t c = 0; c < t->columns; c++)
        rest[c] = oxl_page_str(p, oxl_table_cell(p, t, row, c));
    while (more) {
        size_t blanks = 0;
        more = false;
        for (size_t c = 0; c < t->columns; c++) {
            char line[4 * COLUMNS + 1];
            const size_t n = next_line(&rest[c], widths[c], line);
            if (n)
                oxl_buf_add(out, "%*s%s", (int)blanks, "", line);
            blanks = (n ? 0 : blanks) + widths[c] - n + 1;
            more = more || *rest[c];
        }
        oxl_buf_add(out, "\n");
    }
}

static void table(struct oxl_buf *out, const struct oxl_page *p, const struct oxl_table *t)
{
    size_t widths[TABLE_COLUMNS];
    widths_of(p, t, widths);
    for (size_t r = 0; r < t->rows; r++)
        table_row(out, p, t, r, widths);
}

/* ---- blocks --------------------------------------------------------------------------------- */

/* The names of fields that follow one another are as wide as the longest of them. */
static size_t name_width(const struct oxl_page *p, size_t i, enum oxl_area a)
{
    size_t most = 0;
    while (i > 0 && p->blocks[i - 1].area == a && p->blocks[i - 1].kind == OXL_BLOCK_FIELD)
        i--;
    for (; i < p->blocks_n && p->blocks[i].kind == OXL_BLOCK_FIELD;
         i = oxl_page_next(p, a, i + 1)) {
        const size_t n = columns_of(oxl_page_str(p, p->blocks[i].name));
        most = n > most ? n : most;
    }
    return (most < LABEL ? most : LABEL) + 2;
}

static void underlined(struct oxl_buf *out, const char *text, char c)
{
    oxl_buf_add(out, "\n");
    paragraph(out, "", 0, text);
    rule(out, c, columns_of(text) < COLUMNS ? columns_of(text) : COLUMNS);
}

/* Drawings of runs cannot be set; their figures are in the table of runs, their key goes too. */
static void block(struct oxl_buf *out, const struct oxl_page *p, size_t i)
{
    const struct oxl_block *b = &p->blocks[i];
    const char *name = oxl_page_str(p, b->name), *text = oxl_page_str(p, b->text);
    switch (b->kind) {
    case OXL_BLOCK_BANNER:
        paragraph(out, "*** ", 4, text);
        break;
    case OXL_BLOCK_VERDICT:
        underlined(out, text, '=');
        break;
    case OXL_BLOCK_LEAD:
        paragraph(out, "", 0, text);
        break;
    case OXL_BLOCK_HEADING:
        underlined(out, text, '-');
        break;
    case OXL_BLOCK_TITLE:
    case OXL_BLOCK_TEXT:
    case OXL_BLOCK_NOTE:
    case OXL_BLOCK_RULER:
        paragraph(out, "", 0, text);
        break;
    case OXL_BLOCK_FIELD:
        paragraph(out, name, name_width(p, i, b->area),
                  b->text ? text : "______________________________");
        break;
    case OXL_BLOCK_POINT:
        paragraph(out, name, columns_of(name) < 3 ? 3 : 4, text);
        break;
    case OXL_BLOCK_TABLE:
        table(out, p, &p->tables[b->index]);
        break;
    case OXL_BLOCK_SIGN:
        oxl_buf_add(out, "\n\n______________________________\n%s\n", text);
        break;
    case OXL_BLOCK_PLOT:
    case OXL_BLOCK_HISTORY:
    case OXL_BLOCK_KEY:
    case OXL_BLOCK_KINDS:
        break;
    }
}

void oxl_report_text(const struct oxl_report_input *tests, size_t n, struct oxl_buf *out)
{
    struct oxl_page p;
    oxl_page_make(&p, tests, n, OXL_DETAIL_WHOLE);
    for (enum oxl_area a = 0; a < OXL_AREA_COUNT; a++) {
        const size_t first = oxl_page_next(&p, a, 0);
        if (first < p.blocks_n && p.blocks[first].kind != OXL_BLOCK_HEADING &&
            p.blocks[first].kind != OXL_BLOCK_VERDICT && a != OXL_AREA_HEAD)
            oxl_buf_add(out, "\n");
        for (size_t i = first; i < p.blocks_n; i = oxl_page_next(&p, a, i + 1))
            block(out, &p, i);
    }
    out->failed = out->failed || p.arena.failed;
    oxl_page_free(&p);
}

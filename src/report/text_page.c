#include "text_page.h"

#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"

static void rule(struct oxl_buf *out, char c, size_t n)
{
    char line[OXL_PAGE_COLUMNS + 1];
    memset(line, c, n);
    line[n] = '\0';
    oxl_buf_add(out, "%s\n", line);
}

void oxl_page_heading(struct oxl_buf *out, const char *words)
{
    oxl_buf_add(out, "\n%s\n", words);
    rule(out, '-', strlen(words));
}

/* The next word of *text, at most max columns of it, cleaned; its bytes go to out. Returns its
 * columns (one a code point). */
static size_t next_word(const char **text, size_t max, char *out)
{
    size_t columns = 0;
    while (**text == ' ' || **text == '\n' || **text == '\t')
        ++*text;
    for (; **text && !strchr(" \n\t", **text) && columns < max; columns++) {
        size_t n = oxl_utf8_length(*text, strnlen(*text, 4));
        if (oxl_safe_length(*text, n) == 0)
            *out++ = '?';
        else
            for (size_t i = 0; i < n; i++)
                *out++ = (*text)[i];
        *text += n ? n : 1;
    }
    *out = '\0';
    return columns;
}

void oxl_page_text(struct oxl_buf *out, const char *first, const char *text)
{
    const size_t indent = strlen(first), width = OXL_PAGE_COLUMNS - indent;
    char word[4 * OXL_PAGE_COLUMNS + 1];
    size_t used = 0, columns;
    oxl_buf_add(out, "%s", first);
    while ((columns = next_word(&text, width, word)) > 0) {
        if (used > 0 && used + 1 + columns > width) {
            oxl_buf_add(out, "\n%*s", (int)indent, "");
            used = 0;
        }
        oxl_buf_add(out, "%s%s", used ? " " : "", word);
        used += (used > 0) + columns;
    }
    oxl_buf_add(out, "\n");
}

void oxl_page_field(struct oxl_buf *out, const char *name, const char *value)
{
    char label[24];
    snprintf(label, sizeof label, "%-17s ", name);
    oxl_page_text(out, label, value);
}

/* The line with the names of the columns, and the separator that shows them. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts.h"

bool oxl_reading_line(struct reading *r, const char **line, size_t *n)
{
    if (r->at >= r->end)
        return false;
    const char *nl = memchr(r->at, r->line_end, (size_t)(r->end - r->at));
    *line = r->at;
    *n = (size_t)((nl ? nl : r->end) - r->at);
    r->at = nl ? nl + 1 : r->end;
    r->line++;
    if (*n > 0 && (*line)[*n - 1] == '\r')
        --*n;
    return true;
}

/* 3 for "#3", 0 when the name is no such number. */
static size_t column_number(const char *name)
{
    char *end;
    if (name[0] != '#' || name[1] < '1' || name[1] > '9')
        return 0;
    unsigned long n = strtoul(name + 1, &end, 10);
    return *end || n > CELLS_MAX ? 0 : (size_t)n;
}

/* The cell of that name; as it is written before one in other letters. `count` when there is none.
 */
static size_t named(const struct cell *cells, size_t count, const char *name)
{
    for (unsigned any_case = 0; any_case < 2; any_case++)
        for (size_t i = 0; i < count; i++)
            if (oxl_cell_is(cells[i], name, any_case))
                return i;
    return count;
}

/* Is the name one of the line's with a colon and a unit that nobody knows? */
static const char *unit_of_name(const struct column *c, const struct cell *cells, size_t count)
{
    char name[NAME_MAX_BYTES];
    const char *colon = strrchr(c->name, ':');
    snprintf(name, sizeof name, "%.*s", (int)(colon ? colon - c->name : 0), c->name);
    size_t number = column_number(name);
    return name[0] && (named(cells, count, name) < count || (number >= 1 && number <= count))
               ? colon + 1
               : NULL;
}

/* Is this the line with all the names? Fills the indices. *missing is the first role not found,
 * *unit what its name has in place of a unit. */
static bool take_header(struct columns *columns, const char *line, size_t n, char separator,
                        enum role *missing, const char **unit)
{
    struct cell cells[CELLS_MAX];
    size_t count;
    *missing = ROLE_TIME;
    if (!oxl_cells_split(line, n, separator, cells, &count))
        return false;
    for (unsigned r = 0; r < ROLE_COUNT; r++) {
        struct column *c = &columns->of[r];
        if (!c->given)
            continue;
        size_t number = column_number(c->name);
        c->index = named(cells, count, c->name);
        if (c->index == count && number >= 1)
            c->index = number - 1;
        if (c->index >= count) {
            *missing = (enum role)r;
            *unit = unit_of_name(c, cells, count);
            return false;
        }
    }
    return true;
}

static bool separator_of(const char *word, char *out)
{
    if (strcmp(word, "comma") == 0)
        *out = ',';
    else if (strcmp(word, "semicolon") == 0)
        *out = ';';
    else if (strcmp(word, "tab") == 0)
        *out = '\t';
    else if (strlen(word) == 1 && word[0] > ' ' && word[0] < 0x7f && word[0] != '"')
        *out = word[0];
    else
        return false;
    return true;
}

/* What the names alone do not settle: two columns of one name, one column for two things. */
static enum oxl_status check_header(const struct reading *r, const char *line, size_t n)
{
    struct cell cells[CELLS_MAX];
    size_t count = 0;
    (void)oxl_cells_split(line, n, r->separator, cells, &count);
    for (unsigned a = 0; a < ROLE_COUNT; a++) {
        const struct column *c = &r->columns.of[a];
        if (!c->given)
            continue;
        bool any_case = c->index < count && !oxl_cell_is(cells[c->index], c->name, false);
        for (size_t i = c->index + 1; i < count; i++)
            if (oxl_cell_is(cells[i], c->name, any_case))
                return oxl_fail(
                    r->err, OXL_ERR_FORMAT,
                    "%s line %u: two columns are called \"%s\": say which by its number, "
                    "%s=#%zu or %s=#%zu",
                    r->file, r->line, c->name, oxl_role_word((enum role)a), c->index + 1,
                    oxl_role_word((enum role)a), i + 1);
        for (unsigned b = 0; b < a; b++)
            if (r->columns.of[b].given && r->columns.of[b].index == c->index)
                return oxl_fail(r->err, OXL_ERR_FORMAT,
                                "%s line %u: column %zu is named for %s and for %s: each needs one "
                                "of its own",
                                r->file, r->line, c->index + 1, oxl_role_word((enum role)b),
                                oxl_role_word((enum role)a));
    }
    return OXL_OK;
}

/* The first line that has all the names, by the separator that shows them. What stands before it
 * is the writer's own preamble. */
enum oxl_status oxl_header_find(struct reading *r, const char *separator)
{
    static const char usual[] = "\t;,";
    char fixed[2] = "", best_line[200] = "";
    enum role missing, furthest = ROLE_TIME, unit_role = ROLE_TIME;
    unsigned best_at = 1;
    const char *unit, *wrong_unit = NULL;
    if (separator && !separator_of(separator, &fixed[0]))
        return oxl_fail(r->err, OXL_ERR_USAGE,
                        "--separator: found \"%s\", expected comma, semicolon, tab or a character",
                        separator);
    const char *tries = separator ? fixed : usual, *line;
    size_t n;
    while (r->line < HEADER_SEARCH_LINES && oxl_reading_line(r, &line, &n)) {
        for (const char *s = tries; *s; s++) {
            unit = NULL;
            if (take_header(&r->columns, line, n, *s, &missing, &unit)) {
                r->separator = *s;
                return check_header(r, line, n);
            }
            if (unit && !wrong_unit) {
                wrong_unit = unit;
                unit_role = missing;
            }
            if (missing > furthest || !best_line[0]) {
                furthest = missing;
                best_at = r->line;
                snprintf(best_line, sizeof best_line, "%.*s", (int)(n < 120 ? n : 120), line);
            }
        }
    }
    if (wrong_unit)
        return oxl_unit_unknown(unit_role, wrong_unit, strlen(wrong_unit), r->err);
    if (!best_line[0])
        return oxl_fail(r->err, OXL_ERR_FORMAT, "%s: the table is empty", r->file);
    return oxl_fail(r->err, OXL_ERR_FORMAT,
                    "%s line %u: no column \"%s\" for %s; the header is: %s", r->file, best_at,
                    r->columns.of[furthest].name, oxl_role_word(furthest), best_line);
}

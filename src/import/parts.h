/* Inside the import room. */
#ifndef OXL_IMPORT_PARTS_H
#define OXL_IMPORT_PARTS_H

#include "oxylag/import.h"

/* What a column may hold. The order is that of the values in a row; TIME is none of them. */
enum role {
    ROLE_TIME,
    ROLE_FRONT,
    ROLE_REAR,
    ROLE_STFT,
    ROLE_LTFT,
    ROLE_AIR,
    ROLE_RPM,
    ROLE_MAP,
    ROLE_INTAKE,
    ROLE_COOLANT,
    ROLE_CATALYST,
    ROLE_COUNT
};

/* value = (cell + before) * scale */
struct unit {
    const char *word;
    double before, scale;
    unsigned roles; /* bit set */
    bool clock, lambda;
};

enum { NAME_MAX_BYTES = 128, CELLS_MAX = 512, HEADER_SEARCH_LINES = 100, CLOSING_LINES_MAX = 10 };

struct column {
    bool given;
    char name[NAME_MAX_BYTES]; /* as in the table's header; "#3" is the third */
    const struct unit *unit;
    bool unit_given;
    size_t index; /* found in the header */
};

struct columns {
    struct column of[ROLE_COUNT];
};

struct cell {
    const char *text; /* not NUL-terminated; quotes removed, doubled quotes kept */
    size_t n;
};

/* As in ASCII, whatever the locale. */
static inline bool oxl_is_digit(char c)
{
    return c >= '0' && c <= '9';
}
static inline char oxl_lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* columns.c */
const char *oxl_role_word(enum role r);
enum oxl_status oxl_columns_parse(const char *text, struct columns *out, struct oxl_error *err);
enum oxl_status oxl_unit_unknown(enum role r, const char *unit, size_t n, struct oxl_error *err);
/* The unit that stands in a cell becomes its column's. NULL, or what was expected instead. */
const char *oxl_column_unit(struct column *c, enum role r, struct cell word, char *out, size_t n);

/* cells.c */
/* Splits a line; false when a quote is not closed. More than CELLS_MAX cells are dropped. */
bool oxl_cells_split(const char *line, size_t n, char separator, struct cell *out, size_t *count);
bool oxl_cell_is(struct cell c, const char *name, bool any_case); /* blanks around do not matter */
bool oxl_cell_missing(struct cell c);
enum cell_kind { CELL_MISSING, CELL_NUMBER, CELL_WRONG };
/* A number with a decimal point, or a decimal comma. */
enum cell_kind oxl_cell_number(struct cell c, double *out);
/* A number and the word after it, which may be empty. */
enum cell_kind oxl_cell_amount(struct cell c, double *out, struct cell *unit);

/* clock.c: a clock time, as docs/import.md lists them, as seconds since midnight, or since the hour
 * where no hour stands there. *wrap_s is after how long such a clock begins again. */
enum cell_kind oxl_cell_clock(struct cell c, double *out, double *wrap_s);

/* utf16.c: is there the byte order mark of UTF-16? Then *out is the text as UTF-8, for free(). */
bool oxl_is_utf16(const char *text, size_t n);
enum oxl_status oxl_utf8_of_utf16(const char *text, size_t n, const char *file, char **out,
                                  size_t *out_n, struct oxl_error *err);

/* A table while it is read. */
struct reading {
    const char *at, *end, *file;
    char line_end; /* CR alone ends the lines of some old programs */
    unsigned line; /* of the line last taken, 1.. */
    char separator;
    struct columns columns;
    enum role role_of[OXL_IMPORT_CHANNELS];
    struct oxl_import_table *table;
    bool clock;
    double last_s, first_s, day_s; /* time as read; NAN before the first row */
    struct oxl_error *err;
    struct oxl_error closing; /* what is wrong with the first line of text below the rows */
};

/* header.c */
/* The next line without its end; false when there is none. */
bool oxl_reading_line(struct reading *r, const char **line, size_t *n);
enum oxl_status oxl_header_find(struct reading *r, const char *separator);

/* steps.c: fills about.row_us, step_us and resampled from the rows */
bool oxl_find_steps(struct oxl_import_table *t);

#endif

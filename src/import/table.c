#include "oxylag/import.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/record.h"
#include "parts.h"

enum { ROWS_MAX = 2000000 };

static bool is_blank(const char *line, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (line[i] != ' ' && line[i] != '\t')
            return false;
    return true;
}

/* ---- rows ------------------------------------------------------------------------------------ */
static enum oxl_status wrong_cell(struct reading *r, enum role role, struct cell c,
                                  const char *expected)
{
    return oxl_fail(r->err, OXL_ERR_FORMAT,
                    "%s line %u, column \"%s\": found \"%.*s\", expected %s", r->file, r->line,
                    r->columns.of[role].name, (int)(c.n < 40 ? c.n : 40), c.text, expected);
}

/* What a value may be; NULL when it may. A unit that was not given is the usual mistake. */
static const char *implausible(enum role role, const struct unit *u, double v)
{
    switch (role) {
    case ROLE_FRONT:
    case ROLE_REAR:
        if (u->lambda)
            return v > 0.3 && v < 32 ? NULL : "a lambda between 0.3 and 32";
        return v > -0.3 && v < 1.6 ? NULL
                                   : "a switching sensor's volts, -0.3 to 1.6 (in millivolts: add "
                                     ":mv to the name; a wide-range sensor: :lambda)";
    case ROLE_STFT:
    case ROLE_LTFT:
        return fabs(v) <= 100 ? NULL
                              : "a trim within -100 to 100 % (a fraction: add :frac, a factor "
                                "around 1: :factor)";
    case ROLE_AIR:
        return v >= 0 && v < 2000 ? NULL : "an air flow of 0 to 2000 g/s";
    case ROLE_RPM:
        return v >= 0 && v < 20000 ? NULL : "an engine speed of 0 to 20000";
    case ROLE_MAP:
        return v >= 0 && v < 1000 ? NULL : "a pressure of 0 to 1000 kPa (in mbar: add :mbar)";
    default:
        return v > -100 && v < 2000 ? NULL : "a temperature of -100 to 2000 C";
    }
}

static enum oxl_status read_value(struct reading *r, enum role role, struct cell c, double *out)
{
    struct column *column = &r->columns.of[role];
    struct cell unit;
    char wanted[128];
    double v;
    *out = NAN;
    switch (oxl_cell_amount(c, &v, &unit)) {
    case CELL_MISSING:
        return OXL_OK;
    case CELL_WRONG:
        return wrong_cell(r, role, c, "a number or an empty cell");
    case CELL_NUMBER:
        break;
    }
    const char *expected = oxl_column_unit(column, role, unit, wanted, sizeof wanted);
    if (expected)
        return wrong_cell(r, role, c, expected);
    v = (v + column->unit->before) * column->unit->scale;
    expected = implausible(role, column->unit, v);
    if (expected)
        return wrong_cell(r, role, c, expected);
    *out = v;
    return OXL_OK;
}

/* The cell's time in seconds, as it stands there. */
static enum oxl_status read_clock(struct reading *r, struct cell c, double *out)
{
    double wrap_s;
    if (oxl_cell_clock(c, out, &wrap_s) != CELL_NUMBER)
        return wrong_cell(r, ROLE_TIME, c,
                          "a clock time: hh:mm:ss.fff (AM or PM, Z or +hh:mm may follow), "
                          "hh:mm:ss:mmm or mm:ss.f");
    if (*out + r->day_s < r->last_s - wrap_s / 2) /* midnight, or the full hour */
        r->day_s += wrap_s;
    *out += r->day_s;
    return OXL_OK;
}

static enum oxl_status read_number(struct reading *r, struct cell c, double *out)
{
    struct column *column = &r->columns.of[ROLE_TIME];
    struct cell unit;
    char wanted[128];
    if (oxl_cell_amount(c, out, &unit) != CELL_NUMBER)
        return wrong_cell(r, ROLE_TIME, c, "a time, as a number");
    const char *expected = oxl_column_unit(column, ROLE_TIME, unit, wanted, sizeof wanted);
    if (expected)
        return wrong_cell(r, ROLE_TIME, c, expected);
    *out *= column->unit->scale;
    return OXL_OK;
}

/* Seconds from the first row. */
static enum oxl_status read_time(struct reading *r, struct cell c, double *out)
{
    const struct column *column = &r->columns.of[ROLE_TIME];
    double v = NAN;
    if (r->table->rows == 0) /* the first row decides for all */
        r->clock = column->unit->clock || (c.n && memchr(c.text, ':', c.n) && !column->unit_given);
    enum oxl_status st = r->clock ? read_clock(r, c, &v) : read_number(r, c, &v);
    if (st != OXL_OK)
        return st;
    if (!(fabs(v) < 1e11))
        return wrong_cell(r, ROLE_TIME, c, "a time (is the unit right? add :ms or :us)");
    if (v < r->last_s)
        return wrong_cell(r, ROLE_TIME, c, "a time not before that of the row above");
    if (isnan(r->first_s))
        r->first_s = v;
    if (v - r->first_s > (double)OXL_RECORD_T_MAX_US / 1e6) /* no recording could hold it */
        return wrong_cell(r, ROLE_TIME, c, "a time within 31 days of the first row");
    r->last_s = v;
    *out = v - r->first_s;
    return OXL_OK;
}

static bool make_room(struct oxl_import_table *t)
{
    if (t->rows < t->room)
        return true;
    size_t room = t->room ? 2 * t->room : 1024;
    int64_t *times = realloc(t->t_us, room * sizeof *times);
    if (!times)
        return false;
    t->t_us = times;
    double *values = realloc(t->values, room * t->about.channels_n * sizeof *values);
    if (!values)
        return false;
    t->values = values;
    t->room = room;
    return true;
}

static bool is_empty(const struct cell *cells, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (cells[i].n)
            return false;
    return true;
}

/* A row of units below the names: none of our cells is a number. */
static bool is_unit_row(const struct reading *r, const struct cell *cells, size_t count)
{
    double v, wrap_s;
    struct cell unit;
    if (r->table->rows > 0)
        return false;
    for (unsigned role = 0; role < ROLE_COUNT; role++) {
        const struct column *c = &r->columns.of[role];
        if (c->given && c->index < count &&
            (oxl_cell_amount(cells[c->index], &v, &unit) == CELL_NUMBER ||
             oxl_cell_clock(cells[c->index], &v, &wrap_s) == CELL_NUMBER))
            return false;
    }
    return true;
}

/* Words where a time should be, as below the last row of many exports. A first one that begins with
 * a digit is a time that is broken. */
static bool is_text(const struct reading *r, struct cell c)
{
    double v, wrap_s;
    return oxl_cell_number(c, &v) == CELL_WRONG && oxl_cell_clock(c, &v, &wrap_s) == CELL_WRONG &&
           (r->table->closing_lines || !oxl_is_digit(*c.text));
}

/* Left out when no row follows. */
static enum oxl_status take_closing_line(struct reading *r, struct cell time)
{
    struct oxl_error *err = r->err;
    if (r->table->closing_lines++ == 0) {
        r->err = &r->closing;
        (void)wrong_cell(r, ROLE_TIME, time, "a time");
        r->err = err;
    }
    return r->table->closing_lines <= CLOSING_LINES_MAX
               ? OXL_OK
               : oxl_fail(err, OXL_ERR_FORMAT, "%s", r->closing.text);
}

static enum oxl_status read_row(struct reading *r, const char *line, size_t n)
{
    struct oxl_import_table *t = r->table;
    struct cell cells[CELLS_MAX];
    size_t count;
    double s = 0;
    if (!oxl_cells_split(line, n, r->separator, cells, &count))
        return oxl_fail(r->err, OXL_ERR_FORMAT, "%s line %u: a quote is not closed", r->file,
                        r->line);
    if (is_empty(cells, count) || is_unit_row(r, cells, count))
        return OXL_OK;
    size_t at_time = r->columns.of[ROLE_TIME].index;
    struct cell none = {"", 0}, time = at_time < count ? cells[at_time] : none;
    if (t->rows > 0 && is_text(r, time))
        return take_closing_line(r, time);
    if (t->closing_lines)
        return oxl_fail(r->err, OXL_ERR_FORMAT, "%s", r->closing.text);
    enum oxl_status st = read_time(r, time, &s);
    if (st != OXL_OK)
        return st;
    if (t->rows == ROWS_MAX || !make_room(t))
        return oxl_fail(r->err, t->rows == ROWS_MAX ? OXL_ERR_FORMAT : OXL_ERR_NOMEM,
                        "%s line %u: more rows than can be taken", r->file, r->line);
    t->t_us[t->rows] = (int64_t)llround(s * 1e6);
    for (unsigned i = 0; i < t->about.channels_n && st == OXL_OK; i++) {
        size_t at = r->columns.of[r->role_of[i]].index;
        st = read_value(r, r->role_of[i], at < count ? cells[at] : none,
                        &t->values[t->rows * t->about.channels_n + i]);
    }
    t->rows++;
    return st;
}

/* ---- the whole ------------------------------------------------------------------------------- */
static struct oxl_channel channel_of(enum role role, const struct unit *u, unsigned bank)
{
    switch (role) {
    case ROLE_FRONT:
    case ROLE_REAR:
        return oxl_channel(u->lambda ? OXL_Q_LAMBDA : OXL_Q_O2_V, bank, role == ROLE_FRONT ? 1 : 2);
    case ROLE_STFT:
        return oxl_channel(OXL_Q_STFT_PCT, bank, 0);
    case ROLE_LTFT:
        return oxl_channel(OXL_Q_LTFT_PCT, bank, 0);
    case ROLE_CATALYST:
        return oxl_channel(OXL_Q_CAT_TEMP_C, bank, 1);
    default:
        return oxl_channel(role == ROLE_AIR      ? OXL_Q_AIR_G_S
                           : role == ROLE_RPM    ? OXL_Q_RPM
                           : role == ROLE_MAP    ? OXL_Q_MAP_KPA
                           : role == ROLE_INTAKE ? OXL_Q_INTAKE_C
                                                 : OXL_Q_COOLANT_C,
                           0, 0);
    }
}

static void name_channels(struct reading *r, unsigned bank)
{
    struct oxl_imported *a = &r->table->about;
    a->on = true;
    for (unsigned role = ROLE_FRONT; role < ROLE_COUNT; role++) {
        const struct column *c = &r->columns.of[role];
        if (!c->given)
            continue;
        r->role_of[a->channels_n] = (enum role)role;
        a->channels[a->channels_n++] = channel_of((enum role)role, c->unit, bank);
    }
}

/* Rows of less than 0.1 ms: an hour is 0.042 of a day. */
static bool spreadsheet_days(const struct reading *r)
{
    const struct oxl_import_table *t = r->table;
    return !r->clock && !r->columns.of[ROLE_TIME].unit_given && t->rows >= 20 &&
           t->t_us[t->rows - 1] < (int64_t)t->rows * 100;
}

/* What only the whole table shows: a unit that was not given, a column without values. */
static enum oxl_status check_whole(struct reading *r)
{
    const struct oxl_import_table *t = r->table;
    for (unsigned i = 0; i < t->about.channels_n; i++) {
        enum role role = r->role_of[i];
        const struct column *c = &r->columns.of[role];
        double most = 0;
        size_t known = 0;
        for (size_t row = 0; row < t->rows; row++) {
            double v = t->values[row * t->about.channels_n + i];
            known += oxl_known(v);
            most = oxl_known(v) ? fmax(most, fabs(v)) : most;
        }
        if (known < 2)
            return oxl_fail(r->err, OXL_ERR_FORMAT, "%s: column \"%s\" has fewer than two values",
                            r->file, c->name);
        if (role == ROLE_STFT && !c->unit_given && most < 1)
            return oxl_fail(r->err, OXL_ERR_FORMAT,
                            "%s: column \"%s\" stays within 1 %%: if these are fractions add "
                            ":frac, else :pct",
                            r->file, c->name);
    }
    if (t->about.row_us > 30000000 && !r->columns.of[ROLE_TIME].unit_given)
        return oxl_fail(r->err, OXL_ERR_FORMAT,
                        "%s: the rows would be %.0f s apart: give the unit of the time, "
                        "time=...:ms, :us or :s",
                        r->file, (double)t->about.row_us / 1e6);
    if (spreadsheet_days(r))
        return oxl_fail(r->err, OXL_ERR_FORMAT,
                        "%s: %zu rows within %.3f ms: for a spreadsheet's days and fractions of "
                        "a day add :day to the time's name, for seconds :s",
                        r->file, t->rows, (double)t->t_us[t->rows - 1] / 1e3);
    return OXL_OK;
}

static enum oxl_status read_all(struct reading *r, const struct oxl_import_spec *spec)
{
    const char *line;
    size_t n;
    enum oxl_status st = oxl_columns_parse(spec->columns, &r->columns, r->err);
    if (st == OXL_OK)
        st = oxl_header_find(r, spec->separator);
    if (st != OXL_OK)
        return st;
    name_channels(r, spec->bank);
    while (st == OXL_OK && oxl_reading_line(r, &line, &n))
        if (!is_blank(line, n))
            st = read_row(r, line, n);
    if (st == OXL_OK && r->table->rows < 3)
        st = oxl_fail(r->err, OXL_ERR_FORMAT, "%s: the table has %zu rows of values; no test fits",
                      r->file, r->table->rows);
    if (st == OXL_OK && !oxl_find_steps(r->table))
        st = oxl_fail(r->err, OXL_ERR_NOMEM, "no memory for %s", r->file);
    return st == OXL_OK ? check_whole(r) : st;
}

static enum oxl_status read_text(const char *text, size_t n, const struct oxl_import_spec *spec,
                                 const char *file, struct oxl_import_table *t,
                                 struct oxl_error *err)
{
    bool bom = n >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0;
    if (memchr(text, 0, n))
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s: is no text file (it has NUL bytes): save it as UTF-8 text", file);
    struct reading r = {.at = text + (bom ? 3 : 0),
                        .end = text + n,
                        .line_end = memchr(text, '\n', n) ? '\n' : '\r',
                        .file = file,
                        .table = t,
                        .last_s = NAN,
                        .first_s = NAN,
                        .err = err};
    return read_all(&r, spec);
}

enum oxl_status oxl_table_read(const char *text, size_t n, const struct oxl_import_spec *spec,
                               const char *file, struct oxl_import_table **out,
                               struct oxl_error *err)
{
    struct oxl_import_table *t = calloc(1, sizeof *t);
    char *utf8 = NULL;
    enum oxl_status st = t ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", file);
    if (st == OXL_OK && oxl_is_utf16(text, n))
        st = oxl_utf8_of_utf16(text, n, file, &utf8, &n, err);
    if (st == OXL_OK)
        st = read_text(utf8 ? utf8 : text, n, spec, file, t, err);
    free(utf8);
    if (st == OXL_OK)
        *out = t;
    else
        oxl_table_free(t);
    return st;
}

void oxl_table_free(struct oxl_import_table *t)
{
    if (!t)
        return;
    free(t->t_us);
    free(t->values);
    free(t);
}

/* Import: a table of samples that another program wrote, so that it can be measured and reported.
 *
 * Nothing of such a table was timed by this program. What is known of each value is the time that
 * its row bears and how far apart the rows are: the value was taken at some moment of that step,
 * and no figure may claim more.
 */
#ifndef OXYLAG_IMPORT_H
#define OXYLAG_IMPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/channel.h"
#include "oxylag/status.h"
#include "oxylag/vehicle.h"

enum { OXL_IMPORT_CHANNELS = 12 };

/* What a recording's header keeps of the table. `on` false: nothing was imported. */
struct oxl_imported {
    bool on;
    bool resampled;        /* the values were interpolated onto an even grid */
    char table[256];       /* file name, without its folder */
    char table_sha256[65]; /* "" unknown */
    unsigned channels_n;
    struct oxl_channel channels[OXL_IMPORT_CHANNELS]; /* in the order of a row's values */
    int64_t step_us[OXL_IMPORT_CHANNELS]; /* a value may be this much older than its row's time */
    int64_t row_us;                       /* usual step from row to row */
};

struct oxl_import_spec {
    const char *columns;   /* "time=..,front=..[:unit],..", docs/import.md */
    const char *separator; /* NULL: found; else "comma", "semicolon", "tab" or one character */
    unsigned bank;         /* 1 or 2 */
};

struct oxl_table; /* opaque */
/* Reads the whole text. *err names the line and the column of what is wrong. `file` is only for
 * messages. */
enum oxl_status oxl_table_read(const char *text, size_t n, const struct oxl_import_spec *spec,
                               const char *file, struct oxl_table **out,
                               struct oxl_error *err) OXL_MUST_CHECK;
void oxl_table_free(struct oxl_table *t); /* NULL is accepted */
size_t oxl_table_rows(const struct oxl_table *t);
/* Lines of text below the last row, which are left out. */
size_t oxl_table_closing_lines(const struct oxl_table *t);
/* Time of a row from the first one, and its values, one a channel, NAN where the cell is empty. */
const double *oxl_table_row(const struct oxl_table *t, size_t i, int64_t *t_us);
/* All but table and table_sha256. */
const struct oxl_imported *oxl_table_about(const struct oxl_table *t);

/* The vehicle as far as a table's channels tell: which items it must have had. */
void oxl_imported_vehicle(const struct oxl_imported *about, struct oxl_vehicle *out);

#endif

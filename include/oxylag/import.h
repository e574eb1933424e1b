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

struct oxl_import_table {
    struct oxl_imported about;        /* all but table and table_sha256 */
    size_t rows, room, closing_lines; /* lines of text below the last row, which are left out */
    int64_t *t_us;                    /* of each row, from the first one */
    double *values;                   /* rows x channels_n; NAN where the cell is empty */
};
/* Reads the whole text. *err names the line and the column of what is wrong. `file` is only for
 * messages. */
enum oxl_status oxl_table_read(const char *text, size_t n, const struct oxl_import_spec *spec,
                               const char *file, struct oxl_import_table **out,
                               struct oxl_error *err) OXL_MUST_CHECK;
void oxl_table_free(struct oxl_import_table *t); /* NULL is accepted */

/* The vehicle as far as a table's channels tell: which PIDs it must have had. */
void oxl_imported_vehicle(const struct oxl_imported *about, struct oxl_vehicle *out);

#endif

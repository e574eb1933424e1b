/* report --history: the page of a vehicle, from every test of it in a folder. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "recordings.h"
#include "report.h"
#include "settings.h"

/* Keeps the tests of the one vehicle that was meant. */
static enum oxl_status of_one_vehicle(const char *vin, const char *folder, struct oxl_catalogue *c,
                                      struct oxl_error *err)
{
    size_t n = 0;
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->rows[i].kind, "test") == 0 && !strchr(c->rows[i].vin, '*'))
            c->rows[n++] = c->rows[i];
    c->n = n;
    if (n == 0)
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s: no test of a VIN that holds \"%s\": oxylag recordings lists what "
                        "there is",
                        folder, vin);
    for (size_t i = 1; i < n; i++)
        if (strcmp(c->rows[i].vin, c->rows[0].vin) != 0)
            return oxl_fail(err, OXL_ERR_USAGE,
                            "--history: several vehicles have \"%s\" in their VIN, %s and %s: give "
                            "more of it",
                            vin, c->rows[0].vin, c->rows[i].vin);
    return OXL_OK;
}

/* Oldest first, the newest OXL_HISTORY_MAX of them. */
static enum oxl_status replay_all(const struct oxl_opts *o, const char *folder,
                                  const struct oxl_catalogue *c, struct oxl_test_record *records,
                                  size_t n, struct oxl_error *err)
{
    enum oxl_status st = OXL_OK;
    for (size_t i = 0; i < n && st == OXL_OK; i++) {
        char path[OXL_FOLDER_MAX + 300];
        snprintf(path, sizeof path, "%s/%s", folder, c->rows[n - 1 - i].file);
        st = oxl_report_record(o, path, &records[i], err);
    }
    return st;
}

static void add(const struct oxl_opts *o, const struct oxl_test_record *records, size_t n,
                struct oxl_buf *out)
{
    const struct oxl_test_record *list[OXL_HISTORY_MAX];
    for (size_t i = 0; i < n; i++)
        list[i] = &records[i];
    const struct oxl_vehicle_tests h = {list, n};
    const struct oxl_report_input input = {.record = &records[n - 1], .history = &h};
    oxl_report_page(o, &input, 1, out);
}

static enum oxl_status make(const struct oxl_opts *o, const char *folder, struct oxl_catalogue *c,
                            struct oxl_buf *out, struct oxl_error *err)
{
    enum oxl_status st = of_one_vehicle(o->history, folder, c, err);
    if (st != OXL_OK)
        return st;
    const size_t n = c->n < OXL_HISTORY_MAX ? c->n : OXL_HISTORY_MAX;
    struct oxl_test_record *records = calloc(n + 1, sizeof *records);
    if (!records)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %zu tests", n);
    st = replay_all(o, folder, c, records, n, err);
    if (st == OXL_OK)
        add(o, records, n, out);
    free(records);
    return st;
}

enum oxl_status oxl_report_history(const struct oxl_opts *o, struct oxl_buf *out,
                                   struct oxl_error *err)
{
    char own[OXL_FOLDER_MAX];
    struct oxl_catalogue c;
    struct oxl_opts which = {.vin = o->history, .quiet = o->quiet};
    if (o->files_n == 0 && !oxl_folder(OXL_FOLDER_DATA, own))
        return oxl_fail(err, OXL_ERR_USAGE, "HOME is not set: name the folder of the recordings");
    const char *folder = o->files_n ? o->files[0] : own;
    enum oxl_status st = oxl_recordings_load(&which, folder, &c, err);
    if (st == OXL_OK)
        st = make(o, folder, &c, out, err);
    oxl_catalogue_free(&c);
    return st;
}

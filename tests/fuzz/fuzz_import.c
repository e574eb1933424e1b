/* An imported table of any bytes. The first line is the --columns text, the second the separator
 * (empty: found), the rest the table. Whatever is accepted must keep what the header promises. */

#include "help_fuzz.h"
#include "oxylag/import.h"

static void check(const struct oxl_import_table *t)
{
    const struct oxl_imported *a = &t->about;
    int64_t last_us = 0;
    CHECK(a->on && a->channels_n >= 3 && a->channels_n <= OXL_IMPORT_CHANNELS);
    for (unsigned i = 0; i < a->channels_n; i++)
        CHECK(a->step_us[i] >= 0 && oxl_channel_slot(a->channels[i]) < OXL_CHANNEL_SLOTS);
    for (size_t i = 0; i < t->rows; i++) {
        const double *v = t->values + i * a->channels_n;
        CHECK(t->t_us[i] >= last_us);
        last_us = t->t_us[i];
        for (unsigned k = 0; k < a->channels_n; k++)
            CHECK(!isinf(v[k]));
    }
    struct oxl_vehicle v;
    oxl_imported_vehicle(a, &v);
    CHECK(v.survey_done);
}

/* A line as a string of its own, so that reading past its end is seen. */
static char *take_line(const char **at, const char *end)
{
    const char *nl = memchr(*at, '\n', (size_t)(end - *at));
    size_t n = (size_t)((nl ? nl : end) - *at);
    char *out = malloc(n + 1);
    CHECK(out != NULL);
    memcpy(out, *at, n);
    out[n] = '\0';
    *at = nl ? nl + 1 : end;
    return out;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *at = (const char *)data, *end = at + size;
    char *columns = take_line(&at, end), *separator = take_line(&at, end);
    struct oxl_import_spec spec = {
        .columns = columns, .separator = separator[0] ? separator : NULL, .bank = 1};
    size_t n = (size_t)(end - at);
    char *exact = malloc(n ? n : 1);
    CHECK(exact != NULL);
    memcpy(exact, at, n);
    struct oxl_import_table *t = NULL;
    struct oxl_error err = {0};
    if (oxl_table_read(exact, n, &spec, "f", &t, &err) == OXL_OK)
        check(t);
    else
        CHECK(err.text[0] != '\0' && !t);
    oxl_table_free(t);
    free(exact);
    free(columns);
    free(separator);
    return 0;
}

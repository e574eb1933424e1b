#define _XOPEN_SOURCE 700 /* mkdtemp */
#include "help_file.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "oxylag/record.h"

int make_folder(void **state)
{
    char *folder = strdup("/tmp/oxl-file-XXXXXX");
    if (!folder || !mkdtemp(folder))
        return -1;
    *state = folder;
    return 0;
}

int remove_folder(void **state)
{
    DIR *d = opendir(*state);
    if (!d)
        return -1;
    for (const struct dirent *e; (e = readdir(d));) {
        if (e->d_name[0] != '.' && unlink(in_folder(state, e->d_name)) != 0)
            rmdir(in_folder(state, e->d_name));
    }
    closedir(d);
    rmdir(*state);
    free(*state);
    return 0;
}

const char *in_folder(void **state, const char *name)
{
    static char paths[4][512];
    static unsigned turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", (const char *)*state, name);
    return path;
}

char *slurp(const char *path, size_t *n)
{
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    size_t cap = 1 << 20;
    char *text = malloc(cap + 1);
    assert_non_null(text);
    *n = fread(text, 1, cap, f);
    assert_true(*n < cap);
    text[*n] = '\0';
    fclose(f);
    return text;
}

void spill(const char *path, const void *data, size_t n)
{
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(data, 1, n, f), n);
    assert_int_equal(fclose(f), 0);
}

size_t header_line(char *out, size_t n)
{
    struct oxl_record_header h = {.version = OXL_RECORD_VERSION,
                                  .program = "test",
                                  .started = "2024-06-11T14:03:27+02:00",
                                  .port = "sim:good",
                                  .bank = 1};
    oxl_profile_defaults(&h.profile);
    size_t len = oxl_record_encode_header(&h, out, n);
    assert_true(len > 0);
    return len;
}

#include "accepted.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void print_difference(const char *want, const char *got)
{
    enum { SHOWN = 40 };
    for (unsigned shown = 0; (*want || *got) && shown < SHOWN;) {
        size_t w = strcspn(want, "\n"), g = strcspn(got, "\n");
        if (w != g || strncmp(want, got, w) != 0) {
            print_error("-%.*s\n+%.*s\n", (int)w, want, (int)g, got);
            shown++;
        }
        want += w + (want[w] == '\n');
        got += g + (got[g] == '\n');
    }
}

static void write_file(const char *path, const char *text)
{
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_true(fputs(text, f) >= 0);
    assert_int_equal(fclose(f), 0);
}

void accepted_compare(const char *path, const char *text)
{
    static char want[1 << 18];
    assert_in_range(strlen(text), 1, sizeof want - 1);
    if (getenv("OXL_ACCEPT"))
        write_file(path, text);
    FILE *f = fopen(path, "rb");
    if (!f)
        fail_msg("%s is missing: run with OXL_ACCEPT=1", path);
    size_t n = fread(want, 1, sizeof want - 1, f);
    want[n] = '\0';
    fclose(f);
    if (strcmp(want, text) == 0)
        return;
    print_error("%s differs; - is the file, + is now\n", path);
    print_difference(want, text);
    fail();
}

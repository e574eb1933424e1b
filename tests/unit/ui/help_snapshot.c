#include "help_snapshot.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_dump.h"

static char *read_file(const char *path)
{
    FILE *f = fopen(path, "rb");
    if (!f)
        return NULL;
    char *text = calloc(1, 1 << 20);
    size_t n = fread(text, 1, (1 << 20) - 1, f);
    text[n] = '\0';
    fclose(f);
    return text;
}

static void print_difference(const char *name, const char *want, const char *got)
{
    print_error("%s differs; - is the file, + is now\n", name);
    while (*want || *got) {
        size_t w = strcspn(want, "\n"), g = strcspn(got, "\n");
        if (w != g || strncmp(want, got, w) != 0)
            print_error("-%.*s\n+%.*s\n", (int)w, want, (int)g, got);
        want += w + (want[w] == '\n');
        got += g + (got[g] == '\n');
    }
}

void snapshot_compare(const struct oxl_canvas *c, const char *name)
{
    char path[512];
    size_t n = canvas_dump(c, NULL, 0) + 1;
    char *got = malloc(n);
    assert_int_equal(canvas_dump(c, got, n), n - 1);
    snprintf(path, sizeof path, "%s/%s-%dx%d.txt", OXL_TEST_SCREEN, name, oxl_canvas_cols(c),
             oxl_canvas_rows(c));
    if (getenv("OXL_ACCEPT")) {
        FILE *f = fopen(path, "wb");
        assert_non_null(f);
        fputs(got, f);
        fclose(f);
    }
    char *want = read_file(path);
    if (!want)
        fail_msg("%s is missing: run with OXL_ACCEPT=1", path);
    if (strcmp(want, got) != 0) {
        print_difference(path, want, got);
        fail();
    }
    free(want);
    free(got);
}

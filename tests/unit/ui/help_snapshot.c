#include "help_snapshot.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "accepted.h"
#include "help_dump.h"

void snapshot_compare(const struct oxl_canvas *c, const char *name)
{
    char path[512];
    size_t n = canvas_dump(c, NULL, 0) + 1;
    char *got = malloc(n);
    assert_int_equal(canvas_dump(c, got, n), n - 1);
    snprintf(path, sizeof path, "%s/%s-%dx%d.txt", OXL_TEST_SCREEN, name, oxl_canvas_cols(c),
             oxl_canvas_rows(c));
    accepted_compare(path, got);
    free(got);
}

/* Reference frames (tests/data/wire_vectors.csv, provenance there) as adapter text. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#include "help_wire.h"

enum { ROWS_MAX = 400, LINE_MAX_BYTES = 1024 };

struct row {
    char kind[16], bus[8], frames[512], payload[256];
};

static struct row rows[ROWS_MAX];
static size_t row_count;

static int load(void **state)
{
    (void)state;
    FILE *f = fopen(OXL_TEST_DATA "/wire_vectors.csv", "r");
    if (!f) {
        fprintf(stderr, "tests/data/wire_vectors.csv is missing\n");
        return -1;
    }
    char line[LINE_MAX_BYTES];
    while (fgets(line, sizeof line, f)) {
        struct row *r = &rows[row_count];
        if (line[0] == '#')
            continue;
        if (row_count >= ROWS_MAX || sscanf(line, "%15[^,],%7[^,],%511[^,],%255[0-9A-F]", r->kind,
                                            r->bus, r->frames, r->payload) != 4) {
            fclose(f);
            fprintf(stderr, "bad row: %s", line);
            return -1;
        }
        row_count++;
    }
    fclose(f);
    return 0;
}

/* Rewrites "id#bytes id#bytes" as lines; returns the identifier of the first. */
static void to_lines(const char *frames, bool spaces, char *out)
{
    for (const char *p = frames; *p;) {
        size_t id = strcspn(p, "#");
        size_t end = strcspn(p, " ");
        for (size_t i = 0; i < end; i++) {
            if (i == id) {
                if (spaces)
                    *out++ = ' ';
                continue;
            }
            *out++ = p[i];
            bool pair_ends = i > id ? (i - id) % 2 == 0 : id == 8 && i % 2 == 1 && i + 1 < id;
            if (spaces && pair_ends)
                *out++ = ' ';
        }
        *out++ = '\r';
        p += end;
        p += *p == ' ';
    }
    *out = '\0';
}

static void check_row(const struct row *r, enum oxl_protocol p, bool spaces)
{
    char text[LINE_MAX_BYTES];
    char want[LINE_MAX_BYTES] = "";
    to_lines(r->frames, spaces, text);
    if (strcmp(r->kind, "request") != 0)
        snprintf(want, sizeof want, "M %.*s %s\n", (int)strcspn(r->frames, "#"), r->frames,
                 r->payload);
    struct tap *t = tap_new(p);
    tap_feed(t, text, 1);
    assert_string_equal(t->log, want);
    assert_int_equal(oxl_wire_stats(t->wire)->broken_messages, 0);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 0);
    tap_free(t);
}

static void every_row_gives_its_payload(void **state)
{
    (void)state;
    size_t multi = 0;
    size_t wide = 0;
    for (size_t i = 0; i < row_count; i++) {
        bool can29 = strcmp(rows[i].bus, "can29") == 0;
        for (int spaces = 0; spaces <= 1; spaces++) {
            check_row(&rows[i], can29 ? OXL_PROTO_CAN29_500 : OXL_PROTO_CAN11_500, spaces);
            check_row(&rows[i], can29 ? OXL_PROTO_CAN29_250 : OXL_PROTO_CAN11_250, spaces);
        }
        multi += strchr(rows[i].frames, ' ') != NULL;
        wide += can29;
    }
    assert_true(row_count >= 330);
    assert_true(multi >= 25);
    assert_true(wide >= 30);
}

/* Without a known protocol the answers are still recognised by their shape. */
static void every_answer_is_known_by_its_shape(void **state)
{
    (void)state;
    for (size_t i = 0; i < row_count; i++)
        if (strcmp(rows[i].kind, "request") != 0 && !strstr(rows[i].frames, "7E0#") &&
            !strstr(rows[i].frames, "7E1#"))
            check_row(&rows[i], OXL_PROTO_UNKNOWN, i % 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_row_gives_its_payload),
        cmocka_unit_test(every_answer_is_known_by_its_shape),
    };
    return cmocka_run_group_tests(tests, load, NULL);
}

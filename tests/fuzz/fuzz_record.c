/* A recording of any bytes: every line is decoded; what is accepted must survive a round trip. */

#include "help_fuzz.h"
#include "oxylag/record.h"

/* The line again, from what was understood of it. */
static void round_trip(const struct oxl_line *line)
{
    size_t room = line->n * 6 + 64;
    char *text = malloc(room), *scratch = malloc(room);
    CHECK(text && scratch);
    struct oxl_line back;
    size_t n = oxl_record_encode(line, text, room);
    if (line->kind == OXL_LINE_EVENT && memchr(line->bytes, '\n', line->n))
        CHECK(n == 0); /* legal JSON, but not ours to write again */
    else if (n > 0 && n <= OXL_RECORD_LINE_MAX) {
        CHECK(oxl_record_decode(text, n - 1, scratch, &back, "f", 1, NULL) == OXL_OK);
        CHECK(back.kind == line->kind && back.t_us == line->t_us && back.n == line->n);
        if (line->kind == OXL_LINE_SAMPLES) {
            for (size_t i = 0; i < line->n; i++)
                CHECK(back.values[i] == line->values[i] || isnan(line->values[i]));
            free(text);
            free(scratch);
            return;
        }
        CHECK(line->n == 0 || memcmp(back.bytes, line->bytes, line->n) == 0);
        CHECK(back.key == line->key && back.link_up == line->link_up);
        CHECK(back.speed_baud == line->speed_baud);
    } else
        CHECK(n > OXL_RECORD_LINE_MAX);
    free(text);
    free(scratch);
}

static void one_line(const char *text, size_t n)
{
    char *exact = malloc(n ? n : 1), *scratch = malloc(n + 1);
    struct oxl_line line;
    struct oxl_error err = {0};
    CHECK(exact && scratch);
    memcpy(exact, text, n);
    enum oxl_status s = oxl_record_decode(exact, n, scratch, &line, "f", 1, &err);
    if (s == OXL_OK)
        round_trip(&line);
    else
        CHECK(err.text[0] != '\0');
    free(exact);
    free(scratch);
}

static void header(const char *text, size_t n)
{
    static char first[OXL_RECORD_LINE_MAX], second[OXL_RECORD_LINE_MAX];
    struct oxl_record_header a, b;
    struct oxl_error err = {0};
    if (oxl_record_decode_header(text, n, &a, "f", &err) != OXL_OK) {
        CHECK(err.text[0] != '\0');
        return;
    }
    size_t len = oxl_record_encode_header(&a, first, sizeof first);
    if (len == 0)
        return;
    CHECK(oxl_record_decode_header(first, len - 1, &b, "f", &err) == OXL_OK);
    CHECK(oxl_record_encode_header(&b, second, sizeof second) == len);
    CHECK(memcmp(first, second, len) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *text = (const char *)data;
    for (size_t at = 0, first = 1; at < size; first = 0) {
        const char *end = memchr(text + at, '\n', size - at);
        size_t n = end ? (size_t)(end - text) - at : size - at;
        if (first)
            header(text + at, n);
        one_line(text + at, n);
        at += n + 1;
    }
    return 0;
}

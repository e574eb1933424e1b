/* Loading a recording: what is accepted, what is refused, and how it is told. */
#define _XOPEN_SOURCE 700 /* popen */
#include "oxylag/link.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "help_file.h"
#include "oxylag/record.h"

static const char tick[] = "{\"t\":1,\"tick\":true}\n";

/* A header and what follows it. */
static size_t compose(char *out, size_t n, const void *rest, size_t rest_n)
{
    size_t len = header_line(out, n);
    assert_true(len + rest_n < n);
    memcpy(out + len, rest, rest_n);
    return len + rest_n;
}

static void sha256sum(const char *path, char out[65])
{
    char command[600];
    snprintf(command, sizeof command, "sha256sum '%s'", path);
    FILE *p = popen(command, "r");
    assert_non_null(p);
    assert_int_equal(fread(out, 1, 64, p), 64);
    pclose(p);
    out[64] = '\0';
}

static void whole_file(void **state)
{
    char text[OXL_RECORD_LINE_MAX + 256], sum[65];
    const char *path = in_folder(state, "a.jsonl");
    struct oxl_recording rec;
    struct oxl_error err = {0};
    size_t n = compose(text, sizeof text, tick, strlen(tick));
    spill(path, text, n);
    if (oxl_recording_load(path, &rec, &err) != OXL_OK)
        fail_msg("%s", err.text);
    assert_false(rec.torn);
    assert_int_equal(rec.size, n);
    assert_memory_equal(rec.text, text, n);
    assert_int_equal(rec.text[n], '\0');
    sha256sum(path, sum);
    assert_string_equal(rec.sha256, sum);
    oxl_recording_free(&rec);
    assert_null(rec.text);
}

static void torn_line_is_left_out(void **state)
{
    static const struct {
        const char *rest;
        size_t n;
    } cases[] = {
        {"{\"t\":2,\"rx\":\"7E", 15},
        {"{", 1},
        {"\0\0\0\0\0\0\0\0", 8}, /* a file system may leave zeros after a power cut */
        {"{\"t\":2,\"rx\":\"7E\0\0\0\0", 19},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[OXL_RECORD_LINE_MAX + 256], sum[65];
        const char *path = in_folder(state, "torn.jsonl");
        struct oxl_recording rec;
        size_t whole = compose(text, sizeof text, tick, strlen(tick));
        memcpy(text + whole, cases[i].rest, cases[i].n);
        spill(path, text, whole + cases[i].n);
        assert_int_equal(oxl_recording_load(path, &rec, NULL), OXL_OK);
        assert_true(rec.torn);
        assert_int_equal(rec.size, whole);
        assert_int_equal(rec.text[whole], '\0');
        assert_int_equal(rec.text[whole - 1], '\n');
        sha256sum(path, sum); /* of the file as it is */
        assert_string_equal(rec.sha256, sum);
        oxl_recording_free(&rec);
    }
}

static void refusal(const char *path, const char *says)
{
    struct oxl_recording rec;
    struct oxl_error err = {0};
    assert_int_equal(oxl_recording_load(path, &rec, &err), OXL_ERR_FORMAT);
    assert_null(rec.text);
    if (!strstr(err.text, says) || !strstr(err.text, path))
        fail_msg("%s gave: %s", path, err.text);
}

static void what_is_no_recording(void **state)
{
    refusal(in_folder(state, "none.jsonl"), "No such file or directory");
    refusal(*state, "it is a folder");
    refusal("/dev/null", "it is a device or a socket");
    refusal("/dev/zero", "it is a device or a socket"); /* endless */
    assert_int_equal(mkfifo(in_folder(state, "pipe"), 0600), 0);
    refusal(in_folder(state, "pipe"), "it is a pipe"); /* and does not wait for a writer */

    const char *path = in_folder(state, "x");
    spill(path, "", 0);
    refusal(path, "it is empty");
    spill(path, "t_s,front,rear\n0,1,2\n", 21);
    refusal(path, "its first line is not one JSON object");
    spill(path, "{\"a\":1}\n", 8);
    refusal(path, "lacks \"format\":\"oxylag-recording\"");
    spill(path, "{\"format\":\"oxylag-recording\",", 29);
    refusal(path, "its first line has no end");
    spill(path, tick, strlen(tick));
    refusal(path, "lacks \"format\"");
    spill(path, "{\"format\":\"oxylag-recording\",\"version\":9}\n", 42);
    refusal(path, "version 9");
    spill(path, "\0\0\0\0\n", 5);
    refusal(path, "is not a recording");
}

/* A sparse file: refused by its size, before anything is read. */
static void too_large(void **state)
{
    const char *path = in_folder(state, "large");
    spill(path, "", 0);
    if (truncate(path, ((off_t)1 << 30) + 1) != 0)
        skip();
    refusal(path, "larger than 1 GiB");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(whole_file, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(torn_line_is_left_out, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(what_is_no_recording, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(too_large, make_folder, remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

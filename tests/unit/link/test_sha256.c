/* SHA-256 against the examples that NIST publishes with FIPS 180-4, and against sha256sum. */
#define _XOPEN_SOURCE 700 /* popen */
#include "link/input_file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static void published_examples(void **state)
{
    (void)state;
    static const struct {
        const char *text, *hex;
    } cases[] = {
        /* One block, FIPS 180 example B.1. */
        {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
        /* 448 bits in two blocks, example B.2. */
        {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
         "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
        /* The empty message (NIST secure hash validation vectors, length 0). */
        {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    };
    char out[65];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        oxl_sha256(cases[i].text, strlen(cases[i].text), out);
        assert_string_equal(out, cases[i].hex);
    }
}

/* A million times "a", example B.3. */
static void a_million(void **state)
{
    (void)state;
    enum { N = 1000000 };
    char out[65], *text = malloc(N);
    assert_non_null(text);
    memset(text, 'a', N);
    oxl_sha256(text, N, out);
    free(text);
    assert_string_equal(out, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

static void sha256sum(const char *path, char out[65])
{
    char command[256];
    snprintf(command, sizeof command, "sha256sum %s", path);
    FILE *p = popen(command, "r");
    assert_non_null(p);
    size_t n = fread(out, 1, 64, p);
    pclose(p);
    if (n != 64)
        fail_msg("sha256sum gave %zu characters", n);
    out[64] = '\0';
}

/* Every length around the block and padding boundaries. */
static void lengths_against_sha256sum(void **state)
{
    (void)state;
    static const size_t lengths[] = {1, 54, 55, 56, 57, 63, 64, 65, 111, 119, 120, 127, 128, 4097};
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
        char path[] = "/tmp/oxl-sha-XXXXXX", data[4097], ours[65], theirs[65];
        for (size_t k = 0; k < lengths[i]; k++)
            data[k] = (char)(k * 31 + lengths[i]);
        int fd = mkstemp(path);
        assert_true(fd >= 0);
        assert_int_equal(write(fd, data, lengths[i]), lengths[i]);
        close(fd);
        oxl_sha256(data, lengths[i], ours);
        sha256sum(path, theirs);
        unlink(path);
        assert_string_equal(ours, theirs);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_examples),
        cmocka_unit_test(a_million),
        cmocka_unit_test(lengths_against_sha256sum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* A PDF that lacks an object, or its end, is told from a whole one. */
#include "set/pdf_whole.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const char whole[] = "%PDF-1.5\n"
                            "1 0 obj\n<<>>\nendobj\n"
                            "2 0 obj\n<<>>\nendobj\n"
                            "xref\n0 3\n"
                            "0000000000 65535 f \n"
                            "0000000009 00000 n \n"
                            "0000000029 00000 n \n"
                            "trailer\n<< /Size 3 >>\n"
                            "startxref\n49\n%%EOF\n";

/* In a block of its own size, so that reading past its end is seen. */
static bool is_whole(const char *text, size_t n)
{
    char *exact = malloc(n ? n : 1);
    assert_non_null(exact);
    memcpy(exact, text, n);
    bool whole_one = oxl_pdf_is_whole(exact, n);
    free(exact);
    return whole_one;
}

static void a_whole_one_is(void **state)
{
    (void)state;
    assert_true(is_whole(whole, sizeof whole - 1));
}

static void a_cut_one_is_not(void **state)
{
    (void)state;
    for (size_t n = 0; n + 1 < sizeof whole; n++)
        assert_false(is_whole(whole, n));
}

static void one_without_an_object_is_not(void **state)
{
    (void)state;
    static const char *const changes[][2] = {{"2 0 obj", "3 0 obj"},
                                             {"1 0 obj", "x 0 obj"},
                                             {"0000000029", "0000000000"},
                                             {"0000000029", "9999999999"},
                                             {"0 3\n", "0 4\n"},
                                             {"0 3\n", "0 0\n"},
                                             {"startxref\n49", "startxref\n48"},
                                             {"startxref\n49", "startxref\n99"},
                                             {"trailer", "trialer"}};
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        char text[sizeof whole];
        memcpy(text, whole, sizeof whole);
        char *at = strstr(text, changes[i][0]);
        assert_non_null(at);
        memcpy(at, changes[i][1], strlen(changes[i][1]));
        assert_false(is_whole(text, sizeof whole - 1));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_one_is),
        cmocka_unit_test(a_cut_one_is_not),
        cmocka_unit_test(one_without_an_object_is_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

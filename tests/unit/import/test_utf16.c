/* Tables in UTF-16. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <uchar.h>

#include <cmocka.h>

#include "oxylag/import.h"

/* As a spreadsheet saves "Unicode text": each way round, with a character of two units, and with
 * half of one, which is shown as what cannot be shown (U+FFFD). */
static void utf_16_either_way(void **state)
{
    (void)state;
    static const char16_t text[] =
        u"\uFEFFtime,front,rear,stft,\U0001F527,\u00B5\u20AC\xD83D,\xDC00\n0,0.1,0.7,1,,,\n"
        u"1,0.2,0.7,2,,,\n2,0.1,0.6,1,,,\n";
    const size_t units = sizeof text / sizeof text[0] - 1;
    struct oxl_import_spec spec = {.columns = "time=time,front=front,rear=rear,stft=stft",
                                   .bank = 1};
    for (int big = 0; big < 2; big++) {
        char bytes[2 * sizeof text];
        struct oxl_error err = {0};
        struct oxl_import_table *t = NULL;
        for (size_t i = 0; i < units; i++) {
            bytes[2 * i + (big ? 1 : 0)] = (char)(text[i] & 0xFF);
            bytes[2 * i + (big ? 0 : 1)] = (char)(text[i] >> 8);
        }
        if (oxl_table_read(bytes, 2 * units, &spec, "t", &t, &err) != OXL_OK)
            fail_msg("%s", err.text);
        assert_int_equal(t->rows, 3);
        assert_true(t->values[t->about.channels_n] == 0.2); /* the front's second value */
        oxl_table_free(t);
    }
}

static void half_a_character_is_refused(void **state)
{
    (void)state;
    struct oxl_import_spec spec = {.columns = "time=t,front=f,rear=r,stft=s", .bank = 1};
    struct oxl_error err = {0};
    struct oxl_import_table *t = NULL;
    assert_int_equal(oxl_table_read("\xFF\xFEt", 3, &spec, "t", &t, &err), OXL_ERR_FORMAT);
    assert_null(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(utf_16_either_way),
        cmocka_unit_test(half_a_character_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

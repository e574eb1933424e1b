/* The vehicle that a table stands for: its channels and the items that they come from. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/import.h"

static void vehicle_has_the_items(void **state)
{
    (void)state;
    struct oxl_import_spec spec = {"time=t,front=f:lambda,rear=r,stft=s,air=a", NULL, 2};
    static const char text[] = "t,f,r,s,a\n0,1,0.7,2,3\n1,1,0.7,2,3\n2,1,0.7,2,3\n";
    struct oxl_error err = {0};
    struct oxl_import_table *t = NULL;
    assert_int_equal(oxl_table_read(text, strlen(text), &spec, "t", &t, &err), OXL_OK);
    struct oxl_vehicle v;
    oxl_imported_vehicle(&t->about, &v);
    /* SAE J1979 item numbers: 28 is bank 2 sensor 1 wide-range, 19 bank 2 sensor 2, 08 its trim. */
    static const uint8_t has[] = {0x28, 0x19, 0x08, 0x10}, lacks[] = {0x24, 0x14, 0x06, 0x09, 0x0B};
    for (size_t i = 0; i < sizeof has; i++)
        assert_true(v.support.bits[has[i] / 8] >> has[i] % 8 & 1);
    for (size_t i = 0; i < sizeof lacks; i++)
        assert_false(v.support.bits[lacks[i] / 8] >> lacks[i] % 8 & 1);
    oxl_table_free(t);
}

/* Every column that there can be, for either bank: its channel, and the item that a vehicle has for
 * it (SAE J1979). The engine's own values belong to no bank. */
static void every_column_has_its_item(void **state)
{
    (void)state;
    static const char text[] = "t,f,r,s,l,a,n,m,i,c,k\n"
                               "0,0.4,0.7,2,1,3,700,35,30,90,400\n"
                               "1,0.5,0.7,2,1,3,700,35,30,90,400\n"
                               "2,0.4,0.6,2,1,3,700,35,30,90,400\n";
    static const char columns[] = "time=t,front=f,rear=r,stft=s,ltft=l,air=a,rpm=n,map=m,intake=i,"
                                  "coolant=c,catalyst=k";
    static const uint8_t has[2][10] = {
        {0x14, 0x15, 0x06, 0x07, 0x10, 0x0C, 0x0B, 0x0F, 0x05, 0x3C},
        {0x18, 0x19, 0x08, 0x09, 0x10, 0x0C, 0x0B, 0x0F, 0x05, 0x3D}};
    for (unsigned bank = 1; bank <= 2; bank++) {
        struct oxl_import_spec spec = {columns, NULL, bank};
        struct oxl_error err = {0};
        struct oxl_import_table *t = NULL;
        struct oxl_vehicle v;
        unsigned n = 0;
        if (oxl_table_read(text, strlen(text), &spec, "t", &t, &err) != OXL_OK)
            fail_msg("%s", err.text);
        oxl_imported_vehicle(&t->about, &v);
        for (size_t i = 0; i < 10; i++)
            assert_true(v.support.bits[has[bank - 1][i] / 8] >> has[bank - 1][i] % 8 & 1);
        for (unsigned item = 0; item < 256; item++)
            n += v.support.bits[item / 8] >> item % 8 & 1;
        assert_int_equal(n, 10);
        oxl_table_free(t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vehicle_has_the_items),
        cmocka_unit_test(every_column_has_its_item),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* What may be shown, and the words and codes of errors. The character classes are those of ECMA-48
 * (C0, C1), RFC 3629 (UTF-8) and Unicode UAX 9 (bidirectional controls). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "oxylag/safe.h"
#include "oxylag/status.h"

static size_t length_of(const char *s)
{
    return oxl_safe_length(s, strlen(s));
}

static void text_is_safe(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        size_t n;
    } good[] = {{"a", 1},
                {" ", 1},
                {"~", 1},
                {"\xC2\xA0", 2},
                {"\xC3\xA9", 2},
                {"\xDF\xBF", 2},
                {"\xE2\x82\xAC", 3},
                {"\xE0\xA0\x80", 3},
                {"\xED\x9F\xBF", 3},
                {"\xF0\x90\x80\x80", 4},
                {"\xF4\x8F\xBF\xBD", 4},
                {"\xE4\xB8\xAD", 3}};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        assert_int_equal(length_of(good[i].s), good[i].n);
}

static void controls_are_not(void **state)
{
    (void)state;
    for (char c = 1; c < 0x20; c++)
        assert_int_equal(oxl_safe_length(&c, 1), 0);
    assert_int_equal(length_of("\x7F"), 0);
    for (int c = 0x80; c <= 0x9F; c++) {
        const char c1[] = {(char)0xC2, (char)c, 0};
        assert_int_equal(length_of(c1), 0);
    }
    static const char *const turning[] = {
        "\xC2\xAD",     "\xD8\x9C",     "\xE1\xA0\x8E", "\xE2\x80\x8B", "\xE2\x80\x8E",
        "\xE2\x80\x8F", "\xE2\x80\xA8", "\xE2\x80\xA9", "\xE2\x80\xAA", "\xE2\x80\xAE",
        "\xE2\x81\xA6", "\xE2\x81\xA9", "\xEF\xBB\xBF", "\xEF\xBF\xBA", "\xF3\xA0\x81\xA1"};
    for (size_t i = 0; i < sizeof turning / sizeof turning[0]; i++)
        assert_int_equal(length_of(turning[i]), 0);
}

/* UTF-8 of one character, by RFC 3629 section 3. */
static const char *encoded(uint32_t ch, char out[5])
{
    static const unsigned char lead[] = {0, 0, 0xC0, 0xE0, 0xF0};
    size_t n = ch < 0x80 ? 1 : ch < 0x800 ? 2 : ch < 0x10000 ? 3 : 4;
    out[n] = '\0';
    for (size_t i = n; i-- > 1; ch >>= 6)
        out[i] = (char)(0x80 | (ch & 0x3F));
    out[0] = (char)(lead[n] | ch);
    return out;
}

/* First and last of each range of Unicode's Default_Ignorable_Code_Point
 * (DerivedCoreProperties.txt), and the noncharacters; what stands beside them is shown. */
static void what_is_not_seen_is_not(void **state)
{
    (void)state;
    static const uint32_t hidden[][2] = {
        {0xAD, 0xAD},       {0x34F, 0x34F},     {0x61C, 0x61C},      {0x115F, 0x1160},
        {0x17B4, 0x17B5},   {0x180B, 0x180F},   {0x200B, 0x200F},    {0x202A, 0x202E},
        {0x2060, 0x206F},   {0x3164, 0x3164},   {0xFE00, 0xFE0F},    {0xFEFF, 0xFEFF},
        {0xFFA0, 0xFFA0},   {0xFFF0, 0xFFF8},   {0x1BCA0, 0x1BCA3},  {0x1D173, 0x1D17A},
        {0xE0000, 0xE007F}, {0xE0100, 0xE01EF}, {0xE0FFF, 0xE0FFF},  {0xFDD0, 0xFDEF},
        {0xFFFE, 0xFFFF},   {0x1FFFE, 0x1FFFF}, {0x10FFFE, 0x10FFFF}};
    char text[5];
    for (size_t i = 0; i < sizeof hidden / sizeof hidden[0]; i++)
        for (uint32_t ch = hidden[i][0]; ch <= hidden[i][1]; ch++)
            if (length_of(encoded(ch, text)) != 0)
                fail_msg("U+%04X is shown", (unsigned)ch);
    static const uint32_t seen[] = {0xAC,   0xAE,   0x34E,  0x350,  0x115E, 0x1161,  0x2010, 0x2027,
                                    0x202F, 0x2070, 0xFDF0, 0xFE10, 0xFFFD, 0x1F527, 0xE1000};
    for (size_t i = 0; i < sizeof seen / sizeof seen[0]; i++) {
        size_t n = strlen(encoded(seen[i], text));
        assert_int_equal(length_of(text), n);
        assert_int_equal(oxl_code_point(text, n), seen[i]);
    }
}

static void broken_utf8_is_not(void **state)
{
    (void)state;
    static const char *const broken[] = {"\x80",
                                         "\xBF",
                                         "\xC0\x80",
                                         "\xC1\xBF",
                                         "\xC2",
                                         "\xC2x",
                                         "\xE2\x82",
                                         "\xE2x\x80",
                                         "\xE2\x82x",
                                         "\xE0\x9F\xBF",
                                         "\xED\xA0\x80",
                                         "\xF0\x8F\xBF\xBF",
                                         "\xF4\x90\x80\x80",
                                         "\xF5\x80\x80\x80",
                                         "\xFF",
                                         "\xF0\x90\x80"};
    for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++)
        assert_int_equal(length_of(broken[i]), 0);
    assert_int_equal(oxl_safe_length("a", 0), 0);
    assert_int_equal(oxl_safe_length("\xC3\xA9", 1), 0);
}

static void unsafe_bytes_become_marks(void **state)
{
    (void)state;
    char text[] = "a\x1b[2J\xC2\x9B"
                  "31m\xE2\x80\xAE\xC3\xA9\n\xFFz";
    oxl_make_safe(text, "\n");
    assert_string_equal(text, "a?[2J??31m???\xC3\xA9\n?z");
    oxl_make_safe(text, "");
    assert_string_equal(text, "a?[2J??31m???\xC3\xA9??z");
    char cut[] = "x\xF0\x9F"; /* a character that the end of the text cuts off */
    oxl_make_safe(cut, "");
    assert_string_equal(cut, "x??");
}

static void an_error_is_one_safe_line(void **state)
{
    (void)state;
    struct oxl_error err = {OXL_OK, ""};
    assert_int_equal(oxl_fail(&err, OXL_ERR_IO, "%s: no", "a\nb\x1b\xC2\x85"), OXL_ERR_IO);
    assert_string_equal(err.text, "a?b???: no");
    assert_int_equal(err.status, OXL_ERR_IO);
    char longer[2000];
    memset(longer, 'x', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    oxl_fail(&err, OXL_ERR_USAGE, "%s", longer);
    assert_int_equal(strlen(err.text), sizeof err.text - 1);
    assert_int_equal(oxl_fail(NULL, OXL_ERR_NOMEM, "x"), OXL_ERR_NOMEM);
}

/* The table of docs/commands.md. */
static void every_status_has_its_exit_code(void **state)
{
    (void)state;
    static const struct {
        enum oxl_status status;
        int code;
    } table[] = {{OXL_OK, 0},
                 {OXL_ERR_USAGE, 2},
                 {OXL_ERR_IO, 2},
                 {OXL_ERR_FORMAT, 3},
                 {OXL_ERR_PORT_MISSING, 4},
                 {OXL_ERR_PORT_PERMISSION, 4},
                 {OXL_ERR_PORT_OPEN, 4},
                 {OXL_ERR_NO_ADAPTER, 5},
                 {OXL_ERR_NO_VEHICLE, 5},
                 {OXL_ERR_LINK_LOST, 6},
                 {OXL_ERR_STOPPED, 6},
                 {OXL_ERR_UNSUITABLE, 7},
                 {OXL_ERR_NOMEM, 70},
                 {OXL_ERR_INTERNAL, 70}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        assert_int_equal((int)oxl_exit_code(table[i].status), table[i].code);
    assert_int_equal((int)oxl_exit_code((enum oxl_status)99), 70);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_is_safe),
        cmocka_unit_test(controls_are_not),
        cmocka_unit_test(what_is_not_seen_is_not),
        cmocka_unit_test(broken_utf8_is_not),
        cmocka_unit_test(unsafe_bytes_become_marks),
        cmocka_unit_test(an_error_is_one_safe_line),
        cmocka_unit_test(every_status_has_its_exit_code),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

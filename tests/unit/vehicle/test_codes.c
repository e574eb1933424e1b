/* Every trouble code that the table knows, as a list to be read beside SAE J2012 and compared:
 * tests/data/codes.txt. Codes in a row that say the same share a line. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "accepted.h"
#include "oxylag/onboard.h"
#include "oxylag/reason.h"
#include "vehicle/dtc_table.h"

static void describe(unsigned code, char *out, size_t size)
{
    char words[96];
    oxl_dtc_words((uint16_t)code, words, sizeof words);
    snprintf(out, size, "%-20s bank %u sensor %u %s  %s", oxl_dtc_family((uint16_t)code)->id,
             oxl_dtc_bank((uint16_t)code), oxl_dtc_sensor((uint16_t)code),
             oxl_dtc_listed((uint16_t)code) == OXL_FAMILY_COUNT ? "not listed" : "listed", words);
}

/* What a family does to a test, and the reason that it gives a run. */
static size_t families(char *out, size_t size)
{
    static const char *const weights[] = {"neutral", "subject", "disturbs", "forbids", "unknown"};
    const struct oxl_dtc_family *last = NULL;
    size_t at = 0;
    unsigned seen = 0;
    for (unsigned code = 0; code <= 0x4000; code++) {
        const struct oxl_dtc_family *f = oxl_dtc_family((uint16_t)code);
        enum oxl_family k = oxl_dtc_listed((uint16_t)code);
        if (f == last || k == OXL_FAMILY_COUNT || seen >> k & 1)
            continue;
        seen |= 1U << k;
        last = f;
        at += (size_t)snprintf(out + at, size - at, "%s: %s, %s, %s%s\n    %s %s\n", f->id,
                               f->title, weights[f->weight],
                               f->reason == OXL_R_COUNT ? "no reason" : oxl_reason_code(f->reason),
                               f->whole_engine ? ", whole engine" : "", f->effect, f->next);
    }
    return at;
}

static void every_code_is_as_it_was_read(void **state)
{
    (void)state;
    static char text[1 << 18];
    char line[160], last[160] = "";
    size_t at = 0;
    unsigned from = 0, codes = 0;
    for (unsigned code = 0; code <= 0x4000; code++) { /* the P codes and one more */
        codes += oxl_dtc_listed((uint16_t)code) != OXL_FAMILY_COUNT;
        describe(code, line, sizeof line);
        if (code > 0 && strcmp(line, last) != 0) {
            at += (size_t)snprintf(text + at, sizeof text - at, "P%04X-%04X %s\n", from, code - 1,
                                   last);
            from = code;
        }
        snprintf(last, sizeof last, "%s", line);
    }
    assert_in_range(at, 1, sizeof text - 1);
    at += (size_t)snprintf(text + at, sizeof text - at, "%u codes are listed\n", codes);
    at += families(text + at, sizeof text - at);
    assert_in_range(at, 1, sizeof text - 1);
    accepted_compare(OXL_TEST_DATA "/codes.txt", text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_code_is_as_it_was_read)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

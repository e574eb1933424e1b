/* Any text as a profile: it is refused with a sentence, or it is taken and written out again
 * without a change. */

#include "help_fuzz.h"
#include "oxylag/profile.h"

static void round_trip(const struct oxl_profile *p)
{
    static char text[16384];
    struct oxl_profile again;
    struct oxl_error err;
    size_t n = oxl_profile_format(p, text, sizeof text);
    CHECK(n < sizeof text && strlen(text) == n);
    CHECK(oxl_profile_parse(text, "again", &again, &err) == OXL_OK);
    static char twice[sizeof text];
    CHECK(oxl_profile_format(&again, twice, sizeof twice) == n && strcmp(text, twice) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct oxl_profile p;
    struct oxl_error err = {.status = OXL_OK};
    char *text = text_of(data, size);
    if (oxl_profile_parse(text, "fuzz.ini", &p, &err) == OXL_OK)
        round_trip(&p);
    else
        CHECK(err.status == OXL_ERR_FORMAT && strncmp(err.text, "fuzz.ini:", 9) == 0);
    free(text);
    return 0;
}

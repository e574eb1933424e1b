#include "words.h"

#include <stdio.h>
#include <string.h>

#include "record/vehicle_text.h"

static void show(double v, int decimals, char out[OXL_SHOWN])
{
    if (!isfinite(v)) {
        memcpy(out, "--", 3);
        return;
    }
    snprintf(out, OXL_SHOWN, "%.*f", decimals, v);
    if (strspn(out, "-0.") == strlen(out) && out[0] == '-') /* no minus zero */
        memmove(out, out + 1, strlen(out));
}

void oxl_show_number(double v, char out[OXL_SHOWN])
{
    show(v, fabs(v) < 9.995 ? 2 : 1, out);
}

void oxl_show_whole(double v, char out[OXL_SHOWN])
{
    show(v, 0, out);
}

void oxl_show_span(const struct oxl_span *s, bool whole, char out[OXL_SHOWN])
{
    void (*text)(double, char[OXL_SHOWN]) = whole ? oxl_show_whole : oxl_show_number;
    char value[OXL_SHOWN], low[OXL_SHOWN], high[OXL_SHOWN];
    text(s->value, value);
    text(s->low, low);
    text(s->high, high);
    if (isfinite(s->value) && isfinite(s->low) && isfinite(s->high))
        snprintf(out, OXL_SHOWN, "%.14s (%.13s..%.13s)", value, low, high);
    else if (isfinite(s->value) && !isfinite(s->low))
        memcpy(out, value, strlen(value) + 1);
    else if (isfinite(s->low))
        snprintf(out, OXL_SHOWN, ">= %.40s", low);
    else
        memcpy(out, "--", 3);
}

const char *oxl_verdict_headline(const struct oxl_test_record *s)
{
    static const char *const words[] = {
        [OXL_VERDICT_INCONCLUSIVE] = "Oxygen storage: NOT DECIDED (verdict \"inconclusive\")",
        [OXL_VERDICT_BAD] = "Oxygen storage: LOW (verdict \"bad\")",
        [OXL_VERDICT_QUESTIONABLE] =
            "Oxygen storage: BETWEEN THE LIMITS (verdict \"questionable\")",
        [OXL_VERDICT_GOOD] = "Oxygen storage: GOOD (verdict \"good\")",
    };
    return s->has_result ? words[s->result.verdict] : "No verdict: the test was not finished";
}

const char *oxl_verdict_sentence(const struct oxl_test_record *s)
{
    static const char *const words[] = {
        [OXL_VERDICT_INCONCLUSIVE] =
            "The test gave no answer about the converter; nothing follows from it either way. The "
            "reasons are below.",
        [OXL_VERDICT_BAD] =
            "In this test the converter stored little oxygen, less than the lower shop limit. "
            "That speaks for a worn converter once the points under \"What to check next\" have "
            "been ruled out.",
        [OXL_VERDICT_QUESTIONABLE] =
            "In this test the converter stored less oxygen than the upper shop limit and more "
            "than the lower one. The test alone does not decide.",
        [OXL_VERDICT_GOOD] =
            "In this test the converter stored plenty of oxygen, more than the upper shop limit. "
            "This says nothing about a blocked, rattling or leaking converter.",
    };
    return s->has_result ? words[s->result.verdict]
                         : "Nothing follows about the converter from a test that was not finished.";
}

const char *oxl_deeper_words(void)
{
    return "\"d\": the deeper run, over target on purpose so that the whole store is emptied; its "
           "mass counts, its seconds only at the target.";
}

const char *oxl_protocol_words(enum oxl_protocol p)
{
    static const char *const words[] = {
        [OXL_PROTO_UNKNOWN] = "not known",
        [OXL_PROTO_J1850_PWM] = "SAE J1850 PWM",
        [OXL_PROTO_J1850_VPW] = "SAE J1850 VPW",
        [OXL_PROTO_ISO9141] = "ISO 9141-2 (K-line)",
        [OXL_PROTO_KWP_SLOW] = "ISO 14230-4 (K-line, slow start)",
        [OXL_PROTO_KWP_FAST] = "ISO 14230-4 (K-line, fast start)",
        [OXL_PROTO_CAN11_500] = "ISO 15765-4 (CAN, 11 bit, 500 kbit/s)",
        [OXL_PROTO_CAN29_500] = "ISO 15765-4 (CAN, 29 bit, 500 kbit/s)",
        [OXL_PROTO_CAN11_250] = "ISO 15765-4 (CAN, 11 bit, 250 kbit/s)",
        [OXL_PROTO_CAN29_250] = "ISO 15765-4 (CAN, 29 bit, 250 kbit/s)",
    };
    return (size_t)p < sizeof words / sizeof words[0] ? words[p] : words[0];
}

void oxl_dtcs_shown(bool known, const uint16_t *list, size_t n, char *out, size_t size)
{
    size_t at = (size_t)snprintf(out, size, "%s", !known ? "not known" : n == 0 ? "none" : "");
    for (size_t i = 0; known && i < n && at + 7 < size; i++) {
        char code[6];
        oxl_dtc_name(list[i], code);
        at += (size_t)snprintf(out + at, size - at, "%s%s", i ? " " : "", code);
    }
}

const char oxl_method_words[] =
    "Propane drives the fuel trims to a set shift from their baseline; when it is cut, the mixture "
    "is lean until the trims recover. The time from the front sensor's lean to the rear sensor's "
    "lean is the delay. Stored oxygen is 0.2314 x air flow x (1 - 1/lambda), summed over that "
    "time, less what was on its way in the pipe. Delay at target is the delay that the same "
    "converter would have shown at the target shift. Each figure stands with the interval that "
    "holds it.";

/* After the duties and terms gathered from public rules (US federal converter policy, emission
 * warranties, state and European rules); they change, so the page only says what to look up. */
const char oxl_verify_words[] =
    "Verify locally: rules on converter replacement, emission warranty and record keeping differ "
    "by country and state and change. Before a converter is sold or fitted, check the underhood "
    "label, the warranty booklet (converters are often covered longer than other parts), the "
    "current rule and the part's approval, and write the need for it down. This page documents a "
    "test of oxygen storage; it is no emission test and says nothing about passing or not passing "
    "one.";

#include "oxylag/report.h"

#include <stdio.h>
#include <string.h>

#include "record/json_out.h"
#include "words.h"

void oxl_report_csv_header(struct oxl_buf *out)
{
    oxl_buf_add(out, "recv_s,sent_s,channel,value,unit_address,state,run,recording\n");
}

/* A spreadsheet computes what begins with one of these, in quotation marks or not; the last four
 * are their wide forms, which some take for the same. An apostrophe before it makes it text; one
 * that was there gets another, so that the first one can always be taken off again. */
static bool is_formula(const char *text)
{
    static const char *const marks[] = {"=",
                                        "+",
                                        "-",
                                        "@",
                                        "'",
                                        "\t",
                                        "\r",
                                        "\xEF\xBC\x9D",
                                        "\xEF\xBC\x8B",
                                        "\xEF\xBC\x8D",
                                        "\xEF\xBC\xA0"};
    text += strspn(text, " ");
    for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
        if (strncmp(text, marks[i], strlen(marks[i])) == 0)
            return true;
    return false;
}

static bool is_plain(const char *text)
{
    static const char letters[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-";
    return text[strspn(text, letters)] == '\0' && text[0] != '-';
}

/* RFC 4180: in quotation marks when it holds a comma or a mark (or what other readers cut at); a
 * mark is doubled. Line ends become blanks, what is not safe becomes '?' (words.h). */
void oxl_report_csv_text(const char *text, struct oxl_buf *out)
{
    char clean[512];
    if (is_plain(text)) { /* the usual case, in every row */
        oxl_buf_put(out, text, strlen(text));
        return;
    }
    const char *formula = is_formula(text) ? "'" : "";
    snprintf(clean, sizeof clean, "%s", text);
    oxl_clean(clean);
    const char *at = clean;
    const bool quoted = at[strcspn(at, ",;\"")] != '\0' || at[0] == ' ';
    oxl_buf_add(out, "%s%s", quoted ? "\"" : "", formula);
    for (size_t n; *at; at += n) {
        n = strcspn(at, "\"") + 1; /* up to a mark, and with it */
        n = n > strlen(at) ? strlen(at) : n;
        oxl_buf_put(out, at, n);
        if (at[n - 1] == '"')
            oxl_buf_put(out, "\"", 1);
    }
    oxl_buf_add(out, "%s", quoted ? "\"" : "");
}

/* No member but the recording's name is text from outside; numbers are numbers also with a minus.
 * An unknown value is an empty field. The address has its 0x because a spreadsheet takes a bare 7E8
 * for a number, 7 times 10 to the 8th. */
void oxl_report_csv_sample(const struct oxl_sample *sample, enum oxl_state state, int run,
                           const char *recording, struct oxl_buf *out)
{
    char recv[32], sent[32], value[32] = "", name[32];
    oxl_seconds_text(sample->recv_us, recv);
    oxl_seconds_text(sample->sent_us, sent);
    oxl_channel_name(sample->channel, name, sizeof name);
    if (oxl_known(sample->value))
        oxl_number_text(sample->value, value);
    oxl_buf_add(out, "%s,%s,%s,%s,0x%X,%s,%d,", recv, sent, name, value, (unsigned)sample->ecu,
                oxl_state_name(state), run);
    oxl_report_csv_text(recording, out);
    oxl_buf_add(out, "\n");
}

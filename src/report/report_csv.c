#include "oxylag/report.h"

#include <string.h>

#include "record/json_out.h"

void oxl_report_csv_header(struct oxl_buf *out)
{
    oxl_buf_add(out, "recv_s,sent_s,channel,value,unit_address,state,run,recording\n");
}

/* RFC 4180: in quotation marks when it holds a comma, a mark or a line end; a mark is doubled. */
static void text_field(struct oxl_buf *out, const char *text)
{
    if (text[strcspn(text, ",\"\r\n")] == '\0') {
        oxl_buf_add(out, "%s", text);
        return;
    }
    oxl_buf_add(out, "\"");
    for (; *text; text++)
        oxl_buf_add(out, *text == '"' ? "\"\"" : "%c", *text);
    oxl_buf_add(out, "\"");
}

/* No member but the recording's name can hold a comma, a quotation mark or a line end. An unknown
 * value is an empty field. The address has its 0x because a spreadsheet takes a bare 7E8 for a
 * number, 7 times 10 to the 8th. */
void oxl_report_csv_sample(const struct oxl_sample *sample, enum oxl_state state, int run,
                           const char *recording, struct oxl_buf *out)
{
    char recv[32], sent[32], value[32] = "", name[32];
    oxl_seconds_text(sample->recv_us, recv);
    oxl_seconds_text(sample->sent_us, sent);
    oxl_channel_name(sample->channel, name, sizeof name);
    if (oxl_known(sample->value))
        oxl_number_text(sample->value, value);
    oxl_buf_add(out, "%s,%s,%s,%s,0x%X,%s,%d,", recv, sent, name, value, (unsigned)sample->unit,
                oxl_state_name(state), run);
    text_field(out, recording);
    oxl_buf_add(out, "\n");
}

#include "oxylag/record.h"

#include <math.h>
#include <string.h>

#include "event_parts.h"

static bool values_ok(const struct oxl_line *line)
{
    for (size_t i = 0; i < line->n; i++)
        if (fabs(line->values[i]) > OXL_RECORD_VALUE_MAX)
            return false;
    return true;
}

/* What a line may not hold: it would not read back. */
static bool line_ok(const struct oxl_line *line)
{
    if (line->t_us < 0 || line->t_us > OXL_RECORD_T_MAX_US)
        return false;
    switch (line->kind) {
    case OXL_LINE_KEY:
        return line->key && strchr(oxl_recorded_keys, (char)line->key);
    case OXL_LINE_EVENT:
        return line->n > 0 && line->bytes[0] == '{' && !memchr(line->bytes, '\n', line->n);
    case OXL_LINE_NOTE:
    case OXL_LINE_END:
        return line->n == 0 || !memchr(line->bytes, '\0', line->n);
    case OXL_LINE_SPEED:
        return line->speed_baud > 0;
    case OXL_LINE_RX:
    case OXL_LINE_TX:
    case OXL_LINE_TICK:
    case OXL_LINE_LINK:
        return true;
    case OXL_LINE_SAMPLES:
        return line->n > 0 && line->n <= OXL_IMPORT_CHANNELS && values_ok(line);
    case OXL_LINE_HEADER: /* has its own function */
        break;
    }
    return false;
}

static void member(struct oxl_json *j, const struct oxl_line *line)
{
    char key = (char)line->key;
    switch (line->kind) {
    case OXL_LINE_RX:
    case OXL_LINE_TX:
        oxl_json_key(j, line->kind == OXL_LINE_RX ? "rx" : "tx");
        oxl_json_bytes(j, line->bytes, line->n);
        break;
    case OXL_LINE_TICK:
        oxl_json_member_bool(j, "tick", true);
        break;
    case OXL_LINE_END:
        oxl_json_key(j, "end");
        if (line->n)
            oxl_json_text_n(j, line->bytes, line->n);
        else
            oxl_json_bool(j, true);
        break;
    case OXL_LINE_KEY:
        oxl_json_key(j, "key");
        oxl_json_bytes(j, &key, 1);
        break;
    case OXL_LINE_LINK:
        oxl_json_member_text(j, "port", line->link_up ? "up" : "down");
        break;
    case OXL_LINE_SPEED:
        oxl_json_member_integer(j, "speed", line->speed_baud);
        break;
    case OXL_LINE_NOTE:
        oxl_json_key(j, "note");
        oxl_json_text_n(j, line->bytes, line->n);
        break;
    case OXL_LINE_EVENT:
        oxl_json_key(j, "event");
        oxl_json_raw(j, line->bytes, line->n);
        break;
    case OXL_LINE_SAMPLES:
        oxl_json_member_open(j, "samples", '[');
        for (size_t i = 0; i < line->n; i++)
            oxl_json_number(j, line->values[i]);
        oxl_json_close(j, ']');
        break;
    case OXL_LINE_HEADER:
        break;
    }
}

size_t oxl_record_encode(const struct oxl_line *line, char *out, size_t n)
{
    struct oxl_json j;
    if (!line_ok(line))
        return 0;
    oxl_json_start(&j, out, n);
    oxl_json_open(&j, '{');
    oxl_json_member_integer(&j, "t", line->t_us);
    member(&j, line);
    oxl_json_close(&j, '}');
    oxl_json_raw(&j, "\n", 1);
    return oxl_json_done(&j);
}

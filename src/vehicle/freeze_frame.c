/* Service 02: the values that were frozen when a code was stored. An answer is made of PID, frame
 * number and the PID's data as in service 01, once or (on CAN) up to three times. */
#include "oxylag/onboard.h"

#include <string.h>

enum { REPLY = 0x42, LIVE_REPLY = 0x41, FRAME = 0x00, DTC_PID = 0x02, LONGEST = 8 };

bool oxl_decode_freeze_frame_dtc(const struct oxl_message *m, uint16_t *code)
{
    if (m->len < 5 || m->data[0] != REPLY || m->data[1] != DTC_PID || m->data[2] != FRAME ||
        m->bad_checksum)
        return false;
    *code = (uint16_t)(m->data[3] << 8 | m->data[4]);
    return true;
}

/* One PID's data, read as service 01 reads it. */
static size_t one(const struct oxl_message *m, const uint8_t *pid, size_t len,
                  const struct oxl_decoding *d, struct oxl_sample *out, size_t max, bool *clean)
{
    uint8_t bytes[2 + LONGEST] = {LIVE_REPLY, pid[0]};
    memcpy(bytes + 2, pid + 2, len);
    struct oxl_message live = *m;
    live.data = bytes;
    live.len = 2 + len;
    return oxl_decode_live(&live, d, m->first_byte_us, out, max, clean);
}

size_t oxl_decode_freeze_frame(const struct oxl_message *m, const struct oxl_decoding *d,
                               struct oxl_sample *out, size_t max, bool *clean)
{
    size_t n = 0, at = 1;
    *clean = false;
    if (m->len < 4 || m->data[0] != REPLY || m->bad_checksum)
        return 0;
    while (at + 2 < m->len && m->data[at + 1] == FRAME) {
        size_t left = m->len - at - 2;
        size_t len = oxl_pid_length(m->data[at], d, at == 1 ? left : 0);
        bool whole;
        if (len == 0 || len > left || len > LONGEST)
            return n;
        n += one(m, m->data + at, len, d, out + n, max - n, &whole);
        if (!whole)
            return n;
        at += 2 + len;
    }
    *clean = at == m->len;
    return n;
}

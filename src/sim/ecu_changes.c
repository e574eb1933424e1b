#include "sim/ecu.h"

/* Which requests would change something, were the ECU to obey. Written from the other end than
 * the tester's own table (src/poll/safe_request.c) and shares nothing with it: an ECU is
 * generous, a request that is longer than the standard's form counts where it could still be read.
 * SAE J1979; ISO 14229-1 and ISO 14230-3 from memory. */
bool oxl_ecu_would_change(const uint8_t *req, size_t len)
{
    if (len == 0)
        return false;
    switch (req[0]) {
    case 0x04: /* clear diagnostic information */
    case 0x08: /* control of on-board system */
        return true;
    case 0x11: /* ECU reset and its kind */
        return len == 2;
    case 0x14: /* clear a group of two or three bytes, since 2020 with a memory behind it */
        return len == 3 || len == 4 || len == 5;
    case 0x31: /* start routine, by local identifier or by 16 bits */
    case 0x32: /* stop routine */
    case 0x28: /* communication off */
    case 0x85: /* storing of codes off */
        return len > 1;
    case 0x30: /* actuator by local identifier */
    case 0x3B: /* write by local identifier */
        return len > 2;
    case 0x2E: /* write by identifier of 16 bits */
    case 0x2F: /* actuator by identifier of 16 bits */
    case 0x38: /* routine by address */
    case 0x39:
        return len > 3;
    case 0x3D: /* write memory */
        return len > 4;
    default:
        return false;
    }
}

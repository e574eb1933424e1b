#include "oxylag/wire.h"

bool oxl_protocol_is_can(enum oxl_protocol p)
{
    return p >= OXL_PROTO_CAN11_500 && p <= OXL_PROTO_CAN29_250;
}

bool oxl_protocol_is_can29(enum oxl_protocol p)
{
    return p == OXL_PROTO_CAN29_500 || p == OXL_PROTO_CAN29_250;
}

const char *oxl_protocol_name(enum oxl_protocol p)
{
    static const char *const names[] = {
        [OXL_PROTO_UNKNOWN] = "unknown protocol",
        [OXL_PROTO_J1850_PWM] = "SAE J1850 PWM, 41.6 kbit/s",
        [OXL_PROTO_J1850_VPW] = "SAE J1850 VPW, 10.4 kbit/s",
        [OXL_PROTO_ISO9141] = "ISO 9141-2 (K-line)",
        [OXL_PROTO_KWP_SLOW] = "ISO 14230-4 (K-line), slow start",
        [OXL_PROTO_KWP_FAST] = "ISO 14230-4 (K-line), fast start",
        [OXL_PROTO_CAN11_500] = "ISO 15765-4 CAN, 11 bit, 500 kbit/s",
        [OXL_PROTO_CAN29_500] = "ISO 15765-4 CAN, 29 bit, 500 kbit/s",
        [OXL_PROTO_CAN11_250] = "ISO 15765-4 CAN, 11 bit, 250 kbit/s",
        [OXL_PROTO_CAN29_250] = "ISO 15765-4 CAN, 29 bit, 250 kbit/s",
    };
    return names[(size_t)p < sizeof names / sizeof names[0] ? p : OXL_PROTO_UNKNOWN];
}

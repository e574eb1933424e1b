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
    switch (p) {
    case OXL_PROTO_UNKNOWN:
        break;
    case OXL_PROTO_J1850_PWM:
        return "SAE J1850 PWM, 41.6 kbit/s";
    case OXL_PROTO_J1850_VPW:
        return "SAE J1850 VPW, 10.4 kbit/s";
    case OXL_PROTO_ISO9141:
        return "ISO 9141-2 (K-line)";
    case OXL_PROTO_KWP_SLOW:
        return "ISO 14230-4 (K-line), slow start";
    case OXL_PROTO_KWP_FAST:
        return "ISO 14230-4 (K-line), fast start";
    case OXL_PROTO_CAN11_500:
        return "ISO 15765-4 CAN, 11 bit, 500 kbit/s";
    case OXL_PROTO_CAN29_500:
        return "ISO 15765-4 CAN, 29 bit, 500 kbit/s";
    case OXL_PROTO_CAN11_250:
        return "ISO 15765-4 CAN, 11 bit, 250 kbit/s";
    case OXL_PROTO_CAN29_250:
        return "ISO 15765-4 CAN, 29 bit, 250 kbit/s";
    }
    return "unknown protocol";
}

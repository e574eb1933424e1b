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
#define X(id, number, code, words) [number] = (words),
        OXL_PROTOCOLS(X)
#undef X
            [OXL_PROTO_UNKNOWN] = "unknown protocol",
    };
    return names[(size_t)p < sizeof names / sizeof names[0] ? p : OXL_PROTO_UNKNOWN];
}

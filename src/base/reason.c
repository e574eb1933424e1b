#include "oxylag/reason.h"

#include <stddef.h>

_Static_assert(OXL_R_COUNT <= 64, "a set of reasons is one 64-bit word");

static const struct {
    const char *code, *sentence, *next;
    enum oxl_push push;
} reasons[OXL_R_COUNT] = {
#define X(id, code, push, sentence, next) [OXL_R_##id] = {code, sentence, next, OXL_PUSH_##push},
    OXL_REASONS(X)
#undef X
};

const char *oxl_reason_code(enum oxl_reason r)
{
    return reasons[r].code;
}

enum oxl_push oxl_reason_push(enum oxl_reason r)
{
    return reasons[r].push;
}

const char *oxl_reason_sentence(enum oxl_reason r)
{
    return reasons[r].sentence;
}

const char *oxl_reason_next(enum oxl_reason r)
{
    return reasons[r].next;
}

oxl_reasons oxl_reasons_pushing(oxl_reasons set, enum oxl_push push)
{
    oxl_reasons out = 0;
    for (unsigned r = 0; r < OXL_R_COUNT; r++)
        if (oxl_reasons_has(set, (enum oxl_reason)r) && reasons[r].push == push)
            out = oxl_reasons_add(out, (enum oxl_reason)r);
    return out;
}

oxl_reasons oxl_reasons_with_step(oxl_reasons set)
{
    oxl_reasons out = 0;
    for (unsigned r = 0; r < OXL_R_COUNT; r++)
        if (oxl_reasons_has(set, (enum oxl_reason)r) && reasons[r].next[0] != '\0')
            out = oxl_reasons_add(out, (enum oxl_reason)r);
    return out;
}

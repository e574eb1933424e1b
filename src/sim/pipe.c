#include "sim/pipe.h"

#include "sim/parts.h"

void oxl_pipe_init(struct oxl_pipe *p, double value)
{
    p->moved = 0;
    p->head = 1;
    p->tail = 0;
    for (unsigned i = 0; i < OXL_PIPE_SLOTS; i++) {
        p->slot[i].moved = 0;
        p->slot[i].value = value;
    }
    p->slot[0].moved = -1e9; /* always full of that gas */
}

static unsigned after(unsigned i)
{
    return (i + 1) % OXL_PIPE_SLOTS;
}

double oxl_pipe_step(struct oxl_pipe *p, double moved, double value, double volume)
{
    p->moved += moved;
    p->head = after(p->head);
    p->slot[p->head].moved = p->moved;
    p->slot[p->head].value = value;
    if (p->head == p->tail)
        p->tail = after(p->tail);
    double leaves = p->moved - volume;
    while (after(p->tail) != p->head && p->slot[after(p->tail)].moved <= leaves)
        p->tail = after(p->tail);
    double from = p->slot[p->tail].moved, to = p->slot[after(p->tail)].moved;
    double part = to > from ? oxl_clamp((leaves - from) / (to - from), 0, 1) : 0;
    double a = p->slot[p->tail].value, b = p->slot[after(p->tail)].value;
    return a + (b - a) * part;
}

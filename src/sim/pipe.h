/* Gas in a pipe: what goes in comes out when as much gas again has followed it. */
#ifndef OXL_SIM_PIPE_H
#define OXL_SIM_PIPE_H

enum { OXL_PIPE_SLOTS = 4096 };

struct oxl_pipe {
    struct {
        double moved, value;
    } slot[OXL_PIPE_SLOTS];
    double moved;
    unsigned head, tail;
};

void oxl_pipe_init(struct oxl_pipe *p, double value);
/* `moved` more of gas enters with `value`; returns the value of what leaves. `moved` and
 * `volume` have the same unit, whichever. */
double oxl_pipe_step(struct oxl_pipe *p, double moved, double value, double volume);

#endif

/* The leak check. */
#ifndef OXL_PROC_LEAK_CHECK_H
#define OXL_PROC_LEAK_CHECK_H

#include "oxylag/event.h"

struct oxl_proc;

enum oxl_leak_phase { OXL_LEAK_BEFORE, OXL_LEAK_COVERED, OXL_LEAK_AFTER };
struct oxl_leak {
    bool wanted;
    unsigned done; /* checks finished */
    bool clear;    /* one of them showed something: a leak, or none */
    enum oxl_leak_phase phase;
    int64_t phase_us[3];
    bool back_to_end; /* enough runs were done when it began */
};

void oxl_leak_ask(struct oxl_proc *p);         /* the key */
bool oxl_leak_worth(const struct oxl_proc *p); /* none was clear; of unclear ones one is repeated */
void oxl_leak_cancel(struct oxl_proc *p);
void oxl_leak_then_end(struct oxl_proc *p, bool end); /* what one that begins now leads to */
/* What the present step takes yet, at least; NAN: it has not begun, gas has to go first. */
double oxl_leak_left_s(const struct oxl_proc *p, int64_t now_us);
/* A lost link: what was begun says nothing. */
void oxl_leak_give_up(struct oxl_proc *p);

#endif

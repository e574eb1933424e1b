/* The way to the vehicle: line speed, wake script, search. */
#ifndef OXYLAG_POLL_CONNECT_H
#define OXYLAG_POLL_CONNECT_H

#include "exchange.h"
#include "oxylag/poll.h"

/* ---- speed.c: the adapter's line speed, and how far the search for it is. */
struct oxl_poll_speed {
    unsigned at, pass, step, asks;
    unsigned baud;               /* the speed that works; 0 unknown */
    bool bytes_seen, bytes_here; /* at any speed; at the one being tried */
};

void oxl_poll_speed_heard(struct oxl_poll *p); /* a byte came, of whatever */
void oxl_poll_probe_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_probe_next_speed(struct oxl_poll *p, int64_t t_us);
void oxl_poll_adapter_hung(struct oxl_poll *p);
void oxl_poll_probe_finished(struct oxl_poll *p, int64_t t_us);

/* ---- wake.c: the wake script: how far it is. */
struct oxl_poll_wake {
    bool awake;             /* it has gone through since the port came up */
    uint64_t echoes_before; /* the wire's counter when echo had been asked for */
    unsigned row, tries, silent;
    char banner[OXL_POLL_LINE];
};

void oxl_poll_wake_forget(struct oxl_poll *p); /* the adapter may have lost its settings */
void oxl_poll_wake_start(struct oxl_poll *p, bool reset, int64_t t_us);
void oxl_poll_wake_finished(struct oxl_poll *p, int64_t t_us);

/* ---- search.c: the search for the vehicle: which protocol, and what came of it. */
struct oxl_poll_search {
    unsigned at, step;
    enum oxl_word word;   /* the adapter's last reason */
    bool hung;            /* the adapter fell silent in its search */
    bool named;           /* the protocol's name has been asked for */
    unsigned headless;    /* answers that came without a header */
    bool found;           /* PID 00 was answered */
    bool same;            /* the ECU that is known answered as it did before */
    int64_t plain_gap_us; /* last answer to prompt, without a reply count */
};

void oxl_poll_search_forget(struct oxl_poll *p);     /* the port came up */
void oxl_poll_search_from_first(struct oxl_poll *p); /* the vehicle was lost */
void oxl_poll_search_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_search_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_next(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_give_up(struct oxl_poll *p);
/* The adapter says that it is searching: it is given more time, and that is said. */
bool oxl_poll_search_waits(struct oxl_poll *p, int64_t t_us);
/* Reads "A6" or "6"; UNKNOWN when it is neither. */
enum oxl_protocol oxl_poll_protocol_number(const char *line);
/* The protocol as the adapter names it, checked against the shape of the answering ECU. */
enum oxl_protocol oxl_poll_protocol_checked(enum oxl_protocol named, uint32_t ecu);

#endif

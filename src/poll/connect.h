/* The way to the vehicle: line speed, wake script, search; and the way back after a loss. */
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
/* The protocol as the adapter names it, checked against the shape of the answering ECU. */
enum oxl_protocol oxl_poll_protocol_checked(enum oxl_protocol named, uint32_t ecu);

/* ---- link_loss.c: the port, the deadlines of the conversation, and the way back after a loss. */
struct oxl_poll_link {
    bool port_up;
    bool known;    /* the survey was done once: losses lead to retries, never to an end */
    bool reviving; /* known, and being found again: the state stays as it is until READY */
    bool heard;    /* a byte came since the last attempt */
    int64_t last_rx_us, alive_us; /* the last byte, and the last answer to a live request */
    int64_t stall_us, lost_us, give_up_us, retry_us; /* deadlines */
    unsigned attempt;                                /* of back-off */
};

void oxl_poll_port(struct oxl_poll *p, bool up);
void oxl_poll_no_deadlines(struct oxl_poll *p);
void oxl_poll_heard(struct oxl_poll *p, int64_t t_us);
void oxl_poll_alive(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_overdue(const struct oxl_poll *p, int64_t t_us); /* no live data for 4 s */
void oxl_poll_patient(struct oxl_poll *p, int64_t until_us);   /* no loss is declared before */
void oxl_poll_give_up_at(struct oxl_poll *p, int64_t at_us);
void oxl_poll_known(struct oxl_poll *p, bool known); /* false: another vehicle answers */
bool oxl_poll_revived(struct oxl_poll *p);           /* true: after a loss */
void oxl_poll_stalled(struct oxl_poll *p);
void oxl_poll_fell_silent(struct oxl_poll *p, int64_t t_us);
void oxl_poll_lost(struct oxl_poll *p, const char *text, int64_t t_us);
void oxl_poll_revive_failed(struct oxl_poll *p, const char *text, int64_t t_us);
void oxl_poll_attempt(struct oxl_poll *p, int64_t t_us);
void oxl_poll_restarted(struct oxl_poll *p, int64_t t_us);

#endif

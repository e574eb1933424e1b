/* What the adapter's echo has proven, and whether it can. */
#ifndef OXYLAG_POLL_ECHO_PROOF_H
#define OXYLAG_POLL_ECHO_PROOF_H

#include "oxylag/poll.h"

struct oxl_poll_echo {
    bool able;            /* the adapter echoes, so it can prove what it received */
    bool on;              /* and does so now, by our wish */
    bool asked_off;       /* the next request tells whether it stays nevertheless */
    bool habit;           /* it does: the adapter cannot do without */
    bool unclear;         /* it may hold characters that no CR has ended */
    bool proved;          /* an echo has proved a request */
    unsigned blind_times; /* in a row that it answered and had not echoed before CR */
    unsigned stood;       /* requests in a row that needed no proof */
    int64_t longest_us;   /* how long an echo takes, the longest lately */
    bool damage_seen;     /* the line has damaged characters: for good */
    unsigned prove_all;   /* requests until one that stands is sent without proof again */
    uint64_t spoilt_base; /* what had been spoilt before there was a conversation */
    /* Of the outstanding request. */
    bool blind;                        /* ended without any echo */
    unsigned came;                     /* characters of it that came back */
    unsigned proofs, spoils, switches; /* tries */
    int64_t text_us;                   /* its characters were sent, or those that spoil it */
};

void oxl_poll_echo_forget(struct oxl_poll *p);
void oxl_poll_echo_clear(
    struct oxl_poll *p); /* a prompt has shown that the adapter holds nothing */
void oxl_poll_echo_request(struct oxl_poll *p); /* another request, or another try of it */
void oxl_poll_echo_sent(struct oxl_poll *p, bool whole);
/* The wake script is over: has any command behind ATE1 come back? */
void oxl_poll_echo_learn(struct oxl_poll *p, uint64_t echoes_before);
void oxl_poll_prove(struct oxl_poll *p, int64_t t_us);
/* True: this byte was the echo of what is being proved. */
bool oxl_poll_hear_echo(struct oxl_poll *p, uint8_t byte, int64_t t_us);
void oxl_poll_proof_prompt(struct oxl_poll *p, int64_t t_us);
void oxl_poll_proof_late(struct oxl_poll *p, int64_t t_us);
void oxl_poll_look_for_damage(struct oxl_poll *p); /* an exchange is over */
const char *oxl_poll_spoiler(void);                /* a line of which nothing can make a request */
/* True when echo is being switched off. */
bool oxl_poll_echo_off(struct oxl_poll *p, int64_t t_us);
/* True: echo that came now is no sign of a restart. */
bool oxl_poll_echo_expected(struct oxl_poll *p);

#endif

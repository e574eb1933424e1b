/* One command or request, from its text to what came of it. */
#ifndef OXYLAG_POLL_EXCHANGE_H
#define OXYLAG_POLL_EXCHANGE_H

#include "oxylag/poll.h"

/* ---- request.c: the request that is outstanding, as it is written ---- */

enum { OXL_POLL_PIDS = 6 }; /* most PIDs in one request, ISO 15031-5 on CAN */

struct oxl_poll_request {
    uint8_t service; /* 0: a command to the adapter itself */
    uint8_t pids[OXL_POLL_PIDS];
    unsigned n;
    char text[24]; /* without CR */
    bool counted;  /* text ends with the expected-reply-count digit */
    bool proof;    /* it does not stand on its own: its echo has to prove it */
};

void oxl_poll_request_command(struct oxl_poll *p, const char *command);
void oxl_poll_request_pids(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n);
/* digit: the expected-reply-count digit; 0: none is sent. False: it may not be sent at all. */
bool oxl_poll_request_write(struct oxl_poll *p, unsigned digit);

/* Writes the text in an order that stands, or says in r->proof that echo has to prove it. False:
 * it may not be sent at all. */
bool oxl_poll_compose(const struct oxl_poll *p, struct oxl_poll_request *r, unsigned digit);
/* A request for these PIDs of service 01 stands in some order, without proof. */
bool oxl_poll_stands(const struct oxl_poll *p, const uint8_t *pids, unsigned n, unsigned digit);
/* False: this adapter cannot prove it, and it does not stand without. */
bool oxl_poll_may_send(const struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n);

/* ---- exchange.c: one command or request, from its sending to the prompt ---- */

enum oxl_poll_phase {
    OXL_PHASE_IDLE,
    OXL_PHASE_WAIT,  /* sent; the prompt is awaited */
    OXL_PHASE_PAUSE, /* something is to be sent at the deadline */
    OXL_PHASE_NUDGE, /* timed out; a bare CR has been sent to get the prompt back */
    OXL_PHASE_FLUSH, /* a harmless command is asked: what comes before its OK is late */
    /* echo_proof.c */
    OXL_PHASE_PROVE,   /* sent without CR; its echo is awaited */
    OXL_PHASE_SPOIL,   /* characters that make it invalid are sent; their echo is awaited */
    OXL_PHASE_CLEAN,   /* ended; its refusal is awaited */
    OXL_PHASE_ECHO_ON, /* echo is being switched on */
    OXL_PHASE_WITHHELD /* it may not be sent */
};

struct oxl_poll_exchange {
    enum oxl_poll_phase phase;
    int64_t deadline_us;
    unsigned timeout_ms;
    int64_t asked_us; /* first sending of this request */
    int64_t sent_us;  /* its latest sending */
    bool asked;       /* it was sent once, so asked_us stands */
    bool resend;      /* PAUSE ends with the same request, not with the next */
    bool needs_text;  /* a prompt alone does not end it */
    unsigned tries;   /* of nudging or flushing, of re-asking */
    /* How it ended. */
    bool timed_out, silent;
    bool withheld;                /* it was not sent: this adapter could not have proven it */
    bool bare_prompt;             /* a prompt came without the text that was needed */
    bool restarted;               /* the adapter's own banner came in the middle */
    struct oxl_wire_stats before; /* when it was sent */
    uint64_t late_before;
};

void oxl_poll_ask(struct oxl_poll *p, const char *command, unsigned timeout_ms, int64_t t_us);
/* Answered by a line of its own, not by OK. */
void oxl_poll_ask_text(struct oxl_poll *p, const char *command, unsigned timeout_ms, int64_t t_us);
/* digit: the expected-reply-count digit; 0: none is sent. */
void oxl_poll_request(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                      unsigned digit, unsigned timeout_ms, int64_t t_us);
void oxl_poll_request_again(struct oxl_poll *p, int64_t t_us); /* without the digit */
/* Instead of CR: the outstanding text is not sent (again); silent: the adapter says nothing. */
void oxl_poll_unsent(struct oxl_poll *p, bool silent, int64_t t_us);
void oxl_poll_settle(struct oxl_poll *p, int64_t t_us); /* behind every input */
/* Not whole: CR alone, as the text is there. */
void oxl_poll_send(struct oxl_poll *p, bool whole, int64_t t_us);
void oxl_poll_pause(struct oxl_poll *p, unsigned ms, bool resend, int64_t t_us);
void oxl_poll_busy(struct oxl_poll *p, unsigned ms, int64_t t_us); /* re-asked after a pause */
void oxl_poll_cancel(struct oxl_poll *p);
/* The outstanding exchange goes on in this phase, until then. */
void oxl_poll_await(struct oxl_poll *p, enum oxl_poll_phase phase, int64_t until_us);
void oxl_poll_await_banner(struct oxl_poll *p, int64_t until_us);
void oxl_poll_ex_deadline(struct oxl_poll *p, int64_t t_us);
void oxl_poll_ex_prompt(struct oxl_poll *p, int64_t t_us);
/* Something came since the request was sent that could not be read. */
bool oxl_poll_spoilt(const struct oxl_poll *p);
uint64_t oxl_poll_spoilt_so_far(const struct oxl_poll *p);
bool oxl_poll_cut_off(const struct oxl_poll *p); /* a message began and did not end */
bool oxl_poll_came_headless(const struct oxl_poll *p);
bool oxl_poll_came_echo(const struct oxl_poll *p);

/* ---- replies.c: what came since a request was sent, and what of it belongs to the request ---- */

enum { OXL_POLL_LINE = 64 }; /* longest adapter line kept */

struct oxl_poll_answer {
    uint32_t words; /* bit set of enum oxl_word */
    char line[OXL_POLL_LINE];
    unsigned n;       /* answers */
    bool own;         /* one of them from the ECU used for the test */
    int64_t at_us;    /* last byte of the last matching answer */
    uint32_t found;   /* of the PIDs, by place, one bit each: those in the latest answer */
    uint8_t negative; /* response code; 0: no negative response */
    bool pending;
    unsigned promised, settled; /* by ECU, one bit each, of all tries: answer pending; answered */
};

struct oxl_wire_out oxl_poll_ears(struct oxl_poll *p); /* the wire's callbacks */
void oxl_poll_answer_forget(struct oxl_poll *p);       /* another request */
void oxl_poll_answer_try(struct oxl_poll *p);          /* the same request once more */
void oxl_poll_answer_no_words(struct oxl_poll *p);
void oxl_poll_answer_withheld(struct oxl_poll *p); /* as if the vehicle had said nothing */
bool oxl_poll_said(const struct oxl_poll *p, enum oxl_word w);
/* The PID's data in an answer to a request for it alone; NULL when there are fewer bytes. */
const uint8_t *oxl_poll_pid_data(const struct oxl_poll *p, const struct oxl_message *m, size_t len);

/* ---- echo_proof.c: what the adapter's echo has proven, and whether it can ---- */

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
void oxl_poll_echo_clear(struct oxl_poll *p);   /* a prompt shows that nothing is left in it */
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

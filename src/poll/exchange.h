/* One command or request, from its sending to the prompt. */
#ifndef OXYLAG_POLL_EXCHANGE_H
#define OXYLAG_POLL_EXCHANGE_H

#include "oxylag/poll.h"

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
    bool withheld;    /* it was not sent: this adapter could not have proven it */
    bool bare_prompt; /* a prompt came without the text that was needed */
    bool restarted;   /* the adapter's own banner came in the middle */
    /* The counters when it was sent. */
    uint64_t late_before, spoilt_before, broken_before, echoes_before, headless_before;
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
void oxl_poll_settle(struct oxl_poll *p, int64_t t_us);    /* behind every input */
void oxl_poll_send_line(struct oxl_poll *p, int64_t t_us); /* with CR */
void oxl_poll_send_end(struct oxl_poll *p, int64_t t_us);  /* CR alone: the text is there */
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

#endif

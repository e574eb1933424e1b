/* The inside of the poll room. One exchange with the adapter is under way at any time; a stage
 * says what is asked and what its end means.
 *
 *   PROBE -> WAKE -> SEARCH -> SURVEY -> LIVE
 *                       `----> VERIFY ---^     (after a loss, with a vehicle that is known)
 *
 * Time only ever acts through the stored deadlines below, so a tick that comes before all of
 * them changes nothing (a recording keeps only the ticks that did something).
 */
#ifndef OXYLAG_POLL_INSIDE_H
#define OXYLAG_POLL_INSIDE_H

#include "oxylag/poll.h"

enum {
    OXL_POLL_PIDS = 6,   /* most PIDs in one request, ISO 15031-5 on CAN */
    OXL_POLL_ECUS = 8,   /* most ECUs that answer a functional request, ISO 15765-4 */
    OXL_POLL_LIVE = 32,  /* most PIDs that are asked for live */
    OXL_POLL_RING = 512, /* arrival times kept for the rates */
    OXL_POLL_LINE = 64   /* longest adapter line kept */
};

#define OXL_POLL_NEVER  INT64_MAX
#define OXL_POLL_MS(ms) ((int64_t)(ms)*1000)

enum oxl_poll_stage {
    OXL_STAGE_OFF, /* no port, waiting for the next attempt, or at a final state */
    OXL_STAGE_PROBE,
    OXL_STAGE_WAKE,
    OXL_STAGE_SEARCH,
    OXL_STAGE_SURVEY,
    OXL_STAGE_VERIFY,
    OXL_STAGE_LIVE,
    OXL_STAGE_COUNT
};

enum oxl_poll_phase {
    OXL_PHASE_IDLE,
    OXL_PHASE_WAIT,  /* sent; the prompt is awaited */
    OXL_PHASE_PAUSE, /* something is to be sent at the deadline */
    OXL_PHASE_NUDGE, /* timed out; a bare CR has been sent to get the prompt back */
    OXL_PHASE_FLUSH, /* a harmless command is asked: what comes before its OK is late */
    /* prove.c */
    OXL_PHASE_PROVE,   /* sent without CR; its echo is awaited */
    OXL_PHASE_SPOIL,   /* characters that make it invalid are sent; their echo is awaited */
    OXL_PHASE_CLEAN,   /* ended; its refusal is awaited */
    OXL_PHASE_ECHO_ON, /* echo is being switched on */
    OXL_PHASE_WITHHELD /* it may not be sent */
};

/* One command or request, from its sending to the prompt. */
struct oxl_exchange {
    enum oxl_poll_phase phase;
    char text[24]; /* without CR */
    bool counted;  /* text ends with the expected-reply-count digit */
    bool needs_text;
    uint8_t service; /* 0: a command to the adapter itself */
    uint8_t pids[OXL_POLL_PIDS];
    unsigned n;
    unsigned frames; /* expected answer frames of all ECUs; 0 unknown */
    unsigned timeout_ms;
    int64_t asked_us; /* first sending of this request */
    int64_t sent_us;  /* its latest sending */
    int64_t deadline_us;
    bool resend; /* PAUSE ends with the same request, not with the next */
    /* prove.c */
    bool proof;                        /* it does not stand on its own: its echo has to prove it */
    bool asked;                        /* it was sent once, so asked_us stands */
    bool withheld;                     /* it was not sent: this adapter could not have proven it */
    bool blind;                        /* ended without any echo */
    unsigned echoed;                   /* characters of it that came back */
    unsigned proofs, spoils, switches; /* tries */
    int64_t text_us;                   /* its characters were sent, or those that spoil it */
    /* What came. */
    uint32_t words; /* bit set of enum oxl_word */
    char line[OXL_POLL_LINE];
    unsigned answers;
    bool own_answer;   /* one of them from the ECU that is listened to */
    int64_t answer_us; /* last byte of the last matching answer */
    uint32_t found;    /* of the PIDs, by place, one bit each: those in the latest answer */
    uint8_t negative;  /* response code, 0 none */
    bool pending, timed_out, silent;
    unsigned promised, settled; /* by ECU, one bit each, of all tries: answer pending; answered */
    bool separator;             /* asked only to have an answer between the others (owed) */
    uint64_t late_before, spoilt_before, broken_before, echoes_before,
        headless_before; /* the wire's counters at the sending */
    bool bare_prompt;    /* a prompt came without the text that was needed */
    bool restarted;      /* the adapter's own banner came in the middle */
    unsigned tries;      /* of nudging or flushing, of re-asking */
};

struct oxl_poll_ecu {
    uint32_t id;
    struct oxl_support support;
};

enum oxl_poll_role {
    OXL_ROLE_FRONT,
    OXL_ROLE_REAR,
    OXL_ROLE_STFT,
    OXL_ROLE_LTFT,
    OXL_ROLE_MID,   /* air (or what stands in for it) and engine speed */
    OXL_ROLE_STATE, /* fuel system status and vehicle speed: seen at least every 2 s */
    OXL_ROLE_SLOW,
    OXL_ROLE_RARE,
    OXL_ROLE_OTHER /* throttle and the bank that is not tested: seldom, and never while timing */
};

struct oxl_poll_pid {
    uint8_t pid;
    uint8_t role; /* enum oxl_poll_role */
    uint8_t misses;
    bool dropped;
    int64_t back_us;     /* when it is tried again */
    unsigned drops;      /* each waits twice as long */
    uint64_t miss_reply; /* number of replies at its last miss */
    int64_t asked_us;
};

struct oxl_poll_schedule {
    struct oxl_poll_pid pids[OXL_POLL_LIVE];
    unsigned n;
    unsigned max_pids; /* in one request */
    unsigned round, slot, mid;
    unsigned multi_fails; /* requests for several PIDs in a row without an answer */
    bool single_try;      /* the next doubtful request asks for one PID */
    int64_t grow_us;      /* when more PIDs a request are tried again; NEVER */
    unsigned shrinks;     /* each waits twice as long */
    bool others_turn;     /* with few PIDs a request: trims and the rest take turns */
};

struct oxl_poll_ring {
    int64_t at_us[OXL_POLL_RING];
    unsigned head, n;
};

/* Shortening the adapter's wait by its own settings (tune.c). */
struct oxl_poll_tune {
    unsigned stage, asked, answered;
    int64_t gap_us, usual_gap_us; /* from the last answer to the prompt: sum; mean before */
    int64_t longest_us;           /* from asking to answer */
    bool aggressive;              /* ATAT2 is on */
    unsigned timeout;             /* count of ATST that is on; 0: the adapter's own */
    unsigned losses, good;        /* in live data, since it was tuned */
    unsigned undo;                /* commands still to be sent */
};

struct oxl_poll {
    struct oxl_poll_config config;
    struct oxl_poll_out out;
    struct oxl_wire *wire;
    enum oxl_link_state state;
    char text[160];
    enum oxl_focus focus;
    enum oxl_poll_stage stage;
    struct oxl_exchange ex;
    bool port_up;
    bool known;    /* the survey was done once: losses lead to retries, never to an end */
    bool reviving; /* known, and being found again: the state stays as it is until READY */
    bool awake;    /* the wake script has gone through since the port came up */
    bool heard;    /* a byte came since the last attempt */
    int64_t last_rx_us;

    /* Deadlines besides the exchange's own. */
    int64_t stall_us, lost_us, give_up_us, retry_us;
    unsigned attempt; /* of back-off */

    /* speed.c */
    unsigned speed_at, speed_pass, speed_step;
    unsigned baud; /* the speed that works; 0 unknown */
    bool bytes_seen;

    /* prove.c */
    bool echoes;          /* the adapter echoes, so it can prove what it received */
    bool echo_on;         /* and does so now, by our wish */
    bool echo_asked_off;  /* the next request tells whether it stays nevertheless */
    bool echo_habit;      /* it does: the adapter cannot do without */
    bool unclear;         /* it may hold characters that no CR has ended */
    bool proved;          /* an echo has proved a request */
    unsigned blind;       /* times in a row that it answered and had not echoed before CR */
    unsigned stood;       /* requests in a row that needed no proof */
    int64_t echo_us;      /* how long an echo takes, the longest lately */
    bool damage_seen;     /* the line has damaged characters: for good */
    unsigned prove_all;   /* requests until one that stands is sent without proof again */
    uint64_t spoilt_base; /* what had been spoilt before there was a conversation */

    /* wake.c */
    uint64_t wake_echoes; /* the wire's counter when echo had been asked for */
    unsigned wake_row, wake_tries, wake_silent;
    char banner[OXL_POLL_LINE];

    /* search.c */
    unsigned search_at, search_step;
    enum oxl_word search_word; /* the adapter's last reason */
    bool hung;                 /* the adapter fell silent in its search */
    bool search_named;         /* the protocol's name has been asked for */
    unsigned search_headless;  /* answers that came without a header */
    bool search_found;         /* PID 00 was answered */
    bool same;                 /* the ECU that is known answered as it did before */

    /* survey.c, probe.c */
    unsigned step, step_tries, silent_steps, step_spoilt;
    uint8_t mask_pid;
    unsigned mask_tries;
    int64_t plain_gap_us;   /* last answer to prompt, without a reply count */
    bool count_multi_frame; /* the digit may be used for answers of several frames */
    bool all_there;         /* every PID asked for was in the answer */
    unsigned most_pids;     /* in one request, as verified */
    unsigned vin_parts;
    char vin[18];
    struct oxl_poll_ecu ecus[OXL_POLL_ECUS];
    unsigned ecus_n;
    int64_t survey_us;      /* when the survey began */
    uint64_t survey_spoilt; /* what had been spoilt by then */
    bool line_doubted;      /* a request of the survey was not understood, or its prompt was lost */

    /* monitors.c, sensors.c, inspect.c */
    struct oxl_support monitors; /* numbers that service 06 answers to */
    unsigned monitor_at;
    struct oxl_support sensor_tests; /* of service 05, of the sensor at the place sensor_at */
    unsigned sensor_at, sensor_test;
    int64_t sensors_us; /* when they were begun to be asked for; NEVER */
    bool masks_answered;
    struct oxl_onboard onboard;
    struct oxl_info info[OXL_MAX_ECUS]; /* of one service 09 PID, by ECU */
    uint8_t infotypes[4];               /* its support mask, of all ECUs */
    bool info_known;
    struct oxl_support freeze_frame_pids;

    /* live */
    struct oxl_vehicle vehicle;
    struct oxl_pair pair;
    struct oxl_poll_schedule schedule;
    struct oxl_poll_tune tune;
    int64_t slowest_us;      /* from asking to the prompt, the longest lately */
    unsigned damaged, tardy; /* leaky counts of spoilt and of late answers */
    unsigned bad_line;       /* requests until a line that damaged many answers is trusted again */
    unsigned shifted;        /* answers come for the request before: up 2, down 1 */
    bool owed;               /* an answer to an earlier request may still come: see live.c */
    bool exact;              /* the vehicle's answers hold the asked PIDs and nothing else */
    unsigned inexact;        /* in a row that did not */
    unsigned headless;       /* in a row: unanswered, and a line without its header came */
    unsigned cuts, refusals; /* in a row: counted answers cut off, counted requests refused */

    /* stats.c */
    struct oxl_poll_stats stats;
    struct oxl_poll_ring front, rear;
};

/* What a stage does. Any may be NULL. */
struct oxl_poll_stage_ops {
    /* A positive answer that matches the outstanding request. */
    void (*answer)(struct oxl_poll *p, const struct oxl_message *m);
    /* The prompt came, or the exchange was given up (ex.timed_out). */
    void (*finished)(struct oxl_poll *p, int64_t t_us);
    /* A pause is over. */
    void (*next)(struct oxl_poll *p, int64_t t_us);
};

/* A step of the survey. */
struct oxl_poll_step {
    /* False: nothing to ask. */
    bool (*begin)(struct oxl_poll *p, int64_t t_us);
    void (*answer)(struct oxl_poll *p, const struct oxl_message *m);
    /* False: begin once more. NULL: over. */
    bool (*finish)(struct oxl_poll *p, int64_t t_us);
    bool own_retry;
    bool all_ecus; /* in an inspection: the answers of the other ECUs, too */
};

/* poll.c: the one place that changes the state. */
void oxl_poll_set_state(struct oxl_poll *p, enum oxl_link_state s, const char *text);
void oxl_poll_end(struct oxl_poll *p, enum oxl_link_state s, const char *text);
const struct oxl_poll_stage_ops *oxl_poll_stage_ops(const struct oxl_poll *p);

/* exchange.c */
/* Something came since the request was sent that could not be read. */
bool oxl_poll_spoilt(const struct oxl_poll *p);
uint64_t oxl_poll_spoilt_so_far(const struct oxl_poll *p);
/* 0 for a ECU that was not there when PID 00 was asked. */
unsigned oxl_poll_ecu_bit(const struct oxl_poll *p, uint32_t ecu);
/* A message began and did not end. */
bool oxl_poll_cut_off(const struct oxl_poll *p);
void oxl_poll_ask(struct oxl_poll *p, const char *command, unsigned timeout_ms, int64_t t_us);
/* digit: the expected-reply-count digit, 0 none. */
void oxl_poll_request(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                      unsigned digit, unsigned timeout_ms, int64_t t_us);
void oxl_poll_request_again(struct oxl_poll *p, int64_t t_us); /* without the digit */
/* Instead of CR: the outstanding text is not sent (again); silent: the adapter says nothing. */
void oxl_poll_unsent(struct oxl_poll *p, bool silent, int64_t t_us);
void oxl_poll_settle(struct oxl_poll *p, int64_t t_us);    /* behind every input */
void oxl_poll_send_line(struct oxl_poll *p, int64_t t_us); /* with CR */
void oxl_poll_send_end(struct oxl_poll *p, int64_t t_us);  /* CR alone: the text is there */
void oxl_poll_pause(struct oxl_poll *p, unsigned ms, bool resend, int64_t t_us);
void oxl_poll_cancel(struct oxl_poll *p);
void oxl_poll_ex_deadline(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_said(const struct oxl_poll *p, enum oxl_word w);
/* hear.c: the wire's callbacks. */
struct oxl_wire_out oxl_poll_ears(struct oxl_poll *p);
void oxl_poll_ex_prompt(struct oxl_poll *p, int64_t t_us); /* exchange.c */

/* compose.c */
/* Writes ex->text in an order that stands, or says in ex->proof that echo has to prove it. False:
 * it may not be sent at all. */
bool oxl_poll_compose(const struct oxl_poll *p, struct oxl_exchange *ex, unsigned digit);
/* A request for these PIDs of service 01 stands in some order, without proof. */
bool oxl_poll_stands(const struct oxl_poll *p, const uint8_t *pids, unsigned n, unsigned digit);
/* False: this adapter cannot prove it, and it does not stand without. */
bool oxl_poll_may_send(const struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n);

/* prove.c */
void oxl_poll_echo_forget(struct oxl_poll *p);
void oxl_poll_prove(struct oxl_poll *p, int64_t t_us);
/* True: this byte was the echo of what is being proved. */
bool oxl_poll_hear_echo(struct oxl_poll *p, uint8_t byte, int64_t t_us);
void oxl_poll_proof_prompt(struct oxl_poll *p, int64_t t_us);
void oxl_poll_proof_late(struct oxl_poll *p, int64_t t_us);
void oxl_poll_note_damage(struct oxl_poll *p); /* a sign that the line damages characters */
const char *oxl_poll_spoiler(void);            /* a line that nothing can make of is a request */
/* True when echo is being switched off. */
bool oxl_poll_echo_off(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_echo_expected(struct oxl_poll *p);

/* speed.c, wake.c, search.c */
void oxl_poll_probe_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_probe_next_speed(struct oxl_poll *p, int64_t t_us);
void oxl_poll_adapter_hung(struct oxl_poll *p);
void oxl_poll_probe_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_wake_start(struct oxl_poll *p, bool reset, int64_t t_us);
void oxl_poll_wake_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_search_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_next(struct oxl_poll *p, int64_t t_us);
void oxl_poll_search_give_up(struct oxl_poll *p);
/* Reads "A6" or "6"; UNKNOWN when it is neither. */
enum oxl_protocol oxl_poll_protocol_number(const char *line);
/* The protocol as the adapter names it, checked against the shape of the answering ECU. */
enum oxl_protocol oxl_poll_protocol_checked(enum oxl_protocol named, uint32_t ecu);

/* ECUs.c */
struct oxl_poll_ecu *oxl_poll_ecu_of(struct oxl_poll *p, uint32_t id, bool add);
void oxl_poll_ecu_mask(struct oxl_poll *p, const struct oxl_message *m, uint8_t mask_pid);
bool oxl_poll_any_ecu_supports(const struct oxl_poll *p, uint8_t pid);
void oxl_poll_choose_ecu(struct oxl_poll *p);
/* How many frames all ECUs together send to a service 01 request; 0 when it cannot be told. */
unsigned oxl_poll_expected_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n);
/* How many the ECU that is listened to sends; 0 when it cannot be told. */
unsigned oxl_poll_own_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n);
unsigned oxl_poll_digit(const struct oxl_poll *p, unsigned frames);

/* survey.c, probe.c */
void oxl_poll_survey_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_survey_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_survey_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_survey_next(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_hears_all(const struct oxl_poll *p);
bool oxl_poll_ask_pid(struct oxl_poll *p, uint8_t pid, int64_t t_us);
bool oxl_poll_ask_plain(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                        int64_t t_us);
bool oxl_poll_count_begin(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_count_finish(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_several_begin(struct oxl_poll *p, int64_t t_us);
void oxl_poll_several_answer(struct oxl_poll *p, const struct oxl_message *m);
bool oxl_poll_several_finish(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_full_begin(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_full_finish(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_tune_begin(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_tune_finish(struct oxl_poll *p, int64_t t_us);
void oxl_poll_tune_judge(struct oxl_poll *p, bool lost);
bool oxl_poll_tune_undo(struct oxl_poll *p, int64_t t_us);
void oxl_poll_verify_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_verify_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_verify_finished(struct oxl_poll *p, int64_t t_us);

/* monitors.c: service 06 */
bool oxl_poll_monitor_masks_begin(struct oxl_poll *p, int64_t t_us);
void oxl_poll_monitor_masks_answer(struct oxl_poll *p, const struct oxl_message *m);
bool oxl_poll_monitor_masks_finish(struct oxl_poll *p, int64_t t_us);
bool oxl_poll_monitors_begin(struct oxl_poll *p, int64_t t_us);
void oxl_poll_monitors_answer(struct oxl_poll *p, const struct oxl_message *m);
bool oxl_poll_monitors_finish(struct oxl_poll *p, int64_t t_us);
void oxl_poll_monitors_forget(struct oxl_poll *p);

void oxl_poll_keep_result(struct oxl_poll *p, const struct oxl_monitor_result *r);

/* sensors.c: service 05 */
bool oxl_poll_sensors_begin(struct oxl_poll *p, int64_t t_us);
void oxl_poll_sensors_answer(struct oxl_poll *p, const struct oxl_message *m);
bool oxl_poll_sensors_finish(struct oxl_poll *p, int64_t t_us);
void oxl_poll_sensors_forget(struct oxl_poll *p);

/* inspect.c: what only an inspection asks for */
const struct oxl_poll_step *oxl_poll_inspect_step(unsigned i); /* NULL: no more */
void oxl_poll_inspect_start(struct oxl_poll *p);
struct oxl_ecu_info *oxl_poll_ecu_info(struct oxl_poll *p, uint32_t ecu); /* NULL: no room */
void oxl_poll_ecu_readiness(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_ecu_dtcs(struct oxl_poll *p, const struct oxl_message *m);

/* live.c, schedule.c */
void oxl_poll_live_start(struct oxl_poll *p, int64_t t_us);
void oxl_poll_live_answer(struct oxl_poll *p, const struct oxl_message *m);
void oxl_poll_live_finished(struct oxl_poll *p, int64_t t_us);
void oxl_poll_live_next(struct oxl_poll *p, int64_t t_us);
void oxl_poll_schedule_build(struct oxl_poll *p);
unsigned oxl_poll_schedule_next(struct oxl_poll *p, int64_t t_us, uint8_t pids[OXL_POLL_PIDS]);
void oxl_poll_schedule_hit(struct oxl_poll *p, uint8_t pid);
void oxl_poll_schedule_miss(struct oxl_poll *p, uint8_t pid);
void oxl_poll_schedule_drop(struct oxl_poll *p, uint8_t pid);
/* for_good: it will not be tried again. */
void oxl_poll_schedule_shrink(struct oxl_poll *p, bool for_good, int64_t t_us);

/* lost.c */
void oxl_poll_alive(struct oxl_poll *p, int64_t t_us);
void oxl_poll_stalled(struct oxl_poll *p);
void oxl_poll_fell_silent(struct oxl_poll *p, int64_t t_us);
void oxl_poll_lost(struct oxl_poll *p, const char *text, int64_t t_us);
void oxl_poll_revive_failed(struct oxl_poll *p, const char *text, int64_t t_us);
void oxl_poll_attempt(struct oxl_poll *p, int64_t t_us);
void oxl_poll_restarted(struct oxl_poll *p, int64_t t_us);

/* stats.c */
void oxl_poll_note_sample(struct oxl_poll *p, const struct oxl_sample *s);

#endif

/* A scripted adapter with a vehicle behind it, for the poll room's tests only: text in, text out,
 * in virtual time. It keeps the habits of such adapters as common practice knows them: echo until
 * told otherwise, STOPPED when a byte comes while it is busy, an empty line repeats the last
 * request, the expected-reply-count digit. */
#ifndef HELP_ADAPTER_H
#define HELP_ADAPTER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { FAKE_QUEUE = 256, FAKE_ECUS = 2, FAKE_LOG = 4096 };

struct fake_chunk {
    int64_t t_us;
    char bytes[80];
    size_t n;
};

struct fake_ecu {
    const char *id;   /* "7E8", "18DAF110", or a K-line address "10" */
    const char *pids; /* supported service 01 PIDs: "01 03 05 .." */
    const char *vin;  /* NULL: none */
};

struct fake {
    /* Set before use. */
    unsigned baud; /* what it speaks; 0: any */
    int protocol;  /* 3, 5, 6, 7 */
    struct fake_ecu ecus[FAKE_ECUS];
    unsigned ecus_n;
    const char *monitors[FAKE_ECUS]; /* of service 06, masks too: "01 20 21"; NULL: none */
    unsigned latency_us;             /* from the request's CR to the first frame */
    unsigned wait_us;                /* for more answers, when it does not know their number */
    unsigned reset_us, search_us;
    bool no_echo; /* never */
    bool stuck_echo, stuck_spaces, stuck_linefeeds, stuck_headers_off;
    bool count_refused, count_ignored, count_cuts; /* cuts: two frames at most */
    unsigned monitor_tests;                        /* of each monitor, more than one */
    bool first_pid_only;
    bool bare;                             /* CAN frames are no longer than they must be */
    unsigned most_pids;                    /* more are met by BUFFER FULL; 0: no limit */
    const char *unknown;                   /* commands that it answers with ?, "ATAT1 ATDPN" */
    const char *no_data;                   /* supported PIDs that nevertheless are never answered */
    bool silent, garbage, hangs_in_search; /* in its own search, not in a named protocol */
    unsigned hang_us;                      /* 0: until it is powered off */
    bool vehicle_off;                      /* as if the ignition were off */
    bool pull_down_dpn;                    /* says A0 */
    /* One-shots for the next data request. */
    bool spoil; /* a byte of its first line */
    bool lose_prompt, self_reset, answer_pending, answer_busy, can_error, stop_word;
    /* Damage to characters of the tester's next texts, once, when hurt_at counts down to 0; or to
     * those of the echo. */
    int hurt_at; /* -1: never */
    int hurt;    /* 0..7 a wrong bit, 8 lost, 9 doubled, 10 it and the next one lost */
    bool hurt_echo;
    unsigned late_us; /* the answer comes this much later; what the tester sends meanwhile waits
                         in a buffer and is worked off then */
    unsigned prompt_late_us; /* behind every answer */
    bool queues;         /* never interrupted: what comes while it is busy is worked off later */
    unsigned withheld;   /* so often PID 20 is not answered */
    bool promised_first; /* the first of these times "pending" is said */
    uint8_t refuse_pid;  /* 7F 01 12 for this PID, always; 0 none */
    unsigned adaptive_wait_us; /* wait_us once ATAT2 is taken; 0: as before */
    unsigned loses_every;      /* then so many data requests are answered, and one is not; 0: all */
    const char *scaling;       /* the four bytes of PID 4F; NULL: the published steps */
    const char *frozen;        /* PIDs of the freeze frame, for service 02; NULL: no service 02 */

    /* Its state. */
    bool echo, linefeeds, spaces, headers, searched, named, adaptive;
    unsigned since_lost;
    char command[64], last[64];
    size_t command_n;
    struct fake_chunk queue[FAKE_QUEUE];
    unsigned head, n;
    int64_t busy_until_us, prompt_us, deaf_until_us;
    bool late;
    char held[64];
    size_t held_n;
    unsigned line_baud; /* what the tester uses */
    unsigned counter;   /* of sensor readings: each has a value of its own, modulo 200 */
    int64_t taken_us[200], taking_us; /* when the reading of that value was taken */

    /* What the tests look at. */
    unsigned interrupts;
    int64_t idle_us; /* between its prompts and the next request, data requests only */
    char log[FAKE_LOG][24];
    int64_t log_us[FAKE_LOG];
    unsigned log_n;
};

void fake_car(struct fake *f);   /* CAN 11/500, one engine ECU, switching sensors */
void fake_kline(struct fake *f); /* ISO 9141-2, about 8 requests a second */
void fake_write(struct fake *f, const char *bytes, size_t n, int64_t t_us);
int64_t fake_due_us(const struct fake *f);
/* Takes the oldest chunk; false when none is due at t_us. */
bool fake_read(struct fake *f, struct fake_chunk *out, int64_t t_us);
void fake_power(struct fake *f); /* off and on: settings and queue are gone */
void fake_say(struct fake *f, const char *text, int64_t t_us);
/* How many logged commands since `from` are exactly `text`. */
unsigned fake_count(const struct fake *f, const char *text, unsigned from);

/* Between help_adapter.c and help_vehicle.c. */
int64_t fake_line(struct fake *f, const char *text, int64_t t_us);
int64_t fake_message(struct fake *f, const struct fake_ecu *u, const uint8_t *d, size_t n,
                     unsigned *left, int64_t t_us);
int64_t fake_answers(struct fake *f, const uint8_t *req, size_t n, unsigned *left, int64_t t_us);

#endif

/* Inside the simulated adapter: four layers, each in its file.
 *
 *   adapter.c          time: serial line both ways, order of events, power
 *   adapter_command.c  AT commands and the dialect's settings
 *   adapter_request.c  a hex request from its first to its last state
 *   adapter_bus.c      the vehicle's bus: when ECUs answer, frames, checksums
 *   adapter_text.c     what is sent, character by character, noise included
 *   adapter_quirk.c    habits and faults that a scenario switches on
 *
 * The dialect is common practice from memory (docs/adapter-dialect.md); no standard governs it.
 */
#ifndef OXL_SIM_ADAPTER_H
#define OXL_SIM_ADAPTER_H

#include "sim/parts.h"

enum {
    OXL_AD_LINE = 64,   /* longest command */
    OXL_AD_REQUEST = 8, /* longest request in bytes, PCI included */
    OXL_AD_FRAMES = 64, /* frames under way on the bus */
    OXL_AD_FRAME = 16,  /* bytes of a frame */
    OXL_AD_TX = 8192,   /* characters waiting for the line */
    OXL_AD_RX = 2048,   /* characters under way to the adapter */
    OXL_AD_ECUS = 2,
    OXL_AD_ANSWERS = 12,
    OXL_AD_ASKS = 8 /* requests that ECUs have heard and not answered yet */
};

struct oxl_ad_char {
    int64_t t_us;
    uint8_t byte;
};

struct oxl_ad_queue {
    struct oxl_ad_char *at;
    size_t size, head, count;
};

/* What AT commands set; all back to default at reset and power-up. */
struct oxl_ad_dialect {
    bool echo, linefeeds, spaces, headers, formatting;
    unsigned protocol; /* asked for; 0 = automatic */
    bool automatic;    /* may search when `protocol` does not answer */
    unsigned found;    /* protocol in use; 0 = none yet */
    bool bus_ready;    /* K-line is initialised */
    unsigned adaptive; /* 0..2 */
    unsigned timeout;  /* counts of about 4 ms */
    uint32_t header, filter;
    unsigned header_digits, filter_digits; /* 0 = not set */
};

struct oxl_ad_frame {
    int64_t end_us; /* its last bit has arrived */
    unsigned ecu;   /* 0, 1 */
    uint32_t id;    /* CAN id */
    uint8_t len, data[OXL_AD_FRAME];
    bool first_of_many; /* asks for flow control */
};

/* An ECU that has heard a request and will answer. */
struct oxl_ad_ask {
    bool waiting;
    unsigned ecu;
    int64_t at_us;   /* it samples and starts to answer */
    bool pended;     /* it has said that the answer is pending */
    int64_t hold_us; /* the answer is ready then, and kept back for so long */
    bool ready;
    struct oxl_ecu_answer answer[OXL_AD_ANSWERS];
    size_t answers;
    uint8_t req[OXL_AD_REQUEST];
    size_t len;
};

/* An ECU's long CAN message, whose rest goes out after flow control. */
struct oxl_ad_message {
    uint8_t data[64];
    size_t len;
};

struct oxl_ad_bus {
    struct oxl_ad_ask ask[OXL_AD_ASKS];
    struct oxl_ad_message message[OXL_AD_ECUS];
    struct oxl_ad_frame frame[OXL_AD_FRAMES]; /* by end_us */
    size_t frames;
    int64_t quiet_from_us; /* end of the last message on the bus */
};

enum oxl_ad_phase {
    OXL_AD_IDLE,
    OXL_AD_SAY,    /* an AT command's answer is due */
    OXL_AD_RESET,  /* restarting; then the banner */
    OXL_AD_SEARCH, /* looking for the protocol */
    OXL_AD_WRONG,  /* asked for a protocol that the vehicle does not speak */
    OXL_AD_INIT,   /* K-line initialisation */
    OXL_AD_SEND,   /* the request goes to the bus */
    OXL_AD_LISTEN  /* answers arrive */
};

struct oxl_ad_job {
    enum oxl_ad_phase phase;
    int64_t due_us;   /* when the phase ends by itself */
    int64_t out_us;   /* delay of this command's answer on its way to the line */
    int64_t sent_us;  /* the request is over */
    int64_t heard_us; /* the last frame is over */
    unsigned count;   /* replies to wait for; 0 = until the timeout */
    unsigned got;
    bool searched;
    bool deaf; /* what is being said now cannot be stopped */
    char text[OXL_AD_LINE];
};

struct oxl_adapter {
    struct oxl_adapter_settings set;
    struct oxl_ecu_settings ecu;
    struct oxl_adapter_hooks hooks;
    struct oxl_random chance; /* latency, answers */
    struct oxl_random noise;  /* garbage and wrong speeds */
    struct oxl_ad_queue rx, tx;
    struct oxl_ad_char rx_store[OXL_AD_RX], tx_store[OXL_AD_TX];
    int64_t rx_free_ns, tx_free_ns; /* when each direction of the line is free again */
    int64_t now_us;                 /* events are handled up to here */
    int64_t busy_until_us;          /* the prompt has left */
    bool garbled;                   /* the tester listens and talks at another speed */
    int64_t deaf_until_us;          /* after such characters */
    bool asleep;
    char line[OXL_AD_LINE];
    size_t line_len;
    bool line_bad; /* too long */
    struct oxl_ad_dialect dialect;
    struct oxl_ad_job job;
    uint8_t last[OXL_AD_REQUEST]; /* last request, repeated by an empty command */
    size_t last_len;
    unsigned last_count;
    int64_t next_reset_us, next_banner_us; /* by itself; INT64_MAX never */
    double learned_ms;                     /* about the longest answer lately; 0 = none yet */
    struct oxl_ad_bus bus;
    uint64_t heard[256];    /* requests that the vehicle heard, by service */
    uint64_t changing[256]; /* those of them that an ECU might carry out as a change */
};

/* ---- adapter.c ---- */
void oxl_ad_defaults(struct oxl_adapter *a);
int64_t oxl_ad_char_ns(const struct oxl_adapter *a);
/* Behind the others; it has arrived at that time. There is room. */
void oxl_ad_queue(struct oxl_ad_queue *q, int64_t ns, uint8_t byte);
/* A command's latency, half on its way in and half on its way out. */
int64_t oxl_ad_half_latency_us(struct oxl_adapter *a);

/* ---- adapter_text.c: each says at t_us or as soon as the line is free ---- */
void oxl_ad_put(struct oxl_adapter *a, int64_t t_us, uint8_t byte);
void oxl_ad_say(struct oxl_adapter *a, int64_t t_us, const char *text);
void oxl_ad_eol(struct oxl_adapter *a, int64_t t_us);
void oxl_ad_line(struct oxl_adapter *a, int64_t t_us, const char *text);
void oxl_ad_prompt(struct oxl_adapter *a, int64_t t_us);
void oxl_ad_frame_line(struct oxl_adapter *a, int64_t t_us, const struct oxl_ad_frame *f);
void oxl_ad_drop_unsent(struct oxl_adapter *a, int64_t t_us);

/* ---- adapter_quirk.c ---- */
void oxl_ad_quirk_start(struct oxl_adapter *a);
/* Is the character that comes now to be taken later? */
bool oxl_ad_keeps(const struct oxl_adapter *a, int64_t t_us);
/* Does the character that has come get no further? */
bool oxl_ad_misses(struct oxl_adapter *a, int64_t t_us);
bool oxl_ad_named(const char *names, const char *command);
/* How often a character goes over the line: 0 lost, 1, 2 doubled. */
int oxl_ad_copies(struct oxl_adapter *a);
/* The character with one wrong bit, now and then. */
uint8_t oxl_ad_flipped(struct oxl_adapter *a, uint8_t byte);
bool oxl_ad_chance(struct oxl_adapter *a, double pct);
unsigned oxl_ad_count_meant(const struct oxl_adapter *a, unsigned digit);
void oxl_ad_pad(struct oxl_adapter *a, struct oxl_ad_frame *f, size_t used);
int64_t oxl_ad_quirk_next_us(const struct oxl_adapter *a);
void oxl_ad_quirk_step(struct oxl_adapter *a, int64_t t_us);

/* ---- adapter_command.c ---- */
/* text: upper case without spaces. Carries out an AT command; the answer goes to job. */
void oxl_ad_command(struct oxl_adapter *a, const char *text, int64_t t_us);
const char *oxl_ad_banner(void);

/* ---- adapter_request.c ---- */
/* A whole line has arrived: command, request or empty. */
void oxl_ad_line_in(struct oxl_adapter *a, const char *text, bool bad, int64_t t_us);
void oxl_ad_phase_over(struct oxl_adapter *a, int64_t t_us);
void oxl_ad_frame_in(struct oxl_adapter *a, const struct oxl_ad_frame *f);
void oxl_ad_interrupt(struct oxl_adapter *a, int64_t t_us);
int64_t oxl_ad_wait_us(const struct oxl_adapter *a, double longest_ms);

/* ---- adapter_bus.c ---- */
bool oxl_ad_is_can(unsigned protocol);
bool oxl_ad_is_can29(unsigned protocol);
bool oxl_ad_is_kline(unsigned protocol);
/* When a request sent as soon as possible after t_us would be over. */
int64_t oxl_ad_bus_send(struct oxl_adapter *a, int64_t t_us);
int64_t oxl_ad_bus_next_us(const struct oxl_adapter *a);
/* Handles the bus event due next, at its time. */
void oxl_ad_bus_step(struct oxl_adapter *a);
void oxl_ad_flow_control(struct oxl_adapter *a, const struct oxl_ad_frame *first);
int64_t oxl_ad_bus_init_us(unsigned protocol);
/* How long what is on the bus takes there. */
int64_t oxl_ad_bus_request_us(unsigned protocol, size_t bytes);
int64_t oxl_ad_bus_message_us(unsigned protocol, size_t bytes);
int64_t oxl_ad_bus_next_frame_us(unsigned protocol, bool after_first);
int64_t oxl_ad_bus_gap_us(unsigned protocol);
void oxl_ad_answer_range_ms(const struct oxl_adapter *a, double *min, double *max);

#endif

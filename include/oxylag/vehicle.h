/* Vehicle: what an ECU's messages mean. Pure functions over payload bytes.
 *
 * Source of every scaling: SAE J1979 / ISO 15031-5 service 01 tables as published in public
 * parameter tables; each table row in src/vehicle names what it rests on.
 */
#ifndef OXYLAG_VEHICLE_H
#define OXYLAG_VEHICLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/channel.h"
#include "oxylag/wire.h"

/* Service 01 support bits, PID 00..FF. */
struct oxl_support {
    uint8_t bits[32];
};
bool oxl_supports(const struct oxl_support *s, uint8_t pid);
void oxl_support_put(struct oxl_support *s, uint8_t pid, bool supported);
/* Adds the four mask bytes of PID `mask_pid` (00, 20, 40, ...). */
void oxl_support_add(struct oxl_support *s, uint8_t mask_pid, const uint8_t mask[4]);

/* Where the oxygen sensors sit: PID 13 (two banks of four) or PID 1D (four banks of two). */
enum oxl_layout_kind { OXL_LAYOUT_UNKNOWN = 0, OXL_LAYOUT_13, OXL_LAYOUT_1D };

/* Full scales from PIDs 4F and 50; 0 = keep the published step. */
struct oxl_scaling {
    uint8_t lambda_max, o2_max_v, o2_max_ma, map_max_10kpa, air_max_10g_s;
};

/* How many bytes the trims have, PIDs 06-09 or 55-58. The layout says what is due; the answers
 * say what is sent. */
enum oxl_trim_form { OXL_TRIMS_UNSEEN = 0, OXL_TRIMS_AS_DUE, OXL_TRIMS_ONE, OXL_TRIMS_TWO };

/* What decoding needs to know about the ECU; all zero is a valid start. */
struct oxl_decoding {
    enum oxl_layout_kind layout;
    uint8_t sensors;           /* the layout PID's byte */
    uint8_t trims, rear_trims; /* enum oxl_trim_form */
    struct oxl_scaling scaling;
};

/* Number of data bytes of a service 01 PID as sent by this kind of unit, 0 when unknown. PIDs
 * 06-09 and 55-58 are one or two bytes: the answer to a single-PID request tells, so
 * `single_len` (data bytes left in a single-PID answer, 0 in a multi-PID one) decides there. */
size_t oxl_pid_length(uint8_t pid, const struct oxl_decoding *d, size_t single_len);

/* Keeps in d which form the trims of this answer have, where all of it is PIDs that were asked. */
void oxl_learn_trims(struct oxl_decoding *d, const struct oxl_message *m, const uint8_t *pids,
                     unsigned n);

/* The channel of an oxygen-sensor PID (14-1B, 24-2B, 34-3B) under a layout; quantity NONE when
 * the PID is no such PID. Under an unknown layout the PID-13 order is used. */
struct oxl_channel oxl_sensor_channel(uint8_t pid, enum oxl_layout_kind layout);

/* Decodes a positive service 01 answer (41 PID data [PID data ...]) into samples. Values that
 * the standard marks as "not used" (trim byte FF) give no sample. Returns the number of samples
 * written (at most max). *clean is false when bytes were left over, too short, or an PID was
 * not known; what was decoded before that point stands. PIDs that carry no channel (01, 13,
 * 1D, 4F, 50, masks) are skipped cleanly. */
size_t oxl_decode_live(const struct oxl_message *m, const struct oxl_decoding *d, int64_t sent_us,
                       struct oxl_sample *out, size_t max, bool *clean);

/* Finds the data bytes of `PID` in a positive service 01 answer; NULL when it is not there. */
const uint8_t *oxl_find_pid(const struct oxl_message *m, const struct oxl_decoding *d, uint8_t pid,
                            size_t *len);
/* The same of n PIDs (32 at most) at once: bit i says that PIDs[i] is there; *bytes is what they
 * take together with their numbers. */
uint32_t oxl_find_pids(const struct oxl_message *m, const struct oxl_decoding *d,
                       const uint8_t *pids, unsigned n, size_t *bytes);

/* A trouble code as text, "P0420". out holds 6 bytes. (SAE J2012 / ISO 15031-6) */
void oxl_dtc_text(uint16_t code, char out[6]);

enum oxl_dtc_kind { OXL_DTC_STORED, OXL_DTC_PENDING, OXL_DTC_PERMANENT, OXL_DTC_KINDS };
extern const char *const oxl_dtc_kind_names[OXL_DTC_KINDS]; /* "stored", "pending", "permanent" */
enum { OXL_MAX_DTCS = 32 };
struct oxl_dtc_list {
    uint16_t codes[OXL_MAX_DTCS];
    size_t n;
    bool known;
};
/* The one that the answers of this service go to; NULL: of no such service. */
struct oxl_dtc_list *oxl_dtc_list_of(struct oxl_dtc_list lists[OXL_DTC_KINDS], uint8_t service);
/* Codes of a service 03, 07 or 0A answer; can says whether there is a count byte (ISO 15765-4)
 * or three padded codes a message (K-line, J1850). Adds to list[*n], at most max. 0000 is no
 * code. False when the message is malformed. */
bool oxl_decode_dtcs(const struct oxl_message *m, bool can, uint16_t *list, size_t *n, size_t max);

/* Readiness, PID 01 (or 41 with this-cycle meaning). X(id, word for programs, words for people). */
#define OXL_MONITORS(X)                                                                            \
    X(MISFIRE, "misfire", "misfire")                                                               \
    X(FUEL, "fuel", "fuel system")                                                                 \
    X(COMPONENTS, "components", "components")                                                      \
    X(CATALYST, "catalyst", "catalyst")                                                            \
    X(HEATED_CATALYST, "heated_catalyst", "heated catalyst")                                       \
    X(EVAP, "evap", "evaporative system")                                                          \
    X(SECONDARY_AIR, "secondary_air", "secondary air")                                             \
    X(AC_OR_FILTER, "ac_or_filter", "A/C or particulate filter")                                   \
    X(O2_SENSOR, "o2_sensor", "oxygen sensor")                                                     \
    X(O2_HEATER, "o2_heater", "sensor heater")                                                     \
    X(EGR, "egr", "EGR")                                                                           \
    /* compression ignition */                                                                     \
    X(NMHC_CATALYST, "nmhc_catalyst", "NMHC catalyst")                                             \
    X(NOX_SCR, "nox_scr", "NOx catalyst")                                                          \
    X(BOOST, "boost", "boost pressure")                                                            \
    X(GAS_SENSOR, "exhaust_gas_sensor", "exhaust gas sensor")                                      \
    X(PM_FILTER, "pm_filter", "particulate filter")

enum oxl_monitor {
#define X(id, word, words) OXL_MON_##id,
    OXL_MONITORS(X)
#undef X
        OXL_MON_COUNT
};
const char *oxl_monitor_word(enum oxl_monitor m); /* "catalyst", "o2_sensor": for programs */
struct oxl_readiness {
    bool known, mil_on, compression_ignition;
    unsigned stored_dtcs;
    /* Those of the other kind of ignition are false. */
    bool supported[OXL_MON_COUNT], complete[OXL_MON_COUNT];
};
bool oxl_decode_readiness(const uint8_t data[4], struct oxl_readiness *out);

/* The VIN from a service 09 PID 02 answer. On CAN one message holds it; on K-line
 * five messages of four bytes: pass each; *have is the bit set of parts seen (0 at first).
 * True once out (18 bytes) is complete. Only characters legal in ISO 3779 are kept. */
bool oxl_decode_vin(const struct oxl_message *m, bool can, char out[18], unsigned *have);

/* The US check digit of 49 CFR 565.15(c) (position 9); false also for a number of wrong form. */
bool oxl_vin_check_digit(const char vin[18]);

/* A result of one of the vehicle's own monitors, service 06 or 05 (decoded in onboard.h). Numbers
 * as sent; their meaning hangs on `scale`. On K-line and J1850 the manufacturer numbers the tests
 * and keeps the scales to himself. */
enum oxl_limit_form {
    OXL_LIMITS_BOTH = 0, /* CAN: value between min and max */
    OXL_LIMIT_MAX,       /* K-line, J1850: the limit is a maximum */
    OXL_LIMIT_MIN,       /* likewise a minimum */
    OXL_LIMITS_BYTES     /* K-line, J1850, service 05: single bytes, scaled by the test's number */
};
struct oxl_monitor_result {
    uint32_t ecu;
    uint8_t form;      /* enum oxl_limit_form */
    uint8_t monitor;   /* CAN, service 05: 01 O2 sensor B1S1 .. 21 catalyst bank 1 ..; else 0 */
    uint8_t test;      /* test within the monitor; 80 and above: the manufacturer's own */
    uint8_t scale;     /* CAN: unit and scaling id; else 0 */
    uint8_t component; /* K-line, J1850: which part; else 0 */
    uint16_t value, min, max;
};

/* Everything learnt about the vehicle under test. Plain data; unknown is empty, false or NAN. */
enum { OXL_KEPT_RESULTS = 24 };
struct oxl_vehicle {
    enum oxl_protocol protocol;
    char adapter[64];               /* the adapter's own line, printable ASCII only */
    uint32_t ecu;                   /* the unit that is listened to; 0 unknown */
    unsigned ecus_seen;             /* how many answered the first request */
    struct oxl_support support;     /* what it announced, as far as it proved true */
    struct oxl_support silent;      /* announced and never answered: not in `support` */
    struct oxl_support unannounced; /* answered although not announced: in `support` */
    struct oxl_support still;       /* wide-range PIDs whose lambda stands still: not used */
    uint8_t volts_pid; /* of these the one whose voltage moves, and is the sensor; 0 none */
    struct oxl_decoding decoding;
    struct oxl_readiness readiness;
    char vin[18];                            /* "" unknown */
    struct oxl_dtc_list dtcs[OXL_DTC_KINDS]; /* of every ECU */
    /* Catalyst and oxygen sensor monitors of the ECU that is listened to. */
    struct oxl_monitor_result results[OXL_KEPT_RESULTS];
    size_t results_n;
    bool results_known; /* asked for and answered */
    bool multi_pid;     /* several PIDs in a request were answered */
    bool reply_count;   /* the expected-reply-count digit works */
    bool survey_done;   /* all of the above has been asked for */
};

/* The channels that the test watches on one bank, found from what is supported. */
enum oxl_sensor_kind { OXL_SENSOR_NONE = 0, OXL_SENSOR_SWITCHING, OXL_SENSOR_WIDE };
const char *oxl_sensor_kind_name(enum oxl_sensor_kind kind); /* for a person */
struct oxl_pair {
    enum oxl_sensor_kind front_kind, rear_kind;
    /* O2_V or LAMBDA; WIDE_V where that is a switching sensor's (volts_pid); NONE when missing */
    struct oxl_channel front, rear;
    uint8_t front_pid, rear_pid; /* the service 01 PIDs to ask */
};
/* Sensor 1 is the front; the rear is the first sensor of the bank behind it (2, else 3, else
 * 4): the one that watches the monitored brick. A sensor listed
 * both as wide-range and as switching is taken as wide-range. A bank 2 with a front and no rear of
 * its own shares bank 1's (the exhausts join ahead of it): its pair has bank 1's rear channel. */
struct oxl_pair oxl_vehicle_pair(const struct oxl_vehicle *v, unsigned bank);

/* The PIDs that this sensor may have, announced or not, in the order of preference; none where the
 * layout does not list it. Returns their number. */
enum { OXL_SENSOR_FORMS = 3 };
unsigned oxl_sensor_forms(const struct oxl_decoding *d, unsigned bank, unsigned sensor,
                          uint8_t pids[OXL_SENSOR_FORMS]);

#endif

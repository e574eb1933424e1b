/* Onboard: what the vehicle's own diagnosis keeps. Results of its monitors (service 06), the
 * freeze frame (02), what its ECUs say of themselves (09), and what trouble codes mean.
 * Pure functions over payload bytes; clauses: SAE J1979 / ISO 15031-5.
 */
#ifndef OXYLAG_ONBOARD_H
#define OXYLAG_ONBOARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/vehicle.h"

/* ---- monitor results, service 06 ------------------------------------------------------------ */
/* Reads a service 06 answer into out. Returns how many were written (at most max); *clean is
 * false when bytes were left over. Answers to a support mask give none. */
size_t oxl_decode_monitor(const struct oxl_message *m, bool can, struct oxl_monitor_result *out,
                          size_t max, bool *clean);
/* Adds the numbers of a support mask's answer (46 00 ..); false when it is none. */
bool oxl_decode_monitor_mask(const struct oxl_message *m, bool can, struct oxl_support *s);

/* ---- results of the oxygen sensors' monitors, service 05; CAN does not know it --------------- */
enum { OXL_SENSOR_TEST_FIRST = 0x05, OXL_SENSOR_TEST_LAST = 0x0A }; /* 01-04 are constants */
/* The number that CAN gives to the monitor of the sensor at this place (0-7) of PID 13 or 1D; 0
 * when the layout is not known. */
uint8_t oxl_sensor_monitor(unsigned place, enum oxl_layout_kind layout);
/* Reads the answer to 05 `test` `1 << place`; false when it is another one, or a constant. */
bool oxl_decode_sensor_test(const struct oxl_message *m, unsigned place,
                            enum oxl_layout_kind layout, struct oxl_monitor_result *out);
/* Likewise to 05 00: the tests of this sensor. */
bool oxl_decode_sensor_mask(const struct oxl_message *m, unsigned place, struct oxl_support *s);

/* A unit-and-scaling id. Ids that are known by hearsay only are not in the table: raw numbers,
 * no verdict. Above 7F the numbers are two's complement, known or not. */
struct oxl_scale {
    const char *unit; /* "V", "ms"; "" for a plain number */
    double step, offset;
    bool is_signed;
};
bool oxl_scale_of(uint8_t id, struct oxl_scale *out);

enum oxl_monitor_verdict {
    OXL_MONITOR_UNKNOWN = 0, /* scale not known, or limits that contradict each other */
    OXL_MONITOR_NOT_RUN,     /* all zero: not completed since the codes were cleared */
    OXL_MONITOR_PASSED,
    OXL_MONITOR_FAILED
};
enum oxl_monitor_verdict oxl_monitor_verdict(const struct oxl_monitor_result *r);
const char *oxl_monitor_verdict_name(enum oxl_monitor_verdict v); /* "unknown", "not run", .. */

/* The numbers of a result in its unit; NAN where unknown or where no such limit applies (the end
 * of the range stands for "no limit"). K-line and J1850: counts. */
struct oxl_monitor_figures {
    double value, min, max;
    double margin;     /* to the nearer limit that applies; negative when failed */
    double margin_pct; /* of the span between the limits, or of the only limit */
    const char *unit;  /* "" for plain numbers and for counts */
};
struct oxl_monitor_figures oxl_monitor_figures(const struct oxl_monitor_result *r);

/* What is monitored, "Catalyst, bank 1"; what is tested, "Sensor voltage, lowest". */
void oxl_monitor_title(const struct oxl_monitor_result *r, char *out, size_t n);
void oxl_test_title(const struct oxl_monitor_result *r, char *out, size_t n);
/* Whose monitor: 0 when the number says nothing of it. */
unsigned oxl_monitor_bank(uint8_t monitor);
/* A test that only the manufacturer can tell apart, counted by component: on K-line and J1850. */
bool oxl_monitor_by_component(const struct oxl_monitor_result *r);
bool oxl_monitor_is_catalyst(uint8_t monitor); /* 21-24 */
bool oxl_monitor_is_sensor(uint8_t monitor);   /* 01-10 */

/* ---- freeze frame, service 02 --------------------------------------------------------------- */
/* The code that stored the frame; 0: there is none. False when it is no such answer. */
bool oxl_decode_freeze_frame_dtc(const struct oxl_message *m, uint16_t *code);
/* As oxl_decode_live, of frame 00. */
size_t oxl_decode_freeze_frame(const struct oxl_message *m, const struct oxl_decoding *d,
                               struct oxl_sample *out, size_t max, bool *clean);

/* ---- identity of ECUs, service 09 ----------------------------------------------------------- */
enum { OXL_INFO_BYTES = 128, OXL_MAX_CALIBRATIONS = 6 };
/* Collects the answer to one PID from one ECU: on CAN one message, else numbered messages of
 * four bytes. All zero at first. */
struct oxl_info {
    uint8_t bytes[OXL_INFO_BYTES];
    size_t len;     /* without gaps from the first byte on */
    uint32_t parts; /* K-line, J1850: those seen */
};
bool oxl_decode_info(const struct oxl_message *m, bool can, uint8_t pid, struct oxl_info *info);
size_t oxl_info_calibrations(const struct oxl_info *i, char out[OXL_MAX_CALIBRATIONS][17]);
size_t oxl_info_verifications(const struct oxl_info *i, uint32_t out[OXL_MAX_CALIBRATIONS]);
void oxl_info_name(const struct oxl_info *i, char out[24]); /* "ECM-EngineControl" */

/* ---- trouble codes -------------------------------------------------------------------------- */
enum oxl_dtc_weight {
    OXL_DTC_NEUTRAL = 0, /* does not disturb this test */
    OXL_DTC_SUBJECT,     /* about the converter itself: why one tests */
    OXL_DTC_DISTURBS,    /* repair first, or prove the part in question */
    OXL_DTC_FORBIDS,     /* do not add gas before it is repaired */
    OXL_DTC_UNKNOWN      /* the manufacturer's own, or not in the table */
};
struct oxl_dtc_family {
    const char *id, *title; /* "misfire", "Misfire" */
    uint8_t weight;         /* enum oxl_dtc_weight */
    uint8_t reason;         /* enum oxl_reason: what it says of a run; COUNT none */
    bool whole_engine;      /* also when the code names the other bank */
    const char *effect;     /* on this test */
    const char *next;       /* what to do */
};
/* Never NULL; codes outside the table are of the family "other" or "unknown". */
const struct oxl_dtc_family *oxl_dtc_family(uint16_t code);
/* What the code says, in generic words. */
void oxl_dtc_words(uint16_t code, char *out, size_t n);
/* The bank, and the sensor, that the code names; 0 when it names none. */
unsigned oxl_dtc_bank(uint16_t code);
unsigned oxl_dtc_sensor(uint16_t code);
/* P1xxx, P30xx to P33xx and the like: only the manufacturer's list has it. */
bool oxl_dtc_is_manufacturers(uint16_t code);

/* ---- all that an inspection asks for -------------------------------------------------------- */
enum { OXL_MAX_ECUS = 8, OXL_MAX_RESULTS = 192, OXL_MAX_FROZEN = 40 };
struct oxl_ecu_info {
    uint32_t ecu;
    char name[24]; /* "" unknown */
    char calibration[OXL_MAX_CALIBRATIONS][17];
    uint32_t verification[OXL_MAX_CALIBRATIONS];
    size_t calibration_n, verification_n;
    struct oxl_readiness readiness; /* since the codes were cleared, PID 01 */
    struct oxl_readiness cycle;     /* this driving cycle, PID 41: "supported" means enabled */
    struct oxl_dtc_list dtcs[OXL_DTC_KINDS];
};
struct oxl_onboard {
    struct oxl_ecu_info ecus[OXL_MAX_ECUS];
    size_t ecus_n;
    struct oxl_monitor_result results[OXL_MAX_RESULTS];
    size_t results_n;
    bool results_known; /* service 06 was answered */
    bool results_cut;   /* there were more */
    bool frozen_known;
    uint16_t freeze_frame_dtc; /* 0: no frame */
    struct oxl_sample frozen[OXL_MAX_FROZEN];
    size_t frozen_n;
    bool done; /* everything has been asked for */
};

#endif

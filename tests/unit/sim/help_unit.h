/* A simulated adapter with a fixed vehicle on a desk, talked to in virtual time. */
#ifndef OXL_HELP_ECU_H
#define OXL_HELP_ECU_H

#include "sim/parts.h"

struct rig {
    struct oxl_adapter_settings set;
    struct oxl_ecu_settings ecu;
    struct oxl_readout readout;
    uint64_t seed;
    struct oxl_adapter *adapter;
    int64_t t_us;     /* now */
    unsigned baud;    /* the tester's */
    unsigned asked;   /* readouts taken */
    int64_t asked_us; /* moment of the last one */
    bool went_back;   /* a readout was asked for an earlier moment than the one before */
    int64_t first_us; /* when the first byte of the last reply came */
    char reply[4096]; /* CR as '|', LF as '/', bytes past 7E as '~', NUL as '0' with '\\' */
    size_t raw_len;
};

/* Default settings and a warm idling engine with one bank, switching sensors. */
void rig_defaults(struct rig *r);
void rig_open(struct rig *r);
void rig_close(struct rig *r);
/* Default settings, echo, linefeeds and spaces off, headers on; the protocol is found already. */
void rig_ready(struct rig *r);
void rig_send(struct rig *r, const char *text);
/* Runs until a '>' (true) or until nothing more comes or limit_us has passed. */
bool rig_wait(struct rig *r, int64_t limit_us);
/* Sends text with CR, waits for the prompt; the whole reply, prompt included. */
const char *rig_ask(struct rig *r, const char *text);
void rig_quiet(struct oxl_readout *out); /* every value unknown */

/* One answer of the engine ECU to a request in hex, as hex ("" = silence). CAN form when can. */
const char *unit_hex(const struct oxl_ecu_settings *u, const struct oxl_readout *r, bool can,
                     const char *request);
size_t hex_bytes(const char *hex, uint8_t *out, size_t max);

/* Writes the CAN frames of adapter replies (headers on, spaces off) to a classic pcap file. */
struct capture; /* opaque */
struct capture *capture_open(const char *path);
size_t capture_reply(struct capture *c, const char *reply); /* returns frames written */
void capture_close(struct capture *c);
/* Runs tshark over the capture with the obd-ii dissector; rows of the given fields, joined by
 * tabs. Fails the test when tshark is missing or fails. Returns the number of rows. */
size_t tshark_rows(const char *path, const char *dissector, const char *fields, char rows[][256],
                   size_t max);

#endif

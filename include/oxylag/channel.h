/* Channels and samples: a decoded value with the times between which the vehicle took it.
 *
 * Unknown is a value: a reading that the vehicle did not give is NAN (or absent), never 0.
 * All times are microseconds on the session's own monotonic clock, 0 at the start of the
 * session.
 */
#ifndef OXYLAG_CHANNEL_H
#define OXYLAG_CHANNEL_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

enum { OXL_BANKS = 4, OXL_SENSORS = 4 };

/* What a channel measures; SAE J1979 / ISO 15031-5 service 01 PID numbers in brackets. Short-term
 * and long-term trims are negative when the ECU takes fuel out. X(id, name, unit), as
 * oxl_channel_name joins them. */
#define OXL_QUANTITIES(X)                                                                          \
    X(STFT_PCT, "stft", "pct") /* short-term fuel trim of a bank (06, 08); -100..99.2 % */         \
    X(LTFT_PCT, "ltft", "pct") /* long-term fuel trim of a bank (07, 09); -100..99.2 % */          \
    X(REAR_STFT_PCT, "rear_stft", "pct") /* short-term secondary sensor trim of a bank (55, 57) */ \
    X(REAR_LTFT_PCT, "rear_ltft", "pct") /* long-term secondary sensor trim of a bank (56, 58) */  \
    X(O2_V, "o2", "v")                   /* switching sensor (14-1B); 0..1.275 V */                \
    X(O2_TRIM_PCT, "o2_trim", "pct") /* trim tied to that sensor; absent when the byte is FF */    \
    X(LAMBDA, "lambda", "")          /* wide-range sensor (24-2B, 34-3B); 0..<2, scaled */         \
    X(WIDE_V, "wide", "v")           /* the volts that go with it (24-2B) */                       \
    X(WIDE_MA, "wide", "ma")         /* the current that goes with it (34-3B); -128..128 mA */     \
    /* catalyst temperature, bank and position (3C-3F); -40..6513 C */                             \
    X(CAT_TEMP_C, "cat_temp", "c")                                                                 \
    /* status code of fuel system 1 or 2 in `bank` (03), bit-coded */                              \
    X(FUEL_SYSTEM, "fuel_system", "")                                                              \
    X(LOAD_PCT, "load", "pct")         /* calculated load (04) */                                  \
    X(COOLANT_C, "coolant", "c")       /* (05); -40..215 C */                                      \
    X(MAP_KPA, "map", "kpa")           /* intake manifold absolute pressure (0B) */                \
    X(RPM, "rpm", "")                  /* engine speed (0C); 0..16383.75 */                        \
    X(SPEED_KMH, "speed", "kmh")       /* vehicle speed (0D) */                                    \
    X(INTAKE_C, "intake", "c")         /* intake air temperature (0F) */                           \
    X(AIR_G_S, "air", "g_s")           /* mass air flow (10; 66 when 10 is missing: A plus B) */   \
    X(THROTTLE_PCT, "throttle", "pct") /* absolute throttle position (11) */                       \
    X(SECONDARY_AIR, "secondary_air", "")       /* commanded secondary air status code (12) */     \
    X(RUN_TIME_S, "run_time", "s")              /* time since engine start (1F) */                 \
    X(COMMANDED_LAMBDA, "commanded_lambda", "") /* (44) shown only; never used for direction */    \
    X(FUEL_TYPE, "fuel_type", "")               /* code (51) */                                    \
    X(FUEL_RATE_L_H, "fuel_rate", "l_h")        /* (5E) */                                         \
    X(MODULE_V, "module", "v")                  /* supply voltage of the ECU (42) */

enum oxl_quantity {
    OXL_Q_NONE = 0,
#define X(id, name, unit) OXL_Q_##id,
    OXL_QUANTITIES(X)
#undef X
        OXL_Q_COUNT
};

/* bank 1..4 and sensor 1..4; 0 where the quantity belongs to the whole engine. */
struct oxl_channel {
    uint8_t quantity; /* enum oxl_quantity */
    uint8_t bank;
    uint8_t sensor;
};

enum { OXL_CHANNEL_SLOTS = OXL_Q_COUNT * (OXL_BANKS + 1) * (OXL_SENSORS + 1) };

static inline struct oxl_channel oxl_channel(enum oxl_quantity quantity, unsigned bank,
                                             unsigned sensor)
{
    struct oxl_channel c = {(uint8_t)quantity, (uint8_t)bank, (uint8_t)sensor};
    return c;
}

/* Dense index, 0..OXL_CHANNEL_SLOTS-1, for tables. */
static inline unsigned oxl_channel_slot(struct oxl_channel c)
{
    return ((unsigned)c.quantity * (OXL_BANKS + 1) + c.bank) * (OXL_SENSORS + 1) + c.sensor;
}

static inline bool oxl_channel_same(struct oxl_channel a, struct oxl_channel b)
{
    return a.quantity == b.quantity && a.bank == b.bank && a.sensor == b.sensor;
}

/* A short stable name for programs and files: "stft_b1_pct", "lambda_b1s1", "o2_b1s2_v",
 * "rpm", "air_g_s". Writes at most n bytes, always NUL-terminated. */
void oxl_channel_name(struct oxl_channel c, char *out, unsigned n);
/* The channel of such a name; false when there is none. */
bool oxl_channel_from_name(const char *name, struct oxl_channel *out);

/* The vehicle took the value at an unknown moment in [sent_us, recv_us]. Samples decoded from
 * one reply share both times. */
struct oxl_sample {
    struct oxl_channel channel;
    double value;
    int64_t sent_us; /* request left   */
    int64_t recv_us; /* first byte of the line that carries the value arrived */
    uint32_t ecu;    /* answering ECU: CAN id, or K-line source address */
};

static inline bool oxl_known(double v)
{
    return !isnan(v);
}

#define OXL_S_US(s) ((int64_t)((s)*1e6))

/* Of two deadlines; INT64_MAX is never. */
static inline int64_t oxl_earlier_us(int64_t a_us, int64_t b_us)
{
    return a_us < b_us ? a_us : b_us;
}

#endif

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

/* What a channel measures; SAE J1979 / ISO 15031-5 service 01 PID numbers in brackets.
 * Short-term and long-term trims are negative when the unit takes fuel out. */
enum oxl_quantity {
    OXL_Q_NONE = 0,
    OXL_Q_STFT_PCT,         /* short-term fuel trim of a bank (06, 08)            -100..99.2 % */
    OXL_Q_LTFT_PCT,         /* long-term fuel trim of a bank (07, 09)             -100..99.2 % */
    OXL_Q_REAR_STFT_PCT,    /* short-term secondary sensor trim of a bank (55, 57)             */
    OXL_Q_REAR_LTFT_PCT,    /* long-term secondary sensor trim of a bank (56, 58)              */
    OXL_Q_O2_V,             /* switching sensor (14-1B)                           0..1.275 V   */
    OXL_Q_O2_TRIM_PCT,      /* trim tied to that sensor; absent when the byte is FF            */
    OXL_Q_LAMBDA,           /* wide-range sensor (24-2B, 34-3B)                   0..<2, scaled */
    OXL_Q_WIDE_V,           /* the volts that go with it (24-2B)                               */
    OXL_Q_WIDE_MA,          /* the current that goes with it (34-3B)              -128..128 mA */
    OXL_Q_CAT_TEMP_C,       /* catalyst temperature, bank and position (3C-3F)    -40..6513 C  */
    OXL_Q_FUEL_SYSTEM,      /* status code of fuel system 1 or 2 in `bank` (03), bit-coded     */
    OXL_Q_LOAD_PCT,         /* calculated load (04)                                            */
    OXL_Q_COOLANT_C,        /* (05)                                               -40..215 C   */
    OXL_Q_MAP_KPA,          /* intake manifold absolute pressure (0B)                          */
    OXL_Q_RPM,              /* engine speed (0C)                                  0..16383.75  */
    OXL_Q_SPEED_KMH,        /* vehicle speed (0D)                                              */
    OXL_Q_INTAKE_C,         /* intake air temperature (0F)                                     */
    OXL_Q_AIR_G_S,          /* mass air flow (10; 66 when 10 is missing: A plus B)             */
    OXL_Q_THROTTLE_PCT,     /* absolute throttle position (11)                                 */
    OXL_Q_SECONDARY_AIR,    /* commanded secondary air status code (12)                        */
    OXL_Q_RUN_TIME_S,       /* time since engine start (1F)                                    */
    OXL_Q_COMMANDED_LAMBDA, /* (44) shown only; never used for direction                       */
    OXL_Q_FUEL_TYPE,        /* code (51)                                                       */
    OXL_Q_FUEL_RATE_L_H,    /* (5E)                                                            */
    OXL_Q_MODULE_V,         /* supply voltage of the ECU (42)                                  */
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

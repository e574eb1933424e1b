#include "oxylag/vehicle.h"

bool oxl_supports(const struct oxl_support *s, uint8_t pid)
{
    return (s->bits[pid >> 3] >> (pid & 7)) & 1;
}

void oxl_support_put(struct oxl_support *s, uint8_t pid, bool supported)
{
    uint8_t bit = (uint8_t)(1U << (pid & 7));
    s->bits[pid >> 3] = (uint8_t)(supported ? s->bits[pid >> 3] | bit : s->bits[pid >> 3] & ~bit);
}

/* Bit 7 of the first byte is PID mask_pid + 1, bit 0 of the last is mask_pid + 32, which also
 * says that the next mask can be asked for (ISO 15031-5). */
void oxl_support_add(struct oxl_support *s, uint8_t mask_pid, const uint8_t mask[4])
{
    for (unsigned n = 1; n <= 32; n++) {
        unsigned pid = mask_pid + n;
        if (pid <= 0xFF && (mask[(n - 1) / 8] >> (7 - (n - 1) % 8)) & 1)
            oxl_support_put(s, (uint8_t)pid, true);
    }
}

/* The first PIDs of the three groups of eight oxygen sensor PIDs. The current form is asked in
 * preference to the volts form: its balance is a fixed 0 mA. */
enum { SWITCHING = 0x14, WIDE_VOLTS = 0x24, WIDE_CURRENT = 0x34 };
static const uint8_t groups[OXL_SENSOR_FORMS] = {WIDE_CURRENT, WIDE_VOLTS, SWITCHING};

/* Place of the PID in its group, 0..7; -1 when it is none. */
static int sensor_index(uint8_t pid)
{
    for (unsigned i = 0; i < OXL_SENSOR_FORMS; i++)
        if (pid >= groups[i] && pid < groups[i] + 8)
            return pid - groups[i];
    return -1;
}

struct oxl_channel oxl_sensor_channel(uint8_t pid, enum oxl_layout_kind layout)
{
    int index = sensor_index(pid);
    if (index < 0)
        return oxl_channel(OXL_Q_NONE, 0, 0);
    unsigned a_bank = layout == OXL_LAYOUT_1D ? 2 : 4;
    return oxl_channel(pid < WIDE_VOLTS ? OXL_Q_O2_V : OXL_Q_LAMBDA, (unsigned)index / a_bank + 1,
                       (unsigned)index % a_bank + 1);
}

/* One found sensor. */
struct found {
    enum oxl_sensor_kind kind;
    struct oxl_channel channel;
    uint8_t pid;
};

/* Its place in the three groups; -1: the layout has none. */
static int place_of(enum oxl_layout_kind layout, unsigned bank, unsigned sensor)
{
    unsigned a_bank = layout == OXL_LAYOUT_1D ? 2 : 4;
    unsigned place = (bank - 1) * a_bank + sensor - 1;
    return bank && sensor && sensor <= a_bank && place < 8 ? (int)place : -1;
}

unsigned oxl_sensor_forms(const struct oxl_decoding *d, unsigned bank, unsigned sensor,
                          uint8_t pids[OXL_SENSOR_FORMS])
{
    int place = place_of(d->layout, bank, sensor);
    if (place < 0 || (d->layout != OXL_LAYOUT_UNKNOWN && !(d->sensors >> place & 1)))
        return 0;
    for (unsigned o = 0; o < OXL_SENSOR_FORMS; o++)
        pids[o] = (uint8_t)(groups[o] + place);
    return OXL_SENSOR_FORMS;
}

static struct found find_sensor(const struct oxl_vehicle *v, unsigned bank, unsigned sensor)
{
    int place = place_of(v->decoding.layout, bank, sensor);
    for (unsigned o = 0; o < OXL_SENSOR_FORMS && place >= 0; o++) {
        uint8_t pid = (uint8_t)(groups[o] + place);
        struct oxl_channel c = oxl_sensor_channel(pid, v->decoding.layout);
        if (pid == v->volts_pid)
            return (struct found){OXL_SENSOR_SWITCHING, oxl_channel(OXL_Q_WIDE_V, bank, sensor),
                                  pid};
        if (oxl_supports(&v->support, pid) && !oxl_supports(&v->still, pid))
            return (struct found){groups[o] == SWITCHING ? OXL_SENSOR_SWITCHING : OXL_SENSOR_WIDE,
                                  c, pid};
    }
    return (struct found){OXL_SENSOR_NONE, oxl_channel(OXL_Q_NONE, 0, 0), 0};
}

/* A rear of its own that does not answer is not another bank's. */
static bool has_own_rear(const struct oxl_vehicle *v, unsigned bank)
{
    const struct oxl_decoding *d = &v->decoding;
    for (unsigned sensor = 2; sensor <= OXL_SENSORS; sensor++) {
        int place = place_of(d->layout, bank, sensor);
        for (unsigned o = 0; o < OXL_SENSOR_FORMS && place >= 0; o++)
            if ((d->layout != OXL_LAYOUT_UNKNOWN && (d->sensors >> place & 1)) ||
                oxl_supports(&v->silent, (uint8_t)(groups[o] + place)))
                return true;
    }
    return false;
}

/* Sensors are numbered along the exhaust: the first one behind the front stands behind the first
 * converter, which is the one that the test loads. */
static struct found find_rear(const struct oxl_vehicle *v, unsigned bank)
{
    struct found rear = find_sensor(v, bank, 2);
    for (unsigned sensor = 3; sensor <= OXL_SENSORS && !rear.kind; sensor++)
        rear = find_sensor(v, bank, sensor);
    return rear;
}

struct oxl_pair oxl_vehicle_pair(const struct oxl_vehicle *v, unsigned bank)
{
    struct found front = find_sensor(v, bank, 1), rear = find_rear(v, bank);
    /* Where both banks join ahead of one rear sensor, that one is listed behind bank 1. */
    if (!rear.kind && front.kind && bank == 2 && find_sensor(v, 1, 1).kind &&
        !has_own_rear(v, bank))
        rear = find_rear(v, 1);
    return (struct oxl_pair){.front_kind = front.kind,
                             .rear_kind = rear.kind,
                             .front = front.channel,
                             .rear = rear.channel,
                             .front_pid = front.pid,
                             .rear_pid = rear.pid};
}

const char *oxl_sensor_kind_name(enum oxl_sensor_kind kind)
{
    return kind == OXL_SENSOR_WIDE        ? "wide-range"
           : kind == OXL_SENSOR_SWITCHING ? "switching"
                                          : "none";
}

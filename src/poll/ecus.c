/* The ECUs that answer, which of them is listened to, and how many frames an answer takes. */
#include "inside.h"

#include <string.h>

struct oxl_poll_ecu *oxl_poll_ecu_of(struct oxl_poll *p, uint32_t id, bool add)
{
    for (unsigned i = 0; i < p->ecus_n; i++)
        if (p->ecus[i].id == id)
            return &p->ecus[i];
    if (!add || p->ecus_n >= OXL_POLL_ECUS)
        return NULL;
    struct oxl_poll_ecu *u = &p->ecus[p->ecus_n++];
    memset(u, 0, sizeof *u);
    u->id = id;
    return u;
}

void oxl_poll_ecu_mask(struct oxl_poll *p, const struct oxl_message *m, uint8_t mask_pid)
{
    enum { SHORTEST = 6 }; /* service, PID, four mask bytes */
    if (m->len < SHORTEST || m->data[1] != mask_pid)
        return;
    struct oxl_poll_ecu *u = oxl_poll_ecu_of(p, m->ecu, mask_pid == 0);
    if (u)
        oxl_support_add(&u->support, mask_pid, m->data + 2);
}

bool oxl_poll_any_ecu_supports(const struct oxl_poll *p, uint8_t pid)
{
    for (unsigned i = 0; i < p->ecus_n; i++)
        if (oxl_supports(&p->ecus[i].support, pid))
            return true;
    return false;
}

static unsigned sensor_pids(const struct oxl_support *s)
{
    static const uint8_t groups[] = {0x14, 0x24, 0x34};
    unsigned n = 0;
    for (unsigned g = 0; g < sizeof groups; g++)
        for (unsigned i = 0; i < 8; i++)
            n += oxl_supports(s, (uint8_t)(groups[g] + i));
    return n;
}

static unsigned score(const struct oxl_support *s)
{
    static const uint8_t engine_pids[] = {0x0C, 0x06, 0x03, 0x05};
    unsigned points = 100 * sensor_pids(s);
    for (unsigned i = 0; i < sizeof engine_pids; i++)
        points += oxl_supports(s, engine_pids[i]);
    return points;
}

/* The ECU with the oxygen sensors; then what an engine controller has; then the lowest number
 * (7E8 is the engine controller by habit). */
void oxl_poll_choose_ecu(struct oxl_poll *p)
{
    const struct oxl_poll_ecu *best = NULL;
    for (unsigned i = 0; i < p->ecus_n; i++) {
        const struct oxl_poll_ecu *u = &p->ecus[i];
        unsigned points = score(&u->support);
        if (!best || points > score(&best->support) ||
            (points == score(&best->support) && u->id < best->id))
            best = u;
    }
    if (!best)
        return;
    p->vehicle.ecu = best->id;
    p->vehicle.support = best->support;
    p->vehicle.ecus_seen = p->ecus_n;
}

/* Payload bytes of one ECU's answer; 0 when it answers nothing, SIZE_MAX when unknown. */
static size_t answer_length(const struct oxl_poll *p, const struct oxl_poll_ecu *u,
                            const uint8_t *pids, unsigned n)
{
    size_t len = 0;
    for (unsigned i = 0; i < n; i++) {
        /* Mask 00 is answered by every ECU and has no support bit of its own. */
        if (pids[i] != 0 && u->id != p->vehicle.ecu && !oxl_supports(&u->support, pids[i]))
            continue;
        size_t pid = oxl_pid_length(pids[i], &p->vehicle.decoding, 0);
        if (pid == 0)
            return SIZE_MAX;
        len += 1 + pid;
    }
    return len ? len + 1 : 0;
}

/* ISO 15765-2: 7 bytes fit a single frame; a first frame holds 6, each further frame 7. */
static unsigned frames_of(size_t len, bool can)
{
    if (len == 0)
        return 0;
    return !can || len <= 7 ? 1 : 1 + (unsigned)((len - 6 + 6) / 7);
}

unsigned oxl_poll_expected_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n)
{
    bool can = oxl_protocol_is_can(p->vehicle.protocol);
    unsigned frames = 0;
    for (unsigned i = 0; i < p->ecus_n; i++) {
        size_t len = answer_length(p, &p->ecus[i], pids, n);
        if (len == SIZE_MAX)
            return 0;
        unsigned f = frames_of(len, can);
        /* A first frame of one ECU may be counted before another ECU's: the digit would cut. */
        if (f > 1 && !p->count_multi_frame)
            return 0;
        frames += f;
    }
    return frames;
}

unsigned oxl_poll_own_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n)
{
    const struct oxl_poll_ecu own = {.id = p->vehicle.ecu};
    size_t len = answer_length(p, &own, pids, n);
    return len == SIZE_MAX ? 0 : frames_of(len, oxl_protocol_is_can(p->vehicle.protocol));
}

unsigned oxl_poll_digit(const struct oxl_poll *p, unsigned frames)
{
    return p->vehicle.reply_count && frames <= 9 ? frames : 0;
}

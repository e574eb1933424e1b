/* The ECUs that answer, which of them is used, and how many frames an answer takes. */
#include "poll_parts.h"

enum { MASK_TRIES = 4, MASK_STEP = 0x20, LAST_MASK = 0xE0 };

void oxl_poll_ecus_forget(struct oxl_poll *p)
{
    p->ecus.n = p->ecus.mask_pid = 0;
    p->ecus.mask_tries = 0;
}

static struct oxl_poll_ecu *ecu_of(struct oxl_poll *p, uint32_t id, bool add)
{
    for (unsigned i = 0; i < p->ecus.n; i++)
        if (p->ecus.list[i].id == id)
            return &p->ecus.list[i];
    if (!add || p->ecus.n >= OXL_POLL_ECUS)
        return NULL;
    p->ecus.list[p->ecus.n] = (struct oxl_poll_ecu){.id = id};
    return &p->ecus.list[p->ecus.n++];
}

unsigned oxl_poll_ecu_bit(const struct oxl_poll *p, uint32_t ecu)
{
    for (unsigned i = 0; i < p->ecus.n; i++)
        if (p->ecus.list[i].id == ecu)
            return 1U << i;
    return 0;
}

void oxl_poll_ecu_mask(struct oxl_poll *p, const struct oxl_message *m, uint8_t mask_pid)
{
    enum { SHORTEST = 6 }; /* service, PID, four mask bytes */
    if (m->len < SHORTEST || m->data[1] != mask_pid)
        return;
    struct oxl_poll_ecu *ecu = ecu_of(p, m->ecu, mask_pid == 0);
    if (ecu)
        oxl_support_add(&ecu->support, mask_pid, m->data + 2);
}

bool oxl_poll_any_ecu_supports(const struct oxl_poll *p, uint8_t pid)
{
    for (unsigned i = 0; i < p->ecus.n; i++)
        if (oxl_supports(&p->ecus.list[i].support, pid))
            return true;
    return false;
}

bool oxl_poll_announced(const struct oxl_poll *p, uint8_t pid)
{
    for (unsigned i = 0; i < p->ecus.n; i++)
        if (p->ecus.list[i].id == p->vehicle.ecu)
            return oxl_supports(&p->ecus.list[i].support, pid);
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
static void choose_ecu(struct oxl_poll *p)
{
    const struct oxl_poll_ecu *best = NULL;
    for (unsigned i = 0; i < p->ecus.n; i++) {
        const struct oxl_poll_ecu *ecu = &p->ecus.list[i];
        unsigned points = score(&ecu->support);
        if (!best || points > score(&best->support) ||
            (points == score(&best->support) && ecu->id < best->id))
            best = ecu;
    }
    if (best)
        oxl_poll_vehicle_ecu(p, best);
}

/* ---- masks 20, 40, ..: from every ECU, until no ECU has a next one ---- */

static bool masks_begin(struct oxl_poll *p, int64_t t_us)
{
    while (p->ecus.mask_pid < LAST_MASK) {
        p->ecus.mask_pid = (uint8_t)(p->ecus.mask_pid + MASK_STEP);
        if (oxl_poll_any_ecu_supports(p, p->ecus.mask_pid))
            return oxl_poll_ask_pid(p, p->ecus.mask_pid, t_us);
    }
    choose_ecu(p);
    p->out.vehicle(p->out.ctx);
    return false;
}

static void masks_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    oxl_poll_ecu_mask(p, m, p->ecus.mask_pid);
}

static bool masks_finish(struct oxl_poll *p, int64_t t_us)
{
    /* A mask that was announced is there: without it sensors would be missed. */
    bool again = !p->answer.n && p->ecus.mask_tries++ < MASK_TRIES;
    if (again)
        p->ecus.mask_pid = (uint8_t)(p->ecus.mask_pid - MASK_STEP);
    else
        p->ecus.mask_tries = 0;
    return oxl_poll_step_more(p, t_us); /* the next mask */
}

const struct oxl_poll_step oxl_poll_masks_step = {
    .begin = masks_begin, .answer = masks_answer, .finish = masks_finish};

/* ---- frames ---- */

/* Payload bytes of one ECU's answer; 0 when it answers nothing, SIZE_MAX when unknown. */
static size_t answer_length(const struct oxl_poll *p, const struct oxl_poll_ecu *ecu,
                            const uint8_t *pids, unsigned n)
{
    size_t len = 0;
    for (unsigned i = 0; i < n; i++) {
        /* Mask 00 is answered by every ECU and has no support bit of its own. */
        if (pids[i] != 0 && ecu->id != p->vehicle.ecu && !oxl_supports(&ecu->support, pids[i]))
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
    bool can = oxl_poll_is_can(p);
    unsigned frames = 0;
    for (unsigned i = 0; i < p->ecus.n; i++) {
        size_t len = answer_length(p, &p->ecus.list[i], pids, n);
        if (len == SIZE_MAX)
            return 0;
        unsigned f = frames_of(len, can);
        /* A first frame of one ECU may be counted before another ECU's: the digit would cut. */
        if (f > 1 && !p->abilities.count_multi_frame)
            return 0;
        frames += f;
    }
    return frames;
}

unsigned oxl_poll_own_frames(const struct oxl_poll *p, const uint8_t *pids, unsigned n)
{
    const struct oxl_poll_ecu own = {.id = p->vehicle.ecu};
    size_t len = answer_length(p, &own, pids, n);
    return len == SIZE_MAX ? 0 : frames_of(len, oxl_poll_is_can(p));
}

unsigned oxl_poll_digit(const struct oxl_poll *p, unsigned frames)
{
    return p->vehicle.reply_count && frames <= 9 ? frames : 0;
}

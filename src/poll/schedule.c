/* What to ask next, by focus.
 *
 * With several PIDs a request, front and rear are in every request, so that they share their
 * moment; the others ride along. With single PIDs a pattern of letters is walked through:
 * F front, R rear, s short-term trim, l long-term trim, m the next of air and engine speed,
 * x the most overdue of the slow PIDs. Whether the engine turns is asked at least every ENGINE_MS.
 *
 * What fails is left out, and tried again later: on a bad line everything fails at times. PID 04
 * (load) is never asked: a line that loses its first two characters would make it the request to
 * clear trouble codes.
 */
#include "poll_parts.h"

#include <string.h>

enum {
    QUICK_MS = 60,
    ENGINE_MS = 700, /* with the coasting and the answer less than a second */
    DROP_AFTER = 3,
    DOUBTS = 3,
    RIDERS = 2,
    BACK_MS = 20000,
    LONGEST_BACK = 5
};

/* ---- the list ---- */

static void add(struct oxl_poll *p, uint8_t pid, enum oxl_poll_role role)
{
    struct oxl_poll_schedule *s = &p->schedule;
    bool sensor = role == OXL_ROLE_FRONT || role == OXL_ROLE_REAR;
    if (pid == 0 || s->n >= OXL_POLL_LIVE || (!sensor && !oxl_supports(&p->vehicle.support, pid)))
        return;
    /* A PID of unknown length would hide what stands behind it. */
    if (oxl_pid_length(pid, &p->vehicle.decoding, 0) == 0)
        return;
    if (s->max_pids == 1 && !oxl_poll_may_send(p, 1, &pid, 1))
        return;
    s->pids[s->n++] = (struct oxl_poll_pid){.pid = pid, .role = (uint8_t)role, .asked_us = -1};
}

/* Air by the meter; where there is none, what speed density needs. */
static void add_air(struct oxl_poll *p)
{
    uint8_t meter = oxl_supports(&p->vehicle.support, 0x10) ? 0x10 : 0x66;
    bool metered = oxl_supports(&p->vehicle.support, meter);
    add(p, meter, OXL_ROLE_MID);
    add(p, 0x0C, OXL_ROLE_MID);
    add(p, 0x0B, metered ? OXL_ROLE_SLOW : OXL_ROLE_MID);
}

static void add_other(struct oxl_poll *p, uint8_t stft, uint8_t ltft)
{
    struct oxl_pair other = oxl_vehicle_pair(&p->vehicle, p->config.bank == 2 ? 1 : 2);
    if (other.front_kind == OXL_SENSOR_NONE)
        return;
    add(p, other.front_pid, OXL_ROLE_OTHER);
    if (other.rear_pid != p->pair.rear_pid)
        add(p, other.rear_pid, OXL_ROLE_OTHER);
    add(p, stft, OXL_ROLE_OTHER);
    add(p, ltft, OXL_ROLE_OTHER);
}

void oxl_poll_schedule_build(struct oxl_poll *p)
{
    static const uint8_t trims[2][4] = {{0x06, 0x07, 0x55, 0x56}, {0x08, 0x09, 0x57, 0x58}};
    static const uint8_t cats[2][2] = {{0x3C, 0x3E}, {0x3D, 0x3F}};
    static const uint8_t slow[] = {0x05, 0x1F, 0x0F, 0x12};
    static const uint8_t rare[] = {0x44, 0x51, 0x5E};
    unsigned b = p->config.bank == 2;
    memset(&p->schedule, 0, sizeof p->schedule);
    p->schedule.max_pids = p->vehicle.multi_pid ? p->abilities.most_pids : 1;
    p->schedule.grow_us = OXL_POLL_NEVER;
    add(p, p->pair.front_pid, OXL_ROLE_FRONT);
    add(p, p->pair.rear_pid, OXL_ROLE_REAR);
    add(p, trims[b][0], OXL_ROLE_STFT);
    add(p, trims[b][1], OXL_ROLE_LTFT);
    add(p, 0x03, OXL_ROLE_STATE);
    add(p, 0x0D, OXL_ROLE_STATE);
    add_air(p);
    for (unsigned i = 0; i < sizeof slow; i++)
        add(p, slow[i], OXL_ROLE_SLOW);
    for (unsigned i = 0; i < 2; i++)
        add(p, cats[b][i], OXL_ROLE_SLOW);
    for (unsigned i = 0; i < sizeof rare; i++)
        add(p, rare[i], OXL_ROLE_RARE);
    add(p, trims[b][2], OXL_ROLE_RARE);
    add(p, trims[b][3], OXL_ROLE_RARE);
    add(p, 0x11, OXL_ROLE_OTHER); /* throttle: shut in a fuel cut */
    add(p, 0x42, OXL_ROLE_OTHER); /* voltage: an electrical load at idle */
    add_other(p, trims[1 - b][0], trims[1 - b][1]);
}

/* ---- hits and misses ---- */

static struct oxl_poll_pid *find(struct oxl_poll *p, uint8_t pid)
{
    for (unsigned i = 0; i < p->schedule.n; i++)
        if (p->schedule.pids[i].pid == pid)
            return &p->schedule.pids[i];
    return NULL;
}

static int64_t back_off_us(unsigned times)
{
    return OXL_POLL_MS(BACK_MS) << (times < LONGEST_BACK ? times : LONGEST_BACK);
}

/* A miss counts only when something else was answered since the last one: a vehicle that is
 * being switched off misses everything, and its PIDs are not to be forgotten for that. */
static void miss(struct oxl_poll *p, struct oxl_poll_pid *it)
{
    if (!it || (it->misses && it->miss_reply == p->stats.sums.replies))
        return;
    it->miss_reply = p->stats.sums.replies;
    it->misses++;
    oxl_poll_sensor_missed(p, it->pid, it->misses >= DROP_AFTER);
    if (it->misses < DROP_AFTER || it->role == OXL_ROLE_FRONT || it->role == OXL_ROLE_REAR)
        return;
    it->dropped = true;
    it->back_us = p->ex.sent_us + back_off_us(it->drops++);
}

void oxl_poll_schedule_shrink(struct oxl_poll *p, bool for_good, int64_t t_us)
{
    struct oxl_poll_schedule *s = &p->schedule;
    s->max_pids = s->max_pids > 2 ? s->max_pids - 2 : 1;
    s->grow_us = for_good ? OXL_POLL_NEVER : t_us + back_off_us(s->shrinks++);
    if (for_good)
        oxl_poll_pids_at_most(p, s->max_pids);
}

/* More PIDs than one were not answered, several times; one of them was. */
void oxl_poll_schedule_answered(struct oxl_poll *p)
{
    struct oxl_poll_schedule *s = &p->schedule;
    if (p->request.n == 1 && s->multi_fails >= DOUBTS)
        oxl_poll_schedule_shrink(p, false, p->ex.sent_us);
    s->multi_fails = 0;
    for (unsigned i = 0; i < p->request.n; i++) {
        struct oxl_poll_pid *it = find(p, p->request.pids[i]);
        if (!(p->answer.found >> i & 1))
            miss(p, it);
        else if (it)
            it->misses = 0;
        if (p->answer.found >> i & 1)
            oxl_poll_sensor_answered(p, p->request.pids[i]);
    }
}

/* Of several it may be their number; those that never answered are missed all the same, or a
 * request of such alone would be made for ever. */
void oxl_poll_schedule_unanswered(struct oxl_poll *p)
{
    const struct oxl_poll_request *r = &p->request;
    p->schedule.multi_fails += r->n > 1;
    for (unsigned i = 0; i < r->n; i++)
        if (r->n == 1 || !oxl_supports(&p->sensors.answered, r->pids[i]))
            miss(p, find(p, r->pids[i]));
}

void oxl_poll_schedule_refused(struct oxl_poll *p)
{
    struct oxl_poll_pid *it = find(p, p->request.pids[0]);
    if (!it)
        return;
    it->dropped = true;
    it->back_us = OXL_POLL_NEVER;
}

static void try_again(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_poll_schedule *s = &p->schedule;
    for (unsigned i = 0; i < s->n; i++)
        if (s->pids[i].dropped && t_us >= s->pids[i].back_us) {
            s->pids[i].dropped = false;
            s->pids[i].misses = DROP_AFTER - 1;
        }
    if (t_us < s->grow_us)
        return;
    unsigned most = p->abilities.most_pids;
    s->max_pids = s->max_pids + 2 < most ? s->max_pids + 2 : most;
    s->grow_us = s->max_pids < most ? t_us + back_off_us(s->shrinks) : OXL_POLL_NEVER;
}

/* ---- choosing ---- */

static int64_t period_us(const struct oxl_poll *p, uint8_t role)
{
    static const struct {
        uint16_t single_ms, several_ms; /* with single PIDs, with several a request */
        bool patient;                   /* twice as long where others matter more */
    } periods[] = {
        [OXL_ROLE_MID] = {200, 200, false},     [OXL_ROLE_STATE] = {1000, 1300, false},
        [OXL_ROLE_SLOW] = {6000, 2500, true},   [OXL_ROLE_RARE] = {10000, 10000, true},
        [OXL_ROLE_OTHER] = {3000, 1000, false},
    };
    unsigned slower = periods[role].patient && p->focus != OXL_FOCUS_ALL ? 2 : 1;
    bool single = p->schedule.max_pids == 1;
    return OXL_POLL_MS(single ? periods[role].single_ms : periods[role].several_ms) * slower;
}

static int64_t waited_us(const struct oxl_poll_pid *it, int64_t t_us)
{
    const int64_t longest = OXL_POLL_MS(10000000);
    if (it->asked_us < 0 || t_us - it->asked_us > longest)
        return longest;
    return t_us - it->asked_us;
}

/* ---- does the engine turn? ---- */

static bool tells_of_engine(const struct oxl_poll_pid *it)
{
    return (it->pid == 0x0C || it->pid == 0x10 || it->pid == 0x66) && !it->dropped;
}

static bool is_slow(const struct oxl_poll *p)
{
    return p->live.slowest_us >= OXL_POLL_MS(QUICK_MS) && p->config.schedule != OXL_SCHEDULE_1;
}

/* Of what tells, the one asked longest ago; NULL as long as none is due. */
static const struct oxl_poll_pid *engine_due(const struct oxl_poll *p, int64_t t_us)
{
    const struct oxl_poll_pid *oldest = NULL;
    int64_t youngest_us = INT64_MAX;
    for (unsigned i = 0; i < p->schedule.n; i++) {
        const struct oxl_poll_pid *it = &p->schedule.pids[i];
        if (!tells_of_engine(it))
            continue;
        int64_t waited = waited_us(it, t_us);
        youngest_us = waited < youngest_us ? waited : youngest_us;
        if (!oldest || waited > waited_us(oldest, t_us))
            oldest = it;
    }
    bool due = p->schedule.engine_falls || youngest_us >= OXL_POLL_MS(ENGINE_MS);
    return due && p->config.schedule != OXL_SCHEDULE_1 ? oldest : NULL;
}

void oxl_poll_schedule_sample(struct oxl_poll *p, const struct oxl_sample *s)
{
    const double falls = 0.6; /* of the value before */
    double *last = s->channel.quantity == OXL_Q_RPM       ? &p->schedule.rpm
                   : s->channel.quantity == OXL_Q_AIR_G_S ? &p->schedule.air_g_s
                                                          : NULL;
    if (!last)
        return;
    p->schedule.engine_falls = s->value < falls * *last;
    *last = s->value;
}

struct list {
    uint8_t pids[OXL_POLL_PIDS];
    unsigned n, max;
};

static bool listed(const struct list *l, uint8_t pid)
{
    return l->n && memchr(l->pids, pid, l->n);
}

static void put(struct list *l, const struct oxl_poll_pid *it)
{
    if (it && l->n < l->max && !listed(l, it->pid))
        l->pids[l->n++] = it->pid;
}

/* The PID that has waited longest, measured by its own period; NULL when none is due. */
static const struct oxl_poll_pid *most_overdue(const struct oxl_poll *p, const struct list *l,
                                               enum oxl_poll_role from, int64_t t_us)
{
    const struct oxl_poll_pid *best = NULL;
    int64_t best_waited = 0, best_period = 1;
    for (unsigned i = 0; i < p->schedule.n; i++) {
        const struct oxl_poll_pid *it = &p->schedule.pids[i];
        if (it->dropped || it->role < from || listed(l, it->pid))
            continue;
        if (it->role == OXL_ROLE_OTHER && p->focus == OXL_FOCUS_TIMING)
            continue;
        int64_t waited = waited_us(it, t_us), period = period_us(p, it->role);
        if (waited < period || (best && waited * best_period <= best_waited * period))
            continue;
        best = it;
        best_waited = waited;
        best_period = period;
    }
    return best;
}

static unsigned put_overdue(const struct oxl_poll *p, struct list *l, enum oxl_poll_role from,
                            unsigned most, int64_t t_us)
{
    unsigned before = l->n;
    const struct oxl_poll_pid *it;
    while (l->n < l->max && l->n - before < most && (it = most_overdue(p, l, from, t_us)))
        put(l, it);
    return l->n - before;
}

static void put_role(const struct oxl_poll *p, struct list *l, enum oxl_poll_role role)
{
    for (unsigned i = 0; i < p->schedule.n; i++)
        if (p->schedule.pids[i].role == role && !p->schedule.pids[i].dropped)
            put(l, &p->schedule.pids[i]);
}

static void put_trims(const struct oxl_poll *p, struct list *l)
{
    put_role(p, l, OXL_ROLE_STFT);
    put_role(p, l, OXL_ROLE_LTFT);
}

/* ---- several PIDs a request ---- */

/* Trims cost nothing when they fit into frames that are sent anyway; but where characters are lost
 * a longer answer is damaged more often. */
static bool trims_are_free(const struct oxl_poll *p, const struct list *pair)
{
    struct list with = *pair;
    if (pair->n == 0 || p->trouble.bad_line)
        return false;
    put_trims(p, &with);
    unsigned frames = oxl_poll_own_frames(p, pair->pids, pair->n);
    return frames && frames == oxl_poll_own_frames(p, with.pids, with.n);
}

static void timing_extras(const struct oxl_poll *p, const struct list *pair, struct list *l,
                          int64_t t_us)
{
    enum { TRIMS = 4, MIDS = 12, SLOW = 24 };
    unsigned round = p->schedule.round;
    if (round % MIDS == 5 || engine_due(p, t_us))
        put_role(p, l, OXL_ROLE_MID);
    else if (round % SLOW == 18)
        put_overdue(p, l, OXL_ROLE_STATE, 1, t_us);
    else if (round % TRIMS == 3 || (p->schedule.max_pids > 2 && trims_are_free(p, pair)))
        put_trims(p, l);
}

/* Trims every round and others as they fall due; where there is no room for both, in turns. */
static void full_extras(struct oxl_poll *p, struct list *l, int64_t t_us)
{
    struct oxl_poll_schedule *s = &p->schedule;
    bool tight = s->max_pids < OXL_POLL_PIDS;
    if (tight && s->others_turn && put_overdue(p, l, OXL_ROLE_MID, RIDERS, t_us)) {
        s->others_turn = false;
        return;
    }
    put_trims(p, l);
    s->others_turn = true;
    if (!tight)
        put_overdue(p, l, OXL_ROLE_MID, RIDERS, t_us);
}

static void choose_several(struct oxl_poll *p, struct list *l, int64_t t_us)
{
    struct oxl_poll_schedule *s = &p->schedule;
    struct list extras = {.max = s->max_pids > 2 ? s->max_pids - 2 : s->max_pids};
    put_role(p, l, OXL_ROLE_FRONT);
    put_role(p, l, OXL_ROLE_REAR);
    s->round++;
    /* With two PIDs a request the others need rounds of their own. */
    bool own_round = s->max_pids <= 2;
    if (p->focus == OXL_FOCUS_TIMING)
        timing_extras(p, l, &extras, t_us);
    else if (!own_round || s->round % 2)
        full_extras(p, &extras, t_us);
    if (own_round && extras.n)
        l->n = 0;
    for (unsigned i = 0; i < extras.n && l->n < l->max; i++)
        l->pids[l->n++] = extras.pids[i];
}

/* ---- single PIDs ---- */

static const struct oxl_poll_pid *next_mid(struct oxl_poll *p)
{
    struct oxl_poll_schedule *s = &p->schedule;
    for (unsigned i = 0; i < s->n; i++) {
        const struct oxl_poll_pid *it = &s->pids[++s->mid % s->n];
        bool asked_anyway = is_slow(p) && tells_of_engine(it);
        if (it->role == OXL_ROLE_MID && !it->dropped && !asked_anyway)
            return it;
    }
    return NULL;
}

static void put_letter(struct oxl_poll *p, struct list *l, char letter, int64_t t_us)
{
    static const char roles[] = "FRsl"; /* from OXL_ROLE_FRONT */
    const char *role = strchr(roles, letter);
    if (role)
        put_role(p, l, (enum oxl_poll_role)(role - roles));
    else
        put(l, letter == 'm' ? next_mid(p) : most_overdue(p, l, OXL_ROLE_STATE, t_us));
}

static void choose_single(struct oxl_poll *p, struct list *l, int64_t t_us)
{
    static const char *const patterns[] = {
        [OXL_FOCUS_ALL] = "FRslmx",
        [OXL_FOCUS_TRIMS] = "FRslmFRslmFRslmFRslx",
        [OXL_FOCUS_TIMING] = "FRFRsFRFRmFRFRlFRFRm",
    };
    /* On a quick link trims come often enough in between more of the two sensors. */
    static const char quick[] = "FRFRFRsFRFRFRmFRFRFRlFRFRFRm";
    bool is_quick = p->focus == OXL_FOCUS_TIMING && p->live.slowest_us < OXL_POLL_MS(QUICK_MS);
    const char *pattern = is_quick ? quick : patterns[p->focus];
    size_t len = strlen(pattern);
    put(l, engine_due(p, t_us));
    for (size_t i = 0; i < len && l->n == 0; i++)
        put_letter(p, l, pattern[p->schedule.slot++ % len], t_us);
}

/* Is it the number of PIDs that is not answered? One of them alone will tell. */
static bool is_doubted(struct oxl_poll_schedule *s, unsigned n)
{
    if (n < 2 || s->multi_fails < DOUBTS)
        return false;
    s->single_try = !s->single_try;
    return s->single_try;
}

unsigned oxl_poll_schedule_next(struct oxl_poll *p, int64_t t_us, uint8_t pids[OXL_POLL_PIDS])
{
    try_again(p, t_us);
    struct list l = {.max = p->schedule.max_pids};
    if (p->schedule.max_pids > 1)
        choose_several(p, &l, t_us);
    if (l.n == 0)
        choose_single(p, &l, t_us);
    /* Nothing is supported: PID 00 at least shows that the vehicle is there. */
    if (l.n == 0)
        l.pids[l.n++] = 0x00;
    for (unsigned i = 0; i < l.n; i++) {
        struct oxl_poll_pid *it = find(p, l.pids[i]);
        if (it)
            it->asked_us = t_us;
    }
    p->schedule.engine_falls = false;
    memcpy(pids, l.pids, l.n);
    return is_doubted(&p->schedule, l.n) ? 1 : l.n;
}

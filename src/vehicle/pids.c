#include "pids.h"

#include <stddef.h>
#include <string.h>

/* Data bytes of each service 01 PID (SAE J1979 / ISO 15031-5 service 01 as published in public
 * parameter tables), by high and low digit; 0 where unknown. PIDs whose published lengths disagree
 * (68, 8C, 9C, 9F) are left out on purpose: behind them nothing can be trusted. PIDs that carry no
 * channel of ours are listed so that an answer can be read past them. 06-09 and 55-58 are not here:
 * see below. */
static const uint8_t lengths[16][16] = {
    [0x0] = {4, 4, 2, 2, 1, 1, 0, 0, 0, 0, 1, 1, 2, 1, 1, 1},
    [0x1] = {2, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 2},
    [0x2] = {4, 2, 0, 0, 4, 4, 4, 4, 4, 4, 4, 4, 1, 1, 1, 1},
    [0x3] = {1, 2, 2, 1, 4, 4, 4, 4, 4, 4, 4, 4, 2, 2, 2, 2},
    [0x4] = {4, 4, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 4},
    [0x5] = {4, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 2, 1},
    [0x6] = {4, 0, 0, 0, 0, 0, 5, 3},
    [0x7] = {0, 0, 0, 0, 0, 0, 0, 0, 9, 9},
    [0x8] = {4, 0, 0, 0, 0, 0, 0, 5},
    [0x9] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4, 2},
    [0xA] = {4, 0, 2},
    [0xC] = {4},
    [0xE] = {4},
};

static bool is_trim(uint8_t pid)
{
    return pid >= 0x06 && pid <= 0x09;
}

static bool is_rear_trim(uint8_t pid)
{
    return pid >= 0x55 && pid <= 0x58;
}

/* The second trim byte belongs to bank 3 (06, 07, 55, 56) or bank 4 (08, 09, 57, 58); it is sent
 * only by engines with that bank, which PID 1D tells (bits 4-5 bank 3, bits 6-7 bank 4). */
bool oxl_second_bank_fitted(uint8_t pid, const struct oxl_decoding *d)
{
    bool bank4 = pid == 0x08 || pid == 0x09 || pid == 0x57 || pid == 0x58;
    return d->layout == OXL_LAYOUT_1D && (d->sensors & (bank4 ? 0xC0 : 0x30)) != 0;
}

/* Public tables know 55-58 with two bytes only, whatever the layout. */
static size_t trim_length(uint8_t pid, const struct oxl_decoding *d)
{
    unsigned form = is_trim(pid) ? d->trims : d->rear_trims;
    if (form == OXL_TRIMS_ONE || form == OXL_TRIMS_TWO)
        return form == OXL_TRIMS_ONE ? 1 : 2;
    return is_rear_trim(pid) || oxl_second_bank_fitted(pid, d) ? 2 : 1;
}

size_t oxl_pid_length(uint8_t pid, const struct oxl_decoding *d, size_t single_len)
{
    if (!is_trim(pid) && !is_rear_trim(pid))
        return lengths[pid >> 4][pid & 0x0F];
    return single_len == 1 || single_len == 2 ? single_len : trim_length(pid, d);
}

bool oxl_walk_next(struct oxl_walk *w, struct oxl_pid *pid)
{
    if (w->at >= w->end)
        return false;
    size_t left = (size_t)(w->end - w->at) - 1;
    size_t len = oxl_pid_length(w->at[0], &w->as, w->single ? left : 0);
    if (len == 0 || len > left)
        return false;
    pid->id = w->at[0];
    pid->data = w->at + 1;
    pid->len = len;
    w->at += 1 + len;
    return true;
}

/* To the last byte, and with PIDs that were asked; n is 0 where nobody knows which those were. */
static bool fits(struct oxl_walk w, const uint8_t *pids, unsigned n)
{
    struct oxl_pid pid;
    while (oxl_walk_next(&w, &pid))
        if (n && !memchr(pids, pid.id, n))
            return false;
    return w.at == w.end;
}

/* Several PIDs in one answer leave the length of trims open until it has been seen: the reading
 * that comes out even is taken, the one that is due first. False: none does. */
static bool choose_forms(struct oxl_walk *w, const uint8_t *pids, unsigned n)
{
    static const uint8_t forms[] = {OXL_TRIMS_AS_DUE, OXL_TRIMS_TWO, OXL_TRIMS_ONE};
    const struct oxl_decoding first = w->as;
    for (unsigned i = 0; i < sizeof forms; i++)
        for (unsigned j = 0; j < sizeof forms; j++) {
            w->as.trims = first.trims ? first.trims : forms[i];
            w->as.rear_trims = first.rear_trims ? first.rear_trims : forms[j];
            if (fits(*w, pids, n))
                return true;
        }
    w->as = first;
    return false;
}

static bool start(struct oxl_walk *w, const struct oxl_message *m, const struct oxl_decoding *d,
                  const uint8_t *pids, unsigned n)
{
    if (m->len < 2 || m->data[0] != 0x41 || m->bad_checksum)
        return false;
    *w = (struct oxl_walk){.at = m->data + 1, .end = m->data + m->len, .as = *d};
    /* Two PIDs take four bytes at least, so one or two data bytes can only be a single PID. */
    w->single = m->len - 2 <= 2;
    if (!w->single)
        (void)choose_forms(w, pids, n);
    return true;
}

bool oxl_walk_start(struct oxl_walk *w, const struct oxl_message *m, const struct oxl_decoding *d)
{
    return start(w, m, d, NULL, 0);
}

void oxl_learn_trims(struct oxl_decoding *d, const struct oxl_message *m, const uint8_t *pids,
                     unsigned n)
{
    struct oxl_walk w;
    struct oxl_pid it;
    if (!start(&w, m, d, pids, n) || !fits(w, pids, n))
        return;
    while (oxl_walk_next(&w, &it)) {
        uint8_t *form = is_trim(it.id) ? &d->trims : is_rear_trim(it.id) ? &d->rear_trims : NULL;
        if (form && !*form)
            *form = it.len == trim_length(it.id, d) ? OXL_TRIMS_AS_DUE
                    : it.len == 1                   ? OXL_TRIMS_ONE
                                                    : OXL_TRIMS_TWO;
    }
}

const uint8_t *oxl_find_pid(const struct oxl_message *m, const struct oxl_decoding *d, uint8_t pid,
                            size_t *len)
{
    struct oxl_walk w;
    struct oxl_pid it;
    if (!oxl_walk_start(&w, m, d))
        return NULL;
    while (oxl_walk_next(&w, &it)) {
        if (it.id == pid) {
            *len = it.len;
            return it.data;
        }
    }
    return NULL;
}

uint32_t oxl_find_pids(const struct oxl_message *m, const struct oxl_decoding *d,
                       const uint8_t *pids, unsigned n, size_t *bytes)
{
    struct oxl_walk w;
    struct oxl_pid it;
    uint32_t found = 0;
    *bytes = 0;
    if (!start(&w, m, d, pids, n))
        return 0;
    while (oxl_walk_next(&w, &it))
        for (unsigned i = 0; i < n; i++)
            if (pids[i] == it.id && !(found >> i & 1)) {
                found |= UINT32_C(1) << i;
                *bytes += 1 + it.len;
            }
    return found;
}

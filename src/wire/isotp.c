#include "wire/isotp.h"

#include <string.h>

static struct oxl_isotp_slot *find(struct oxl_isotp *t, uint32_t ecu)
{
    for (size_t i = 0; i < OXL_ISOTP_ECUS; i++)
        if (t->slots[i].used && t->slots[i].ecu == ecu)
            return &t->slots[i];
    return NULL;
}

/* A free slot, else the one whose message began longest ago. */
static struct oxl_isotp_slot *claim(struct oxl_isotp *t)
{
    struct oxl_isotp_slot *oldest = &t->slots[0];
    for (size_t i = 0; i < OXL_ISOTP_ECUS; i++) {
        if (!t->slots[i].used)
            return &t->slots[i];
        if (t->slots[i].age < oldest->age)
            oldest = &t->slots[i];
    }
    return oldest;
}

static void drop(struct oxl_isotp_slot *slot, uint64_t *broken)
{
    if (slot && slot->used) {
        slot->used = false;
        ++*broken;
    }
}

/* A new message ends the ECU's old one, ISO 15765-2 (unexpected arrival of a protocol data
 * unit). Lengths 0 and 8..15 of a single frame are ignored. */
static bool single(struct oxl_isotp *t, uint32_t ecu, const uint8_t *b, size_t n, int64_t first_us,
                   uint64_t *broken, struct oxl_isotp_done *done)
{
    size_t len = b[0] & 0x0F;
    if (len == 0 || len > 7 || len > n - 1) {
        ++*broken;
        return false;
    }
    drop(find(t, ecu), broken);
    *done = (struct oxl_isotp_done){b + 1, len, first_us};
    return true;
}

/* Classic CAN with normal addressing: a first frame is always eight bytes long and announces at
 * least 8 (what fits a single frame is sent as one). */
static void first(struct oxl_isotp *t, uint32_t ecu, const uint8_t *b, size_t n, int64_t first_us,
                  uint64_t *broken)
{
    size_t total = n >= 2 ? (size_t)(b[0] & 0x0F) << 8 | b[1] : 0;
    if (n != 8 || total < 8) {
        ++*broken;
        return;
    }
    drop(find(t, ecu), broken);
    struct oxl_isotp_slot *slot = claim(t);
    drop(slot, broken);
    slot->used = true;
    slot->ecu = ecu;
    slot->next = 1;
    slot->total = total;
    slot->have = 6;
    slot->first_us = first_us;
    slot->age = ++t->first_frames;
    memcpy(slot->data, b + 2, 6);
}

/* Without a message under way it is ignored: that message's loss has been counted, or its first
 * frame was never seen. */
static bool consecutive(struct oxl_isotp *t, uint32_t ecu, const uint8_t *b, size_t n,
                        uint64_t *broken, struct oxl_isotp_done *done)
{
    struct oxl_isotp_slot *slot = find(t, ecu);
    if (!slot)
        return false;
    size_t part = slot->total - slot->have;
    if (part > 7)
        part = 7;
    if ((b[0] & 0x0F) != slot->next || n - 1 < part) {
        drop(slot, broken);
        return false;
    }
    memcpy(slot->data + slot->have, b + 1, part);
    slot->have += part;
    slot->next = (slot->next + 1) & 0x0F;
    if (slot->have < slot->total)
        return false;
    slot->used = false;
    *done = (struct oxl_isotp_done){slot->data, slot->total, slot->first_us};
    return true;
}

bool oxl_isotp_push(struct oxl_isotp *t, uint32_t ecu, const uint8_t *b, size_t n, int64_t first_us,
                    uint64_t *broken, struct oxl_isotp_done *done)
{
    switch (b[0] >> 4) {
    case 0:
        return single(t, ecu, b, n, first_us, broken, done);
    case 1:
        first(t, ecu, b, n, first_us, broken);
        return false;
    case 2:
        return consecutive(t, ecu, b, n, broken, done);
    case 3: /* flow control: the adapter's business */
        return false;
    default: /* reserved */
        ++*broken;
        return false;
    }
}

size_t oxl_isotp_missing(struct oxl_isotp *t, uint32_t ecu)
{
    const struct oxl_isotp_slot *slot = find(t, ecu);
    return slot ? slot->total - slot->have : 0;
}

size_t oxl_isotp_drop_all(struct oxl_isotp *t)
{
    uint64_t n = 0;
    for (size_t i = 0; i < OXL_ISOTP_ECUS; i++)
        drop(&t->slots[i], &n);
    return (size_t)n;
}

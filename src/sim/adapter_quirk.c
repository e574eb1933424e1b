/* Habits and faults of adapters, and of the bus behind them, that a scenario switches on. None
 * draws a random number unless it is on, so that a scenario without them stays as it was. */
#include <math.h>
#include <string.h>

#include "sim/adapter.h"

static int64_t every(const struct oxl_adapter *a, double period_s)
{
    return period_s > 0 ? a->now_us + llround(1e6 * period_s) : INT64_MAX;
}

void oxl_ad_quirk_start(struct oxl_adapter *a)
{
    a->next_reset_us = every(a, a->set.reset_every_s);
    a->next_banner_us = every(a, a->set.banner_every_s);
}

bool oxl_ad_keeps(const struct oxl_adapter *a, int64_t t_us)
{
    bool talking = a->job.phase == OXL_AD_IDLE && t_us < a->busy_until_us;
    return (talking || a->job.phase >= OXL_AD_SEARCH) && strcmp(a->set.busy_chars, "kept") == 0;
}

bool oxl_ad_misses(struct oxl_adapter *a, int64_t t_us)
{
    bool busy = a->job.phase != OXL_AD_IDLE || t_us < a->busy_until_us;
    if (a->set.silent || t_us < a->deaf_until_us)
        return true;
    if (busy)
        return strcmp(a->set.busy_chars, "lost") == 0;
    if (!a->asleep)
        return false;
    a->asleep = false;
    a->job =
        (struct oxl_ad_job){.phase = OXL_AD_RESET, .due_us = t_us + llround(1000 * a->set.wake_ms)};
    return true;
}

/* A name stands for the command with any argument: "E" for E0 and E1, but "S" not for SP0. */
bool oxl_ad_named(const char *names, const char *command)
{
    for (const char *at = names; *at; at += strspn(at, " ")) {
        size_t n = strcspn(at, " ");
        if (strncmp(at, command, n) == 0 &&
            command[n + strspn(command + n, "0123456789ABCDEF")] == '\0')
            return true;
        at += n;
    }
    return false;
}

bool oxl_ad_chance(struct oxl_adapter *a, double pct)
{
    return pct > 0 && 100 * oxl_random_unit(&a->noise) < pct;
}

int oxl_ad_copies(struct oxl_adapter *a)
{
    if (oxl_ad_chance(a, a->set.drop_pct))
        return 0;
    return oxl_ad_chance(a, a->set.double_pct) ? 2 : 1;
}

uint8_t oxl_ad_flipped(struct oxl_adapter *a, uint8_t byte)
{
    if (!oxl_ad_chance(a, a->set.flip_pct))
        return byte;
    return (uint8_t)(byte ^ 1U << (unsigned)(8 * oxl_random_unit(&a->noise)));
}

/* short: believes one reply fewer to be enough; long: one more to be coming. */
unsigned oxl_ad_count_meant(const struct oxl_adapter *a, unsigned digit)
{
    if (digit > 1 && strcmp(a->set.count_fault, "short") == 0)
        return digit - 1;
    return digit > 0 && strcmp(a->set.count_fault, "long") == 0 ? digit + 1 : digit;
}

void oxl_ad_pad(struct oxl_adapter *a, struct oxl_ad_frame *f, size_t used)
{
    const char *kind = a->ecu.padding;
    bool odd = strcmp(kind, "some") == 0 && used % 2 == 1;
    if (a->ecu.short_frames || odd) {
        f->len = (uint8_t)used;
        return;
    }
    uint8_t byte = f->ecu == 0 ? 0xAA : 0x55;
    if (strcmp(kind, "00") == 0)
        byte = 0x00;
    else if (strcmp(kind, "FF") == 0)
        byte = 0xFF;
    for (size_t i = used; i < 8; i++)
        f->data[i] =
            strcmp(kind, "random") == 0 ? (uint8_t)(256 * oxl_random_unit(&a->noise)) : byte;
}

int64_t oxl_ad_quirk_next_us(const struct oxl_adapter *a)
{
    return oxl_earlier_us(a->next_reset_us, a->next_banner_us);
}

/* A brown-out: all settings are gone and whatever was under way is not finished. */
static void restart(struct oxl_adapter *a, int64_t t_us)
{
    enum { BOOT_US = 600000 };
    oxl_ad_drop_unsent(a, t_us);
    oxl_ad_defaults(a);
    a->line_len = 0;
    a->last_len = 0;
    a->job = (struct oxl_ad_job){.phase = OXL_AD_RESET, .due_us = t_us + BOOT_US};
    if (strcmp(a->set.reset_kind, "silent") == 0)
        a->job = (struct oxl_ad_job){.phase = OXL_AD_IDLE};
    else if (strcmp(a->set.reset_kind, "voltage") == 0)
        oxl_ad_line(a, t_us, "LV RESET");
}

void oxl_ad_quirk_step(struct oxl_adapter *a, int64_t t_us)
{
    if (a->next_reset_us <= t_us) {
        a->next_reset_us = t_us + llround(1e6 * a->set.reset_every_s);
        restart(a, t_us);
    } else {
        a->next_banner_us = t_us + llround(1e6 * a->set.banner_every_s);
        oxl_ad_line(a, t_us, oxl_ad_banner());
    }
}

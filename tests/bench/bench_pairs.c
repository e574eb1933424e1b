/* What remains of requests that are sent without proof: those of live data on CAN where no damage
 * has been seen. For each line text that a minute of each focus really sends, how many pairs of
 * neighbouring characters are such that losing both makes a request that changes something, and how
 * many pairs of any two damages; and how often an hour that is to be expected at 1 damaged
 * character in 1,000 and in 1,000,000, each by itself. For neighbours all damages are losses; for
 * any two a third are losses, doublings and wrong bits each. */
#include <stdio.h>
#include <string.h>

#include "../unit/poll/help_changing.h"
#include "desk.h"

static const int64_t focus_us = 60000000;

struct tally {
    struct desk desk;
    bool counting;
    double plain, proven;      /* requests */
    double neighbours, any[2]; /* pairs; at either rate, requests that both damages change */
};

static const double rates[2] = {1e-3, 1e-6};

/* ---- damage ---- */

enum { KINDS = 10, LOST = 8, DOUBLED = 9 };

static double chance(unsigned kind)
{
    return kind < LOST ? 1.0 / 3 / 8 : 1.0 / 3;
}

/* `text` less or more what happens to its characters at a and b. */
static bool changes(const char *text, size_t n, size_t a, unsigned how_a, size_t b, unsigned how_b)
{
    char made[100];
    size_t at = 0;
    for (size_t i = 0; i < n; i++) {
        unsigned how = i == a ? how_a : i == b ? how_b : KINDS;
        char c = text[i];
        if (how < LOST)
            c = (char)((unsigned char)c ^ (1U << how));
        for (unsigned k = how == LOST ? 0 : how == DOUBLED ? 2 : 1; k > 0; k--)
            made[at++] = c;
    }
    return line_changes(made, at);
}

static void weigh(struct tally *d, const char *text, size_t n)
{
    for (size_t i = 0; i + 1 < n; i++)
        d->neighbours += changes(text, n, i, LOST, i + 1, LOST);
    double both = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = i + 1; k < n; k++)
            for (unsigned a = 0; a < KINDS; a++)
                for (unsigned b = 0; b < KINDS; b++)
                    if (changes(text, n, i, a, k, b))
                        both += chance(a) * chance(b);
    for (int r = 0; r < 2; r++)
        d->any[r] += both * rates[r] * rates[r];
}

/* ---- a link ---- */

static void on_sent(void *ctx, const char *bytes, size_t n)
{
    struct tally *d = ctx;
    if (!d->counting || bytes[0] != '0')
        return;
    d->proven += bytes[n - 1] != '\r';
    d->plain += bytes[n - 1] == '\r';
    if (bytes[n - 1] == '\r')
        weigh(d, bytes, n - 1);
}

struct car {
    const char *name, *front;
    unsigned bank;
    bool count;
};

static void one(const struct car *c)
{
    struct oxl_adapter_settings set;
    struct oxl_ecu_settings ecu;
    struct tally d = {.desk = {.ctx = &d, .sent = on_sent}};
    const struct oxl_poll_config config = {.bank = c->bank};
    oxl_adapter_defaults(&set);
    oxl_ecu_defaults(&ecu);
    set.reply_count = c->count;
    snprintf(ecu.front, sizeof ecu.front, "%s", c->front);
    desk_open(&d.desk, &set, &ecu, &config, 1);
    desk_run(&d.desk, 10000000);
    d.counting = true;
    for (int focus = OXL_FOCUS_ALL; focus <= OXL_FOCUS_TIMING; focus++) {
        oxl_poll_focus(d.desk.poll, (enum oxl_focus)focus);
        desk_run(&d.desk, focus_us);
    }
    double hours = 3 * (double)focus_us / 3.6e9;
    printf("| %s | %.0f | %.0f | %.2g | %.2g | %.2g | %.2g |\n", c->name, d.plain / hours,
           d.proven / hours, d.neighbours / hours * rates[0] * rates[0],
           d.neighbours / hours * rates[1] * rates[1], d.any[0] / hours, d.any[1] / hours);
    desk_close(&d.desk);
}

int main(void)
{
    static const struct car cars[] = {
        {"wide-range front", "wide-current", 1, true},
        {"- no reply count", "wide-current", 1, false},
        {"- bank 2", "wide-current", 2, true},
        {"switching front", "switching", 1, true},
        {"- no reply count", "switching", 1, false},
        {"- bank 2", "switching", 2, true},
        {"- bank 2, no reply count", "switching", 2, false},
    };
    printf(
        "| CAN | sent plain an hour | proven | two neighbours, 1 in 1,000 | 1 in 1,000,000 | any "
        "two, 1 in 1,000 | 1 in 1,000,000 |\n| --- | --- | --- | --- | --- | --- | --- |\n");
    for (size_t i = 0; i < sizeof cars / sizeof cars[0]; i++)
        one(&cars[i]);
    return 0;
}

#include "sim/adapter.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Our own: it names no chip, so that a tester cannot lean on one. */
const char *oxl_ad_banner(void)
{
    return "OXYSIM adapter, simulated";
}

enum { RESET_US = 600000, WARM_RESET_US = 150000 };

static void answer(struct oxl_adapter *a, const char *text)
{
    snprintf(a->job.text, sizeof a->job.text, "%s", text);
}

static bool hex_digits(const char *s)
{
    return s[strspn(s, "0123456789ABCDEF")] == '\0';
}

static void close_protocol(struct oxl_adapter *a)
{
    a->dialect.found = 0;
    a->dialect.bus_ready = false;
    a->learned_ms = 0;
}

static unsigned present_protocol(const struct oxl_adapter *a)
{
    return a->dialect.found ? a->dialect.found : a->dialect.protocol;
}

static void say_number(struct oxl_adapter *a)
{
    snprintf(a->job.text, sizeof a->job.text, "%s%u", a->dialect.automatic ? "A" : "",
             present_protocol(a));
}

static void say_name(struct oxl_adapter *a)
{
    static const char *const names[] = {
        "",
        "SAE J1850 PWM",
        "SAE J1850 VPW",
        "ISO 9141-2",
        "ISO 14230-4 (5-baud)",
        "ISO 14230-4 (fast)",
        "ISO 15765-4 (CAN 11/500)",
        "ISO 15765-4 (CAN 29/500)",
        "ISO 15765-4 (CAN 11/250)",
        "ISO 15765-4 (CAN 29/250)",
    };
    const char *name = names[present_protocol(a)];
    snprintf(a->job.text, sizeof a->job.text, "%s%s%s", a->dialect.automatic ? "AUTO" : "",
             a->dialect.automatic && *name ? ", " : "", name);
}

static void say_voltage(struct oxl_adapter *a)
{
    answer(a, "14.1V");
}

static void say_banner(struct oxl_adapter *a)
{
    answer(a, oxl_ad_banner());
}

static void restart(struct oxl_adapter *a, int64_t after_us)
{
    oxl_ad_defaults(a);
    a->job.phase = OXL_AD_RESET;
    a->job.due_us += after_us;
}

static void reset(struct oxl_adapter *a)
{
    restart(a, RESET_US);
}

static void warm_reset(struct oxl_adapter *a)
{
    restart(a, WARM_RESET_US);
}

/* ---- with an argument, which follows the command's name; false: not this command ---- */
static bool set_protocol(struct oxl_adapter *a, const char *arg)
{
    bool automatic = arg[0] == 'A' && arg[1];
    const char *digit = arg + automatic;
    if (digit[0] < '0' || digit[0] > '9' || digit[1])
        return false;
    close_protocol(a);
    a->dialect.protocol = (unsigned)(digit[0] - '0');
    a->dialect.automatic = automatic || a->dialect.protocol == 0;
    return true;
}

static bool set_adaptive(struct oxl_adapter *a, const char *arg)
{
    if (arg[0] < '0' || arg[0] > '2' || arg[1])
        return false;
    a->dialect.adaptive = (unsigned)(arg[0] - '0');
    return true;
}

static bool set_timeout(struct oxl_adapter *a, const char *arg)
{
    if (strlen(arg) != 2 || !hex_digits(arg))
        return false;
    unsigned n = (unsigned)strtoul(arg, NULL, 16);
    a->dialect.timeout = n ? n : 0x32; /* 00 = the default */
    return true;
}

/* Three digits for an 11-bit identifier, six or eight for others. */
static bool set_address(const char *arg, uint32_t *value, unsigned *digits)
{
    size_t n = strlen(arg);
    if ((n != 3 && n != 6 && n != 8) || !hex_digits(arg))
        return false;
    *value = (uint32_t)strtoul(arg, NULL, 16);
    *digits = (unsigned)n;
    return true;
}

static bool set_header(struct oxl_adapter *a, const char *arg)
{
    return set_address(arg, &a->dialect.header, &a->dialect.header_digits);
}

static bool set_filter(struct oxl_adapter *a, const char *arg)
{
    if (!*arg) {
        a->dialect.filter_digits = 0;
        return true;
    }
    return strlen(arg) != 6 && set_address(arg, &a->dialect.filter, &a->dialect.filter_digits);
}

/* A name that begins with another comes before it. */
static const struct {
    const char *name;
    void (*alone)(struct oxl_adapter *a);                          /* takes no argument */
    bool (*with_argument)(struct oxl_adapter *a, const char *arg); /* neither: a switch, 0 or 1 */
    size_t flag;                                                   /* of the dialect */
} commands[] = {
#define ALONE(name, function)                                                                      \
    {                                                                                              \
        name, function, NULL, 0                                                                    \
    }
#define WITH(name, function)                                                                       \
    {                                                                                              \
        name, NULL, function, 0                                                                    \
    }
#define SWITCH(name, flag)                                                                         \
    {                                                                                              \
        name, NULL, NULL, offsetof(struct oxl_ad_dialect, flag)                                    \
    }
    ALONE("Z", reset),           ALONE("WS", warm_reset),     ALONE("I", say_banner),
    SWITCH("E", echo),           SWITCH("L", linefeeds),      WITH("SP", set_protocol),
    WITH("TP", set_protocol),    WITH("ST", set_timeout),     WITH("SH", set_header),
    SWITCH("S", spaces),         SWITCH("H", headers),        ALONE("DPN", say_number),
    ALONE("DP", say_name),       ALONE("D", oxl_ad_defaults), WITH("AT", set_adaptive),
    SWITCH("CAF", formatting),   WITH("CRA", set_filter),     ALONE("RV", say_voltage),
    ALONE("PC", close_protocol),
};

/* arg: what follows the command's name. False: it does not take that. */
static bool run(struct oxl_adapter *a, size_t command, const char *arg)
{
    if (commands[command].with_argument)
        return commands[command].with_argument(a, arg);
    if (commands[command].alone) {
        if (!*arg)
            commands[command].alone(a);
        return !*arg;
    }
    if ((arg[0] != '0' && arg[0] != '1') || arg[1])
        return false;
    *(bool *)((char *)&a->dialect + commands[command].flag) = arg[0] == '1';
    return true;
}

void oxl_ad_command(struct oxl_adapter *a, const char *text, int64_t t_us)
{
    a->job.phase = OXL_AD_SAY;
    bool slow = !a->set.slow_commands[0] || oxl_ad_named(a->set.slow_commands, text);
    a->job.due_us = t_us + (slow ? (int64_t)(1000 * a->set.command_ms) : 0);
    answer(a, "OK");
    if (oxl_ad_named(a->set.refuses, text)) {
        answer(a, "?");
        return;
    }
    if (oxl_ad_named(a->set.hollow, text))
        return;
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        size_t n = strlen(commands[i].name);
        if (strncmp(text, commands[i].name, n) == 0 && run(a, i, text + n))
            return;
    }
    answer(a, "?");
}

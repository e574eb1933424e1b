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

/* Each handler gets what follows the command's name; false = not this command. */

static bool on_off(const char *arg, bool *flag)
{
    if ((arg[0] != '0' && arg[0] != '1') || arg[1])
        return false;
    *flag = arg[0] == '1';
    return true;
}

static bool set_echo(struct oxl_adapter *a, const char *arg)
{
    return on_off(arg, &a->dialect.echo);
}

static bool set_linefeeds(struct oxl_adapter *a, const char *arg)
{
    return on_off(arg, &a->dialect.linefeeds);
}

static bool set_spaces(struct oxl_adapter *a, const char *arg)
{
    return on_off(arg, &a->dialect.spaces);
}

static bool set_headers(struct oxl_adapter *a, const char *arg)
{
    return on_off(arg, &a->dialect.headers);
}

static bool set_formatting(struct oxl_adapter *a, const char *arg)
{
    return on_off(arg, &a->dialect.formatting);
}

static void close_protocol(struct oxl_adapter *a)
{
    a->dialect.found = 0;
    a->dialect.bus_ready = false;
    a->learned_ms = 0;
}

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

static bool close_command(struct oxl_adapter *a, const char *arg)
{
    if (*arg)
        return false;
    close_protocol(a);
    return true;
}

static unsigned present_protocol(const struct oxl_adapter *a)
{
    return a->dialect.found ? a->dialect.found : a->dialect.protocol;
}

static bool say_number(struct oxl_adapter *a, const char *arg)
{
    char text[8];
    if (*arg)
        return false;
    snprintf(text, sizeof text, "%s%u", a->dialect.automatic ? "A" : "", present_protocol(a));
    answer(a, text);
    return true;
}

static bool say_name(struct oxl_adapter *a, const char *arg)
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
    char text[OXL_AD_LINE];
    if (*arg)
        return false;
    const char *name = names[present_protocol(a)];
    snprintf(text, sizeof text, "%s%s%s", a->dialect.automatic ? "AUTO" : "",
             a->dialect.automatic && *name ? ", " : "", name);
    answer(a, text);
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

static bool say_voltage(struct oxl_adapter *a, const char *arg)
{
    if (*arg)
        return false;
    answer(a, "14.1V");
    return true;
}

static bool say_banner(struct oxl_adapter *a, const char *arg)
{
    if (*arg)
        return false;
    answer(a, oxl_ad_banner());
    return true;
}

static bool restart(struct oxl_adapter *a, const char *arg, int64_t after_us)
{
    if (*arg)
        return false;
    oxl_ad_defaults(a);
    a->job.phase = OXL_AD_RESET;
    a->job.due_us += after_us;
    return true;
}

static bool reset_command(struct oxl_adapter *a, const char *arg)
{
    return restart(a, arg, RESET_US);
}

static bool warm_reset(struct oxl_adapter *a, const char *arg)
{
    return restart(a, arg, WARM_RESET_US);
}

static bool all_defaults(struct oxl_adapter *a, const char *arg)
{
    if (*arg)
        return false;
    oxl_ad_defaults(a);
    return true;
}

/* A name that begins with another comes before it. */
static const struct {
    const char *name;
    bool (*run)(struct oxl_adapter *a, const char *arg);
} commands[] = {
    {"Z", reset_command}, {"WS", warm_reset},   {"I", say_banner},     {"E", set_echo},
    {"L", set_linefeeds}, {"SP", set_protocol}, {"TP", set_protocol},  {"ST", set_timeout},
    {"SH", set_header},   {"S", set_spaces},    {"H", set_headers},    {"DPN", say_number},
    {"DP", say_name},     {"D", all_defaults},  {"AT", set_adaptive},  {"CAF", set_formatting},
    {"CRA", set_filter},  {"RV", say_voltage},  {"PC", close_command},
};

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
        if (strncmp(text, commands[i].name, n) == 0 && commands[i].run(a, text + n))
            return;
    }
    answer(a, "?");
}

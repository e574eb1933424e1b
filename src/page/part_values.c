/* Values of live data or of a freeze frame, by the names and in the units of a shop. */

#include "oxylag/grade.h"
#include "page.h"

static const struct {
    const char *words, *unit;
    int decimals;
} shown[OXL_Q_COUNT] = {
    [OXL_Q_NONE] = {"not known", "", 3},
    [OXL_Q_STFT_PCT] = {"short-term trim", "%", 1},
    [OXL_Q_LTFT_PCT] = {"long-term trim", "%", 1},
    [OXL_Q_REAR_STFT_PCT] = {"rear short-term trim", "%", 1},
    [OXL_Q_REAR_LTFT_PCT] = {"rear long-term trim", "%", 1},
    [OXL_Q_O2_V] = {"oxygen sensor", "V", 3},
    [OXL_Q_O2_TRIM_PCT] = {"trim by oxygen sensor", "%", 1},
    [OXL_Q_LAMBDA] = {"lambda", "", 3},
    [OXL_Q_WIDE_V] = {"wide-range sensor", "V", 3},
    [OXL_Q_WIDE_MA] = {"wide-range sensor", "mA", 3},
    [OXL_Q_CAT_TEMP_C] = {"catalyst temperature", "C", 0},
    [OXL_Q_FUEL_SYSTEM] = {"fuel system", "", 0},
    [OXL_Q_LOAD_PCT] = {"load", "%", 0},
    [OXL_Q_COOLANT_C] = {"coolant", "C", 0},
    [OXL_Q_MAP_KPA] = {"intake manifold", "kPa", 0},
    [OXL_Q_RPM] = {"engine speed", "rpm", 0},
    [OXL_Q_SPEED_KMH] = {"vehicle speed", "km/h", 0},
    [OXL_Q_INTAKE_C] = {"intake air", "C", 0},
    [OXL_Q_AIR_G_S] = {"air flow", "g/s", 2},
    [OXL_Q_THROTTLE_PCT] = {"throttle", "%", 0},
    [OXL_Q_SECONDARY_AIR] = {"secondary air", "", 0},
    [OXL_Q_RUN_TIME_S] = {"run time", "s", 0},
    [OXL_Q_COMMANDED_LAMBDA] = {"commanded lambda", "", 3},
    [OXL_Q_FUEL_TYPE] = {"fuel type", "", 0},
    [OXL_Q_FUEL_RATE_L_H] = {"fuel rate", "l/h", 2},
    [OXL_Q_MODULE_V] = {"ECU's supply", "V", 1},
};

static void name(struct oxl_page *p, struct oxl_channel c)
{
    const char *words = shown[c.quantity].words;
    if (c.quantity == OXL_Q_FUEL_SYSTEM)
        oxl_page_cell(p, "%s %u", words, (unsigned)c.bank);
    else if (c.sensor)
        oxl_page_cell(p, "%s B%uS%u", words, (unsigned)c.bank, (unsigned)c.sensor);
    else if (c.bank)
        oxl_page_cell(p, "%s B%u", words, (unsigned)c.bank);
    else
        oxl_page_cell(p, "%s", words);
}

static const char *loop(double code)
{
    return code == 0                          ? "not in use"
           : oxl_loop_closed(code)            ? "closed loop"
           : oxl_loop_closed_with_fault(code) ? "closed loop with a fault"
                                              : "open loop";
}

/* PID 51, SAE J1979. */
static const char *fuel(double code)
{
    static const char *const fuels[] = {"not known", "gasoline", "methanol", "ethanol", "diesel",
                                        "LPG",       "CNG",      "propane",  "electric"};
    const size_t i = code >= 0 && code < 256 ? (size_t)code : 0;
    return i < sizeof fuels / sizeof fuels[0] ? fuels[i]
           : oxl_fuel_is_hybrid(code)         ? "hybrid"
           : i <= 23                          ? "bi-fuel"
                                              : "another one";
}

static void value(struct oxl_page *p, const struct oxl_sample *s)
{
    const enum oxl_quantity q = s->channel.quantity;
    char text[OXL_FIGURE_TEXT];
    oxl_figure_number(s->value, shown[q].decimals, shown[q].unit, text);
    oxl_page_cell(p, "%s",
                  q == OXL_Q_FUEL_SYSTEM     ? loop(s->value)
                  : q == OXL_Q_FUEL_TYPE     ? fuel(s->value)
                  : q == OXL_Q_SECONDARY_AIR ? (oxl_secondary_air_on(s->value) ? "on" : "off")
                                             : text);
}

void oxl_part_values(struct oxl_page *p, const char *title, const struct oxl_sample *s, size_t n)
{
    static const double weights[] = {2, 1, 2, 1};
    if (n == 0)
        return;
    oxl_page_table(p, 4, weights);
    for (size_t c = 0; c < 4; c++)
        oxl_page_cell(p, "%s", c ? "" : title);
    for (size_t i = 0; i < n; i++) {
        name(p, s[i].channel);
        value(p, &s[i]);
    }
}

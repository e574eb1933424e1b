#include "sim/scenario.h"

#include <string.h>

/* The titles of the built-in scenarios, so that they can be listed without reading each file. */
static const struct {
    const char *name, *title;
} titles[] = {
    {"aged", "Aged converter: the grey zone between the limits"},
    {"another-speed", "Adapter at another speed: found by trying"},
    {"codes", "Trouble codes, two ECUs, a slow answer: what an inspection shows"},
    {"biased-rear", "Biased rear sensor: it never shows fully rich"},
    {"cold", "Cold engine and converter: wait for warmth and closed loop"},
    {"cool-converter", "Warm engine, cool converter: a sound one made to look bad"},
    {"crossed-fronts", "Crossed front sensors: each bank is trimmed by the other's sensor"},
    {"dead", "Dead converter: the rear follows the front"},
    {"dead-rear", "Dead rear sensor: it never goes lean, whatever the converter does"},
    {"deeper-dead", "Dead converter behind a fast trim: a deeper run decides"},
    {"deeper-good", "Sound converter behind a fast trim: a deeper run decides"},
    {"frozen-trim", "Frozen trim: the status says closed loop, the trim stands at 0"},
    {"garbage", "A bad line: noise between the bytes"},
    {"good", "Sound converter, wide-range front: what a good result looks like"},
    {"kline", "K-line vehicle: few samples a second, wide intervals"},
    {"lazy-front", "Lazy front sensor: the clock starts late and the time comes out short"},
    {"leak-at-rear", "Exhaust leak at the rear sensor: air reaches it behind the converter"},
    {"leak-before-front", "Exhaust leak ahead of the front sensor: the engine really runs rich"},
    {"leak-before-rear", "Exhaust leak between the sensors: a sound converter made to look bad"},
    {"misfire", "Misfire: oxygen passes the engine unburned"},
    {"new-converter", "New converter: it may store little until it has been driven"},
    {"no-rear", "No rear sensor: this vehicle cannot be tested this way"},
    {"no-vehicle", "The adapter answers, the vehicle does not: ignition off"},
    {"open-loop", "Never in closed loop: there is no trim to shift"},
    {"opened-port", "The opened port lets in too much air: use a smaller one"},
    {"over-propane", "Too much propane: an aged converter made to look worse"},
    {"residual-propane", "Propane left in a long hose: the release is a ramp, not a step"},
    {"secondary-air", "Secondary air is on: the exhaust is lean whatever the engine does"},
    {"shared-rear", "Two banks join ahead of one rear sensor: one figure for both"},
    {"silent-adapter", "An adapter that answers nothing"},
    {"slow-refresh", "Slow refresh: the ECU takes new sensor values twice a second"},
    {"slow-rear", "Slow rear sensor: a worn-out converter made to look better"},
    {"speed-density", "No air meter: air flow is worked out from manifold pressure"},
    {"switching-front", "Switching front sensor: balance dithers before the release"},
    {"two-banks", "Two banks: watch the same bank before and behind"},
    {"under-propane", "Too little propane: an aged converter made to look better"},
    {"unplugged", "The adapter is pulled out in the middle of a timing"},
    {"valve-not-shut", "The valve drips: trims fall although no gas is called for"},
    {"wide-rear", "Wide-range rear sensor: lambda, not volts, tells when it goes lean"},
    {"wide-volts", "Wide-range front in volts: lambda tells the direction, never the volts"},
};

const char *oxl_scenario_title(const char *name)
{
    for (size_t i = 0; i < sizeof titles / sizeof titles[0]; i++)
        if (!strcmp(titles[i].name, name))
            return titles[i].title;
    return "";
}

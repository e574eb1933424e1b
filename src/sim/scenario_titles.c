#include "sim/scenario.h"

#include <string.h>

/* The titles of the built-in scenarios, so that they can be listed without reading each file. */
static const struct {
    const char *name, *title;
} titles[] = {
    {"aged", "Aged converter: the grey zone between the limits"},
    {"another-speed", "Adapter at another speed: found by trying"},
    {"cold", "Cold engine and converter: wait for warmth and closed loop"},
    {"cool-converter", "Warm engine, cool converter: a sound one made to look bad"},
    {"crossed-fronts", "Crossed front sensors: each bank is trimmed by the other's sensor"},
    {"dead", "Dead converter: the rear follows the front"},
    {"dead-rear", "Dead rear sensor: it never goes lean, whatever the converter does"},
    {"garbage", "A bad line: noise between the bytes"},
    {"good", "Sound converter, wide-range front: what a good result looks like"},
    {"kline", "K-line vehicle: few samples a second, wide intervals"},
    {"lazy-front", "Lazy front sensor: the clock starts late and the time comes out short"},
    {"leak-before-rear", "Exhaust leak between the sensors: a sound converter made to look bad"},
    {"misfire", "Misfire: oxygen passes the engine unburned"},
    {"no-rear", "No rear sensor: this vehicle cannot be tested this way"},
    {"no-vehicle", "The adapter answers, the vehicle does not: ignition off"},
    {"open-loop", "Never in closed loop: there is no trim to shift"},
    {"opened-port", "The opened port lets in too much air: use a smaller one"},
    {"over-propane", "Too much propane: an aged converter made to look worse"},
    {"residual-propane", "Propane left in a long hose: the release is a ramp, not a step"},
    {"silent-adapter", "An adapter that answers nothing"},
    {"slow-rear", "Slow rear sensor: a worn-out converter made to look better"},
    {"speed-density", "No air meter: air flow is worked out from manifold pressure"},
    {"switching-front", "Switching front sensor: balance dithers before the release"},
    {"two-banks", "Two banks: watch the same bank before and behind"},
    {"under-propane", "Too little propane: an aged converter made to look better"},
    {"unplugged", "The adapter is pulled out in the middle of a timing"},
    {"valve-not-shut", "The valve drips: trims fall although no gas is called for"},
    {"wide-volts", "Wide-range front in volts: lambda tells the direction, never the volts"},
};

const char *oxl_scenario_title(const char *name)
{
    for (size_t i = 0; i < sizeof titles / sizeof titles[0]; i++)
        if (!strcmp(titles[i].name, name))
            return titles[i].title;
    return "";
}

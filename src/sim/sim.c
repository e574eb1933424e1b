/* The facade: technician -> plant -> ECU -> adapter, all in virtual time. */
#include "oxylag/sim.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "sim/plant.h"
#include "sim/scenario.h"
#include "sim/technician.h"

/* From when to when something is wrong; INT64_MAX when not planned. */
struct trouble {
    bool in_timing;
    int64_t from_us, to_us, length_us;
};

struct oxl_sim {
    struct oxl_scenario scenario;
    uint64_t seed;
    int64_t now_us; /* latest moment anyone has spoken of */
    struct oxl_plant *plant;
    struct oxl_technician technician;
    struct oxl_adapter *adapter;
    bool held;
    struct trouble unplug, stall, ignition;
    bool plugged, powered;  /* powered: somebody is on the bus */
    double run_time_from_s; /* what the controller's run time has lost by being switched off */
};

static const int64_t after_lean_us = 500000;

/* The technician's moves lie on a grid of their own, so that nobody's reading times matter. */
static void run_plant(struct oxl_sim *s, int64_t t_us)
{
    struct oxl_plant *p = s->plant;
    while (p->t_us + OXL_STEP_US <= t_us) {
        int64_t next_us = (p->t_us / OXL_CONTROL_US + 1) * OXL_CONTROL_US;
        oxl_plant_run(p, next_us < t_us ? next_us : t_us);
        if (p->t_us % OXL_CONTROL_US == 0)
            oxl_technician_step(&s->technician, p, p->t_us);
    }
}

static struct trouble trouble(double at_s, double length_s, bool in_timing)
{
    struct trouble x = {in_timing, INT64_MAX, INT64_MAX, (int64_t)(length_s * 1e6)};
    if (!isnan(at_s)) {
        x.from_us = (int64_t)(at_s * 1e6);
        x.to_us = x.from_us + x.length_us;
    }
    return x;
}

static bool is_on(const struct trouble *x, int64_t t_us)
{
    return t_us >= x->from_us && t_us < x->to_us;
}

static void plan(const struct oxl_sim *s, struct trouble *x)
{
    int64_t since_us;
    if (!x->in_timing || x->from_us != INT64_MAX || !oxl_plant_front_lean(s->plant, &since_us))
        return;
    x->from_us = since_us + after_lean_us;
    x->to_us = x->from_us + x->length_us;
}

static void work_plug(struct oxl_sim *s, int64_t t_us)
{
    if (s->plugged && is_on(&s->unplug, t_us))
        s->plugged = false;
    if (!s->plugged && t_us >= s->unplug.to_us) {
        s->plugged = true;
        oxl_adapter_power_cycle(s->adapter, s->unplug.to_us);
    }
}

/* The adapter lives on the vehicle's battery, which is always on. */
static void work_ignition(struct oxl_sim *s, int64_t t_us)
{
    bool on = s->scenario.ecu.answers && !is_on(&s->ignition, t_us);
    if (on == s->powered)
        return;
    s->powered = on;
    oxl_adapter_ignition(s->adapter, on);
    if (on) {
        struct oxl_readout r;
        oxl_plant_readout(s->plant, &r);
        s->run_time_from_s = r.run_time_s;
    }
}

static void advance(struct oxl_sim *s, int64_t t_us)
{
    if (t_us <= s->now_us)
        return;
    s->now_us = t_us;
    /* The adapter first: it asks for the plant as it was at each moment on the way. */
    if (s->plugged)
        oxl_adapter_read(s->adapter, NULL, 0, t_us);
    run_plant(s, t_us);
    plan(s, &s->unplug);
    plan(s, &s->stall);
    plan(s, &s->ignition);
    work_plug(s, t_us);
    work_ignition(s, t_us);
}

static void readout(void *ctx, int64_t t_us, struct oxl_readout *out)
{
    struct oxl_sim *s = ctx;
    oxl_technician_asked(&s->technician, t_us / OXL_CONTROL_US * OXL_CONTROL_US);
    run_plant(s, t_us);
    oxl_plant_readout(s->plant, out);
    out->run_time_s -= s->run_time_from_s;
}

struct oxl_sim *oxl_sim_new(const struct oxl_scenario *scenario, uint64_t seed,
                            enum oxl_tech_mode mode)
{
    struct oxl_sim *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->scenario = *scenario;
    s->seed = seed;
    s->plugged = true;
    const struct oxl_adapter_settings *a = &scenario->adapter;
    s->powered = scenario->ecu.answers;
    s->unplug = trouble(a->unplug_at_s, a->unplug_s, a->unplug_in_timing);
    s->stall = trouble(a->stall_at_s, a->stall_s, a->stall_in_timing);
    s->ignition = trouble(a->ignition_off_at_s, a->ignition_off_s, a->ignition_off_in_timing);
    const struct oxl_adapter_hooks hooks = {.ctx = s, .readout = readout};
    s->plant = oxl_plant_new(&scenario->plant, &scenario->ecu, seed);
    s->held = a->held;
    s->adapter = oxl_adapter_new(&scenario->adapter, &scenario->ecu, seed ^ 0xada97e4u, &hooks);
    if (!s->plant || !s->adapter) {
        oxl_sim_free(s);
        return NULL;
    }
    oxl_technician_init(&s->technician, &scenario->technician, mode, seed);
    return s;
}

void oxl_sim_free(struct oxl_sim *s)
{
    if (!s)
        return;
    oxl_plant_free(s->plant);
    oxl_adapter_free(s->adapter);
    free(s);
}

void oxl_sim_write(struct oxl_sim *s, const void *bytes, size_t n, unsigned baud, int64_t t_us)
{
    advance(s, t_us);
    if (s->plugged)
        oxl_adapter_write(s->adapter, bytes, n, baud, t_us);
}

size_t oxl_sim_read(struct oxl_sim *s, void *bytes, size_t n, int64_t t_us)
{
    advance(s, t_us);
    if (!s->plugged || is_on(&s->stall, t_us))
        return 0;
    return oxl_adapter_read(s->adapter, bytes, n, t_us);
}

static int64_t ahead(const struct oxl_sim *s, int64_t at_us, int64_t due_us)
{
    return at_us > s->now_us && at_us < due_us ? at_us : due_us;
}

int64_t oxl_sim_due_us(const struct oxl_sim *s)
{
    if (!s->plugged)
        return s->unplug.to_us;
    if (is_on(&s->stall, s->now_us))
        return ahead(s, s->unplug.from_us, s->stall.to_us);
    return ahead(s, s->unplug.from_us, oxl_adapter_due_us(s->adapter));
}

bool oxl_sim_plugged(struct oxl_sim *s, int64_t t_us)
{
    advance(s, t_us);
    return s->plugged;
}

void oxl_sim_opened(struct oxl_sim *s, int64_t t_us)
{
    advance(s, t_us);
    oxl_adapter_opened(s->adapter, t_us);
}

bool oxl_sim_held(const struct oxl_sim *s)
{
    return s->held;
}

void oxl_sim_run(struct oxl_sim *s, int64_t t_us)
{
    advance(s, t_us);
}

void oxl_sim_hear(struct oxl_sim *s, const struct oxl_event *ev)
{
    oxl_technician_hear(&s->technician, ev, s->now_us);
}

void oxl_sim_valve(struct oxl_sim *s, double opening, int64_t t_us)
{
    advance(s, t_us);
    if (s->technician.mode == OXL_TECH_BY_HAND)
        oxl_plant_valve(s->plant, opening);
}

const struct oxl_plant *oxl_sim_plant(const struct oxl_sim *s)
{
    return s->plant;
}

size_t oxl_sim_truth_count(struct oxl_sim *s)
{
    return s->plant->truth.count;
}

bool oxl_sim_truth(struct oxl_sim *s, size_t i, struct oxl_truth *out)
{
    if (i >= s->plant->truth.count)
        return false;
    *out = s->plant->truth.list[i];
    return true;
}

/* A scenario's name comes from a file name, which may hold anything. */
static void plain_name(const char *name, char *out, size_t n)
{
    size_t at = 0;
    for (; *name && at + 1 < n; name++)
        out[at++] = *name < 0x20 || *name == '"' || *name == '\\' || *name == 0x7f ? '?' : *name;
    out[at] = '\0';
}

size_t oxl_sim_truth_header(const struct oxl_sim *s, char *out, size_t n)
{
    char name[sizeof s->scenario.name];
    plain_name(s->scenario.name, name, sizeof name);
    int len = snprintf(out, n,
                       "{\"truth\":\"header\",\"scenario\":\"%s\",\"seed\":%llu,"
                       "\"simulated\":true}\n",
                       name, (unsigned long long)s->seed);
    return len > 0 && (size_t)len < n ? (size_t)len : 0;
}

const struct oxl_adapter *oxl_sim_adapter(const struct oxl_sim *s)
{
    return s->adapter;
}

#include "sim/plant.h"

#include <math.h>
#include <string.h>

static double lambda_of(double x)
{
    double lambda = x < 0.499 ? 1 / (1 - x) : 1.996; /* the PID's full scale is below 2 */
    return lambda < 0.5 ? 0.5 : lambda;
}

static bool rear_stuck(const struct oxl_plant *p)
{
    return strcmp(p->s.rear_fault, "stuck") == 0;
}

void oxl_sensors_init(struct oxl_plant *p, struct oxl_bank *b)
{
    b->front_v = 0.6;
    b->rear_v = rear_stuck(p) ? p->s.rear_stuck_v : p->s.rear_trim_v;
    oxl_sensors_tick(p, b);
}

double oxl_rear_curve_v(const struct oxl_plant *p, double x)
{
    double v = oxl_nernst_v(&p->rear_curve, x) + p->s.rear_rich_v;
    return fmin(p->s.rear_top_v, fmax(p->s.rear_bottom_v, v));
}

/* A wide-range sensor lags in its pumped oxygen, a switching one in its voltage. */
void oxl_sensors_step(struct oxl_plant *p, struct oxl_bank *b)
{
    double front_gas = 1 - b->phi_front + b->misfire_x, rear_gas = 1 - b->phi_rear;
    if (p->s.shared_rear && p->s.banks == 2)
        rear_gas = 1 - 0.5 * (p->bank[0].phi_rear + p->bank[1].phi_rear);
    b->front_x += (front_gas - b->front_x) * OXL_STEP_S / p->s.front_lag_s;
    b->rear_x += (rear_gas - b->rear_x) * OXL_STEP_S / p->s.rear_lag_s;
    if (p->front_switching)
        b->front_v +=
            (oxl_nernst_v(&p->front_curve, front_gas) - b->front_v) * OXL_STEP_S / p->s.front_lag_s;
    if (!rear_stuck(p))
        b->rear_v += (oxl_rear_curve_v(p, rear_gas) - b->rear_v) * OXL_STEP_S / p->s.rear_lag_s;
}

void oxl_sensors_tick(struct oxl_plant *p, struct oxl_bank *b)
{
    b->front_noise = p->s.front_noise * oxl_random_normal(&p->sense);
    b->front_v_noise = p->s.rear_noise_v * oxl_random_normal(&p->sense);
    b->rear_v_noise = p->s.rear_noise_v * oxl_random_normal(&p->sense);
    b->rear_noise = p->s.front_noise * oxl_random_normal(&p->sense);
}

double oxl_front_lambda_read(const struct oxl_bank *b)
{
    return lambda_of(b->front_x) + b->front_noise;
}

double oxl_front_v_read(const struct oxl_bank *b)
{
    return fmax(0, b->front_v + b->front_v_noise);
}

double oxl_rear_v_read(const struct oxl_plant *p, const struct oxl_bank *b)
{
    bool biased = strcmp(p->s.rear_fault, "biased") == 0;
    double rear_v = biased ? p->s.rear_gain * b->rear_v + p->s.rear_offset_v : b->rear_v;
    return fmax(0, rear_v + b->rear_v_noise);
}

double oxl_rear_lambda_read(const struct oxl_bank *b)
{
    return lambda_of(b->rear_x) + b->rear_noise;
}

static void bank_readout(const struct oxl_plant *p, unsigned bank, struct oxl_readout *out)
{
    const struct oxl_bank *b = &p->bank[bank];
    unsigned seen = p->s.crossed_fronts && p->s.banks == 2 ? 1 - bank : bank;
    const struct oxl_bank *front = &p->bank[seen];
    out->stft_pct[bank] = 100 * b->trims.stft;
    out->ltft_pct[bank] = p->has_ltft ? 100 * b->trims.ltft : NAN;
    if (p->front_switching)
        out->front_v[bank] = oxl_front_v_read(front);
    if (p->front_wide) {
        out->front_lambda[bank] = oxl_front_lambda_read(front);
        double x = 1 - 1 / out->front_lambda[bank];
        /* an invented pump-current curve: steeper on the rich side, as such cells are */
        out->front_ma[bank] = x >= 0 ? 3.0 * x : 6.0 * x;
        out->front_wide_v[bank] = 3.3 + 2.0 * x;
    }
    bool rear = p->rear_present && !(bank == 1 && p->s.shared_rear);
    if (rear && p->rear_wide)
        out->rear_lambda[bank] = oxl_rear_lambda_read(b);
    else if (rear)
        out->rear_v[bank] = oxl_rear_v_read(p, b);
    out->cat_temp_c[bank] = b->cat.temp_c;
    out->fuel_system[bank] = oxl_trims_status(p, b);
}

static void unknown(struct oxl_readout *out)
{
    memset(out, 0, sizeof *out);
    for (unsigned b = 0; b < OXL_SIM_BANKS; b++) {
        out->stft_pct[b] = out->ltft_pct[b] = NAN;
        out->front_v[b] = out->front_lambda[b] = out->front_ma[b] = out->front_wide_v[b] = NAN;
        out->rear_v[b] = out->rear_lambda[b] = out->cat_temp_c[b] = NAN;
    }
}

void oxl_sensors_readout(const struct oxl_plant *p, struct oxl_readout *out)
{
    unknown(out);
    for (unsigned b = 0; b < p->s.banks; b++)
        bank_readout(p, b, out);
    const struct oxl_engine *e = &p->engine;
    out->air_g_s = e->air_g_s * (1 + p->s.air_meter_error_pct / 100) * (1 + p->air_read_error);
    out->map_kpa = oxl_engine_map_kpa(p);
    out->rpm = e->rpm;
    out->intake_c = p->s.intake_c;
    out->coolant_c = e->coolant_c;
    out->throttle_pct = 14 + e->throttle_pct;
    double full_g_s = 1.2 * p->s.displacement_l * e->rpm / 120;
    out->secondary_air = p->s.secondary_air_pct <= 0 ? 0 : oxl_plant_secondary_air(p) > 0 ? 1 : 4;
    out->load_pct = fmin(100, 100 * e->air_g_s / full_g_s);
    out->run_time_s = e->run_time_s;
    out->target_lambda = p->habits.target;
    out->module_v = oxl_habits_module_v(p);
    out->rich_dtc = p->habits.rich_dtc;
    if (p->habits.stopped)
        out->air_g_s = out->load_pct = 0;
}

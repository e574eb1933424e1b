/* One line a run, tab-separated, for whoever wants to look closer. */
#include <math.h>

#include "campaign.h"

static void reasons_print(FILE *out, oxl_reasons set)
{
    const char *comma = "";
    for (unsigned i = 0; i < OXL_R_COUNT; i++)
        if (oxl_reasons_has(set, (enum oxl_reason)i)) {
            fprintf(out, "%s%s", comma, oxl_reason_code((enum oxl_reason)i));
            comma = ",";
        }
}

static void run_print(FILE *out, const struct trial *t, const struct trial_run *r)
{
    static const char *const classes[] = {"dead", "middle", "sound", "unknown"};
    static const char *const models[] = {"plug", "two-site", "tanks"};
    const struct oxl_run_result *g = &r->got;
    fprintf(out, "%llu\t%s\t%s\t%s\t%s\t%.2f\t%.0f\t%.1f\t", (unsigned long long)t->seed, t->name,
            link_name(t->link), t->wide ? "wide" : "switching", models[t->kinetics.model],
            t->air_g_s, t->capacity_mg, t->recovery_s);
    fprintf(out, "%s\t%s\t%.3f\t%.1f\t%.1f\t", classes[trial_class(t)],
            t->has_result ? oxl_verdict_name(t->result.verdict) : "none", t->ideal.delay_s,
            t->ideal.stored_mg, t->ideal.constant_mg);
    fprintf(out, "%d\t%d\t%d\t%.2f\t%.0f\t%.3f\t%.3f\t%.3f\t", g->run, g->valid, g->dropped,
            g->shift_pct, g->sample_round_ms, g->delay_s.value, g->delay_s.low, g->delay_s.high);
    fprintf(out, "%.3f\t%.3f\t%.3f\t%.1f\t%.1f\t%.1f\t%d\t", g->delay_at_target_s.value,
            g->delay_at_target_s.low, g->delay_at_target_s.high, g->o2_mg.value, g->o2_mg.low,
            g->o2_mg.high, g->o2_is_lower_bound);
    fprintf(out, "%.1f\t%.1f\t%.1f\t%.1f\t%.2f\t%.3f\t%.2f\t%.2f\t", g->o2_from_lambda_mg,
            g->o2_from_trim_mg, g->o2_removed_mg, g->o2_supply_mg, g->air_g_s, g->path_s,
            g->trim_recovery_pct_s, g->trim_recovery_tau_s);
    if (r->has_truth)
        fprintf(out, "%.2f\t%.3f\t%.3f\t%.3f\t%.1f\t%.1f\t%.1f\t%.1f\t", r->truth.shift_pct,
                r->truth.front_lean_t_s, r->truth.rear_lean_t_s, r->truth.delay_s,
                r->truth.stored_mg, r->truth.empty_mg, r->truth.removed_mg, r->truth.capacity_mg);
    else
        fprintf(out, "nan\tnan\tnan\tnan\tnan\tnan\tnan\tnan\t");
    fprintf(out, "%d\t%.1f\t", g->deeper, g->o2_needed_mg);
    fprintf(out, "%.3f\t%.3f\t%.3f\t", 1e-6 * (double)g->front_lean.t_us,
            1e-6 * (double)g->rear_lean.t_us, g->front_ramp_s);
    reasons_print(out, g->reasons);
    fputc('\t', out);
    reasons_print(out, t->result.reasons);
    fprintf(out, "\t%.0f\t%.0f\t%.0f\t%d\t%.4f\t%.4f\t", t->refresh_ms[OXL_REFRESH_FRONT],
            t->refresh_ms[OXL_REFRESH_REAR], t->refresh_ms[OXL_REFRESH_TRIMS], t->snapshot,
            r->physics.shape_s, r->physics.bracket_s);
    fprintf(out, "%.4f\t%.1f\t%.1f\t%.1f\t", g->rear_above_v, t->kinetics.k, t->kinetics.slip_pct,
            t->kinetics.slow_pct);
    fprintf(out, "%.4f\t%.4f\t%.4f\t%.4f\t%.4f\t", g->front_refresh.period_s,
            g->front_refresh.at_most_s, g->rear_refresh.period_s, g->rear_refresh.at_most_s,
            r->physics.asked_s);
    fprintf(out, "%s\t%.1f\t%.0f\t%.2f\n",
            t->has_result ? oxl_conclusion_name(t->result.conclusion) : "none", t->spent.seen_s,
            t->spent.gas_mg, t->spent.deep_s);
}

void rows_print(FILE *out, const struct trial *t, size_t n)
{
    fputs(
        "seed\tname\tlink\tfront\tmodel\tair\tcapacity\trecovery\tclass\tverdict\tideal_delay\t"
        "ideal_stored\tconstant\trun\tvalid\tdropped\tshift\tround\tdelay\tdelay_low\tdelay_high\t"
        "target\ttarget_low\ttarget_high\to2\to2_low\to2_high\to2_bound\to2_lambda\to2_trim\t"
        "o2_removed\to2_supply\trun_air\tpath\tramp\ttau\ttrue_shift\ttrue_front\ttrue_rear\t"
        "true_delay\ttrue_stored\ttrue_empty\ttrue_removed\ttrue_capacity\tdeeper\to2_"
        "needed\tfront_lean\t"
        "rear_lean\tfront_ramp\treasons\tresult_reasons\trefresh_front\trefresh_rear\t"
        "refresh_trims\tsnapshot\tshape\tbracket\t"
        "above_v\tk\tslip\tslow\t"
        "front_period\tfront_at_most\trear_period\trear_at_most\tasked\t"
        "conclusion\ttook\tgas\tdeep\n",
        out);
    for (size_t i = 0; i < n; i++) {
        static const struct trial_run nothing;
        if (!t[i].seed)
            continue;
        if (t[i].runs == 0)
            run_print(out, &t[i], &nothing);
        for (int k = 0; k < t[i].runs; k++)
            run_print(out, &t[i], &t[i].run[k]);
    }
}

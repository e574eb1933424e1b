/* Minutes from the link to the end and where they go; gas and heat. */
#include <math.h>

#include "campaign.h"
#include "sim/plant.h"

static const double deep_pct = -25.0; /* beyond the depth that a run is accepted at */

void spent_event(struct spent *s, const struct oxl_event *ev)
{
    if (ev->kind == OXL_EV_STATE) {
        s->state = ev->u.state.state;
        s->offered = false;
    }
    if (ev->kind == OXL_EV_LINK)
        s->surveyed = s->surveyed || ev->u.link.state == OXL_LINK_READY;
    if (ev->kind == OXL_EV_RUN)
        s->deeper = false;
    if (ev->kind != OXL_EV_ADVICE)
        return;
    s->deeper = s->deeper || ev->u.advice.advice == OXL_ADV_DEEPER_OFFER;
    s->offered = s->offered || ev->u.advice.advice == OXL_ADV_LEAK_OFFER ||
                 ev->u.advice.advice == OXL_ADV_ASK_NEW;
}

static enum part part_of(const struct spent *s)
{
    static const enum part parts[OXL_STATE_COUNT] = {
        [OXL_STATE_PRECHECK] = PART_PRECHECK, [OXL_STATE_BASELINE] = PART_BASELINE,
        [OXL_STATE_ENRICHMENT] = PART_GAS,    [OXL_STATE_RELEASE] = PART_TIMING,
        [OXL_STATE_TIMING] = PART_TIMING,     [OXL_STATE_RECOVERY] = PART_RECOVERY,
        [OXL_STATE_LEAK_CHECK] = PART_LEAK};
    if (!s->surveyed)
        return PART_SURVEY;
    if (s->offered)
        return PART_OFFER;
    return s->deeper ? PART_DEEPER : parts[s->state];
}

void spent_step(struct spent *s, const struct oxl_plant *p, double t_s)
{
    const double dt_s = t_s - s->seen_s;
    const double shift_pct = 100 * (oxl_plant_trim(p, 0) - p->truth.trim_rest);
    s->seen_s = t_s;
    s->s[part_of(s)] += dt_s;
    s->gas_mg += 1e3 * oxl_gas_flow_g_s(p) * dt_s;
    if (p->truth.phase == OXL_TRUTH_GAS && shift_pct < deep_pct) {
        s->deep_s += dt_s;
        s->deeper_deep_s += s->deeper ? dt_s : 0;
    }
}

static double total_s(const struct trial *t)
{
    return t->spent.seen_s;
}

/* ---- tables ---------------------------------------------------------------------------------- */
enum { LINKS = 3 };
static const char *const link_groups[LINKS] = {"CAN", "K-line", "J1850"};

static int link_group(const struct trial *t)
{
    return t->link == LINK_KLINE ? 1 : t->link == LINK_J1850 ? 2 : 0;
}

/* A car that is what it seems and can be tested at once, and the verdict that it ought to have. */
static bool is_clear(const struct trial *t, enum truth_class is)
{
    const enum oxl_conclusion said = is == TRUTH_DEAD ? OXL_CONCLUSION_BAD : OXL_CONCLUSION_GOOD;
    return is_fair(t) && trial_class(t) == is && t->has_result && t->result.conclusion == said;
}

static bool is_answer(const struct trial *t, int answer)
{
    return answer < OXL_CONCLUSIONS ? t->has_result && (int)t->result.conclusion == answer
                                    : !t->has_result;
}

/* answer: what was concluded, OXL_CONCLUSIONS no result; then a clear dead and a clear sound one */
enum { ROW_CLEAR_DEAD = OXL_CONCLUSIONS + 1, ROW_CLEAR_SOUND, ROW_ALL, ROWS };

static bool in_row(const struct trial *t, int row)
{
    return row == ROW_ALL           ? true
           : row == ROW_CLEAR_DEAD  ? is_clear(t, TRUTH_DEAD)
           : row == ROW_CLEAR_SOUND ? is_clear(t, TRUTH_SOUND)
                                    : is_answer(t, row);
}

static const char *row_name(int row)
{
    return row == ROW_ALL           ? "all"
           : row == ROW_CLEAR_DEAD  ? "fair, dead, bad"
           : row == ROW_CLEAR_SOUND ? "fair, sound, good"
           : row == OXL_CONCLUSIONS ? "no result"
                                    : oxl_conclusion_name((enum oxl_conclusion)row);
}

static void minutes_cell(FILE *out, const struct trial *t, size_t n, int row, int group)
{
    struct sampling s = {0};
    for (size_t i = 0; i < n; i++)
        if (link_group(&t[i]) == group && in_row(&t[i], row))
            sampling_add(&s, total_s(&t[i]) / 60);
    fprintf(out, "  %5zu %5.1f %5.1f ", s.n, sampling_quantile(&s, 0.5),
            sampling_quantile(&s, 0.95));
    sampling_free(&s);
}

/* Means over the tests of a row, in seconds and runs. */
static void parts_line(FILE *out, const struct trial *t, size_t n, int row, int group)
{
    double sum[SPENT_PARTS] = {0}, runs = 0, tests = 0;
    for (size_t i = 0; i < n; i++) {
        if (link_group(&t[i]) != group || !in_row(&t[i], row))
            continue;
        tests++;
        runs += t[i].runs;
        for (int k = 0; k < SPENT_PARTS; k++)
            sum[k] += t[i].spent.s[k];
    }
    if (!(tests > 0))
        return;
    fprintf(out, "  %-18s %-6s %5.0f %5.2f", row_name(row), link_groups[group], tests,
            runs / tests);
    for (int k = 0; k < SPENT_PARTS; k++)
        fprintf(out, " %8.1f", sum[k] / tests);
    fputc('\n', out);
}

static void heat_line(FILE *out, const struct trial *t, size_t n, int row)
{
    struct sampling gas = {0};
    double mg = 0, deep_s = 0, deeper_s = 0;
    for (size_t i = 0; i < n; i++) {
        if (!in_row(&t[i], row))
            continue;
        sampling_add(&gas, t[i].spent.gas_mg);
        mg += t[i].spent.gas_mg;
        deep_s += t[i].spent.deep_s;
        deeper_s += t[i].spent.deeper_deep_s;
    }
    const double tests = (double)gas.n;
    if (gas.n)
        fprintf(out, "  %-18s %6zu  %6.0f %6.0f %6.0f   %7.2f %7.2f\n", row_name(row), gas.n,
                mg / tests, sampling_quantile(&gas, 0.5), sampling_quantile(&gas, 0.95),
                deep_s / tests, deeper_s / tests);
    sampling_free(&gas);
}

void minutes_print(FILE *out, const struct trial *t, size_t n)
{
    fputs("\nMinutes from the link to the end: tests, median, 95th percentile\n"
          "                       CAN                  K-line               J1850\n",
          out);
    for (int row = 0; row < ROWS; row++) {
        fprintf(out, "  %-18s", row_name(row));
        for (int g = 0; g < LINKS; g++)
            minutes_cell(out, t, n, row, g);
        fputc('\n', out);
    }
    fputs("\nWhere they go, mean seconds a test\n"
          "                     link   tests  runs   survey pre-check baseline   gas    timing "
          "recovery    offer     leak   deeper\n",
          out);
    for (int row = 0; row < ROWS; row++)
        for (int g = 0; g < LINKS; g++)
            parts_line(out, t, n, row, g);
    fputs("\nGas and heat: propane a test in mg (mean, median, 95th percentile); seconds a test "
          "deeper than -25 %,\nof them in a deeper run\n",
          out);
    for (int row = 0; row < ROWS; row++)
        heat_line(out, t, n, row);
}

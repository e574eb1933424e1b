/* The verdicts against what each converter really is. */
#include <math.h>
#include <string.h>

#include "campaign.h"

static int zone(double v, double bad, double good)
{
    return v < bad ? 0 : v > good ? 2 : 1;
}

/* Dead and sound only when the limits in seconds and those in grams say the same. */
static enum truth_class class_of(const struct ideal *i, double air_g_s)
{
    struct oxl_profile p;
    oxl_profile_defaults(&p);
    if (!i->known)
        return TRUTH_UNKNOWN;
    double mg = i->held ? fmax(i->stored_mg, i->constant_mg) : i->stored_mg;
    double each = mg / 1000 / air_g_s;
    int s = zone(i->delay_s, p.bad_s, p.good_s);
    int g = zone(each, p.bad_g_per_g_s, p.good_g_per_g_s);
    if (s == 0 && g == 0)
        return TRUTH_DEAD;
    return s == 2 && g == 2 ? TRUTH_SOUND : TRUTH_MIDDLE;
}

enum truth_class trial_class_switching(const struct trial *t)
{
    return class_of(&t->ideal, t->air_g_s);
}

enum truth_class trial_class(const struct trial *t)
{
    const enum truth_class a = trial_class_switching(t), b = class_of(&t->ideal_own, t->air_g_s);
    return a == b ? a : a == TRUTH_UNKNOWN || b == TRUTH_UNKNOWN ? TRUTH_UNKNOWN : TRUTH_MIDDLE;
}

enum { ANSWERS = OXL_CONCLUSIONS + 1 }; /* what can be concluded, and no result at all */
struct matrix {
    size_t count[TRUTH_UNKNOWN + 1][ANSWERS];
};

static int answer_of(const struct trial *t)
{
    return t->has_result ? (int)t->result.conclusion : ANSWERS - 1;
}

static void matrix_line(FILE *out, const char *name, const struct matrix *m)
{
    fprintf(out, "  %-17s", name);
    for (int c = 0; c <= TRUTH_SOUND; c++) {
        const size_t *n = m->count[c];
        for (int a = 1; a < OXL_CONCLUSIONS; a++)
            fprintf(out, " %3zu", n[a]);
        fprintf(out, " %4zu %3zu |", n[OXL_CONCLUSION_NONE], n[ANSWERS - 1]);
    }
    fputc('\n', out);
}

/* A verdict on a converter between the limits: by how much it was over. */
static void near_misses(FILE *out, const struct trial *t, size_t n)
{
    struct sampling bad = {0}, good = {0};
    for (size_t i = 0; i < n; i++) {
        if (trial_class(&t[i]) != TRUTH_MIDDLE || !t[i].has_result)
            continue;
        if (t[i].result.verdict == OXL_VERDICT_BAD)
            sampling_add(&bad, t[i].ideal.delay_s);
        if (t[i].result.verdict == OXL_VERDICT_GOOD)
            sampling_add(&good, t[i].ideal.delay_s);
    }
    fprintf(out, "  between the limits but called bad: %zu, longest true delay at target %.1f s\n",
            bad.n, sampling_quantile(&bad, 1));
    fprintf(out,
            "  between the limits but called good: %zu, shortest true delay at target %.1f s\n",
            good.n, sampling_quantile(&good, 0));
    sampling_free(&bad);
    sampling_free(&good);
}

static void wrong_print(FILE *out, const struct trial *t)
{
    fprintf(out, "  WRONG: seed %llu (%s), %s, true delay at target %.1f s, stored %.0f mg: %s\n",
            (unsigned long long)t->seed, t->name, trial_class(t) == TRUTH_SOUND ? "sound" : "dead",
            t->ideal.delay_s, t->ideal.stored_mg, oxl_conclusion_name(t->result.conclusion));
}

static bool is_wrong_of(enum truth_class is, enum oxl_conclusion said)
{
    return (is == TRUTH_SOUND && (said == OXL_CONCLUSION_BAD || said == OXL_CONCLUSION_NOT_GOOD)) ||
           (is == TRUTH_DEAD && (said == OXL_CONCLUSION_GOOD || said == OXL_CONCLUSION_NOT_BAD));
}

bool trial_is_wrong(const struct trial *t)
{
    return t->has_result && is_wrong_of(trial_class(t), t->result.conclusion);
}

/* The other definition of the truth beside, so that nobody has to take the kinder one. */
static void other_truth_print(FILE *out, const struct trial *t, size_t n)
{
    size_t wrong = 0, differ = 0;
    for (size_t i = 0; i < n; i++) {
        const enum truth_class is = trial_class_switching(&t[i]);
        differ += is != trial_class(&t[i]);
        wrong += t[i].has_result && is_wrong_of(is, t[i].result.conclusion);
    }
    fprintf(out,
            "  by a switching rear behind every converter: %zu converters are of another class, "
            "%zu verdicts wrong\n",
            differ, wrong);
}

void verdicts_print(FILE *out, const struct trial *t, size_t n, struct figures *f)
{
    static const struct matrix none;
    struct matrix family[FAMILY_COUNT], all = none;
    for (int i = 0; i < FAMILY_COUNT; i++)
        family[i] = none;
    fprintf(out,
            "\nVerdicts by what the converter is: bad, not good, questionable, not bad, good, "
            "inconclusive, none\n  %-17s %-30s| %-30s| %s\n",
            "family", "dead", "between", "sound");
    for (size_t i = 0; i < n; i++) {
        enum truth_class c = trial_class(&t[i]);
        int a = answer_of(&t[i]);
        family[t[i].family].count[c][a]++;
        all.count[c][a]++;
    }
    for (int i = 0; i < FAMILY_COUNT; i++)
        matrix_line(out, family_name((enum family)i), &family[i]);
    matrix_line(out, "all", &all);
    near_misses(out, t, n);
    f->sound_called_bad = all.count[TRUTH_SOUND][OXL_CONCLUSION_BAD];
    f->sound_called_not_good = all.count[TRUTH_SOUND][OXL_CONCLUSION_NOT_GOOD];
    f->dead_called_good = all.count[TRUTH_DEAD][OXL_CONCLUSION_GOOD];
    f->dead_called_not_bad = all.count[TRUTH_DEAD][OXL_CONCLUSION_NOT_BAD];
    for (int a = 0; a < ANSWERS; a++) {
        f->sound += all.count[TRUTH_SOUND][a];
        f->dead += all.count[TRUTH_DEAD][a];
    }
    f->sound_decided = all.count[TRUTH_SOUND][OXL_CONCLUSION_GOOD];
    f->sound_spared = f->sound_decided + all.count[TRUTH_SOUND][OXL_CONCLUSION_NOT_BAD];
    f->dead_decided = all.count[TRUTH_DEAD][OXL_CONCLUSION_BAD];
    for (size_t i = 0; i < n; i++)
        if (trial_is_wrong(&t[i]))
            wrong_print(out, &t[i]);
    other_truth_print(out, t, n);
}

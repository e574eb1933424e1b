/* oxylag's campaign: see docs/validation.md. */
#define _GNU_SOURCE 1 /* getopt_long */
#include <getopt.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "campaign.h"
#include "physics.h"

struct options {
    size_t tests;
    uint64_t seed;
    unsigned jobs;
    const char *rows;
    double period_ms; /* only the rows of that period; 0: all */
    bool check, refresh, drawn;
};

static const char usage[] =
    "usage: campaign [--tests N | --refresh N [--period MS]] [--seed N] [--jobs N] [--rows FILE]\n"
    "                [--kinetics plain|drawn] [--check]\n"
    "  --tests N   whole tests of three runs and more (3000)\n"
    "  --refresh N the table of refreshes instead, each row of N tests\n"
    "  --period MS of that table only the rows of this period\n"
    "  --seed N    of the first test; the others follow (1)\n"
    "  --jobs N    processes at once (all processors)\n"
    "  --rows FILE one line a run, tab-separated\n"
    "  --kinetics plain|drawn  converters of one family of kinetics, or of all (drawn)\n"
    "  --check     exit 1 when a figure is below its floor\n";

static bool number(const char *text, uint64_t least, uint64_t *out)
{
    char *end;
    unsigned long long v = strtoull(text, &end, 10);
    *out = v;
    return end != text && !*end && *text != '-' && v >= least;
}

static bool parse(int argc, char **argv, struct options *o)
{
    static const struct option longs[] = {{"tests", required_argument, NULL, 'n'},
                                          {"seed", required_argument, NULL, 's'},
                                          {"jobs", required_argument, NULL, 'j'},
                                          {"rows", required_argument, NULL, 'r'},
                                          {"refresh", required_argument, NULL, 'f'},
                                          {"kinetics", required_argument, NULL, 'k'},
                                          {"period", required_argument, NULL, 'p'},
                                          {"check", no_argument, NULL, 'c'},
                                          {NULL, 0, NULL, 0}};
    uint64_t v = 0;
    long cpus = sysconf(_SC_NPROCESSORS_ONLN);
    *o = (struct options){
        .tests = 3000, .seed = 1, .drawn = true, .jobs = cpus > 0 ? (unsigned)cpus : 1};
    for (int c; (c = getopt_long(argc, argv, "", longs, NULL)) != -1;) {
        if (c == 'n' && number(optarg, 1, &v) && v <= 1000000)
            o->tests = v;
        else if (c == 'f' && number(optarg, 1, &v) && v <= 10000) {
            o->refresh = true;
            o->tests = v * REFRESH_ROWS;
        } else if (c == 's' && number(optarg, 0, &v))
            o->seed = v;
        else if (c == 'j' && number(optarg, 1, &v) && v <= 256)
            o->jobs = (unsigned)v;
        else if (c == 'k' && (strcmp(optarg, "plain") == 0 || strcmp(optarg, "drawn") == 0))
            o->drawn = strcmp(optarg, "drawn") == 0;
        else if (c == 'p' && number(optarg, 1, &v))
            o->period_ms = (double)v;
        else if (c == 'r')
            o->rows = optarg;
        else if (c == 'c')
            o->check = true;
        else
            return false;
    }
    return optind == argc;
}

static bool wanted(const struct options *o, size_t i)
{
    return !o->refresh || !(o->period_ms > 0) || refresh_period_ms(i) == o->period_ms;
}

/* A child: every jobs-th test, into a file of its own. */
static int work(const struct options *o, unsigned job, FILE *out)
{
    static struct trial t; /* large */
    struct watch watch;
    if (o->refresh && !watch_new(&watch))
        return 1;
    for (size_t i = job; i < o->tests; i += o->jobs) {
        struct car c;
        if (!wanted(o, i))
            continue;
        if (o->refresh)
            refresh_car(&c, o->seed + i, i);
        else
            car_make(&c, o->seed + i);
        if (o->drawn && !o->refresh)
            kinetics_draw(&c);
        if (!trial_go(&c, o->refresh ? &watch : NULL, &t) || fwrite(&t, sizeof t, 1, out) != 1)
            return 1;
    }
    if (o->refresh)
        watch_free(&watch);
    return fflush(out) == 0 ? 0 : 1;
}

static bool start(const struct options *o, FILE **files, pid_t *pids)
{
    for (unsigned j = 0; j < o->jobs; j++) {
        files[j] = tmpfile();
        if (!files[j])
            return false;
        fflush(NULL);
        pids[j] = fork();
        if (pids[j] < 0)
            return false;
        if (pids[j] == 0)
            _exit(work(o, j, files[j]));
    }
    return true;
}

static bool gather(const struct options *o, FILE **files, const pid_t *pids, struct trial *all)
{
    bool ok = true;
    for (unsigned j = 0; j < o->jobs; j++) {
        int status = 0;
        ok = waitpid(pids[j], &status, 0) == pids[j] && WIFEXITED(status) &&
             WEXITSTATUS(status) == 0 && ok;
        rewind(files[j]);
        for (size_t i = j; i < o->tests; i += o->jobs)
            ok = (!wanted(o, i) || fread(&all[i], sizeof all[i], 1, files[j]) == 1) && ok;
        fclose(files[j]);
    }
    return ok;
}

static bool write_rows(const struct options *o, const struct trial *all)
{
    if (!o->rows)
        return true;
    FILE *f = fopen(o->rows, "w");
    if (!f)
        return false;
    rows_print(f, all, o->tests);
    return fclose(f) == 0;
}

static bool campaign_tables(const struct options *o, const struct trial *all)
{
    struct figures f = {0};
    tables_print(stdout, all, o->tests, &f);
    verdicts_print(stdout, all, o->tests, &f);
    kinetics_print(stdout, all, o->tests);
    rear_words_print(stdout, all, o->tests);
    sentences_print(stdout, all, o->tests);
    minutes_print(stdout, all, o->tests);
    printf("\n%zu tests, %zu runs, seeds %llu to %llu\n", f.tests, f.runs,
           (unsigned long long)o->seed, (unsigned long long)(o->seed + o->tests - 1));
    return figures_reached(stdout, &f);
}

static bool refresh_table(const struct options *o, const struct trial *all)
{
    refresh_print(stdout, all, o->tests);
    printf("\n%zu tests, seeds %llu to %llu\n", o->tests, (unsigned long long)o->seed,
           (unsigned long long)(o->seed + o->tests - 1));
    return true;
}

int main(int argc, char **argv)
{
    struct options o;
    if (!parse(argc, argv, &o)) {
        fputs(usage, stderr);
        return 2;
    }
    FILE **files = calloc(o.jobs, sizeof(FILE *));
    pid_t *pids = calloc(o.jobs, sizeof *pids);
    struct trial *all = calloc(o.tests, sizeof *all);
    if (!files || !pids || !all || !start(&o, files, pids) || !gather(&o, files, pids, all)) {
        fputs("campaign: a test could not be run\n", stderr);
        return 70;
    }
    bool reached = o.refresh ? refresh_table(&o, all) : campaign_tables(&o, all);
    bool written = write_rows(&o, all);
    free(all);
    free(files);
    free(pids);
    if (!written) {
        fprintf(stderr, "campaign: %s could not be written\n", o.rows);
        return 70;
    }
    return o.check && !reached ? 1 : 0;
}

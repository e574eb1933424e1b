/* recordings: what was tested before, a row a recording; and whether the files are in order. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "commands.h"
#include "home.h"
#include "json_memory.h"
#include "oxylag/safe.h"
#include "progress.h"
#include "recordings.h"
#include "settings.h"

static bool starved(void *ctx)
{
    (void)ctx;
    const bool so = oxl_json_starved();
    if (so)
        oxl_json_watch();
    return so;
}

/* Its folder made; NULL: there is none. */
static const char *cache_file(char out[], size_t n)
{
    char folder[OXL_FOLDER_MAX];
    if (!oxl_folder(OXL_FOLDER_CACHE, folder) || !oxl_folder_make(folder))
        return NULL;
    return (size_t)snprintf(out, n, "%s/recordings.sqlite", folder) < n ? out : NULL;
}

static void keep_wanted(const struct oxl_opts *o, struct oxl_catalogue *c)
{
    const struct oxl_past_filter f = {o->vin, o->order, o->verdict, o->since};
    size_t n = 0;
    for (size_t i = 0; i < c->n; i++)
        if (oxl_past_matches(&c->rows[i], &f))
            c->rows[n++] = c->rows[i];
    c->n = n;
    for (size_t i = 0; i < n && o->mask_vin; i++)
        oxl_past_mask(&c->rows[i]);
}

enum oxl_status oxl_recordings_load(const struct oxl_opts *o, const char *folder,
                                    struct oxl_catalogue *out, struct oxl_error *err)
{
    char cache[OXL_FOLDER_MAX + 32];
    struct oxl_progress progress;
    struct stat st;
    char own[OXL_FOLDER_MAX];
    *out = (struct oxl_catalogue){0};
    /* Before the first recording there is no folder, which is no fault. */
    if (oxl_folder(OXL_FOLDER_DATA, own) && strcmp(own, folder) == 0 && stat(folder, &st) != 0)
        return OXL_OK;
    oxl_progress_start(&progress, "reading the recordings", o->quiet);
    const struct oxl_catalogue_source from = {.cache = cache_file(cache, sizeof cache),
                                              .ctx = &progress,
                                              .replay = oxl_past_replay,
                                              .progress = oxl_progress,
                                              .starved = starved};
    oxl_json_watch();
    enum oxl_status status = oxl_catalogue_read(folder, &from, out, err);
    oxl_progress_end(&progress);
    if (status == OXL_OK)
        keep_wanted(o, out);
    oxl_make_safe(out->note, "");
    if (out->note[0] && !o->quiet)
        fprintf(stderr, "oxylag: %s\n", out->note);
    return status;
}

static enum oxl_status print(const struct oxl_opts *o, const struct oxl_catalogue *c,
                             const char *folder, struct oxl_error *err)
{
    struct oxl_buf out = {0};
    if (o->csv)
        oxl_members_csv_header(oxl_past_fields, OXL_PAST_FIELDS, &out);
    for (size_t i = 0; i < c->n; i++) {
        if (o->csv)
            oxl_members_csv(oxl_past_fields, OXL_PAST_FIELDS, &c->rows[i], &out);
        else if (o->json)
            oxl_members_line(oxl_past_fields, OXL_PAST_FIELDS, &c->rows[i], &out);
        else
            oxl_past_text(&c->rows[i], &out);
    }
    if (c->n == 0 && !o->json && !o->csv)
        oxl_buf_add(&out, "No such recordings in %s\n", folder);
    return oxl_print_whole(&out, err);
}

void oxl_recordings_check(const char *path, struct oxl_past *row)
{
    char folder[OXL_FOLDER_MAX], cache[OXL_FOLDER_MAX + 32];
    const char *name = oxl_base_name(path);
    oxl_past_replay(NULL, path, row);
    snprintf(row->file, sizeof row->file, "%s", name);
    snprintf(folder, sizeof folder, "%.*s", name > path ? (int)(name - path) : 1,
             name > path ? path : ".");
    (void)oxl_catalogue_keep(cache_file(cache, sizeof cache), folder, row);
}

static bool check_file(const struct oxl_opts *o, const char *path)
{
    struct oxl_past row;
    struct oxl_buf out = {0};
    oxl_recordings_check(path, &row);
    if (o->mask_vin)
        oxl_past_mask(&row);
    if (o->json)
        oxl_members_line(oxl_past_fields, OXL_PAST_FIELDS, &row, &out);
    else
        oxl_past_checked(&row, &out);
    oxl_print(&out);
    fflush(stdout);
    return oxl_past_sound(&row);
}

static size_t check_folder(const struct oxl_opts *o, const char *folder, size_t *n,
                           struct oxl_error *err)
{
    struct oxl_catalogue c;
    size_t wrong = 0;
    if (oxl_recordings_load(o, folder, &c, err) != OXL_OK)
        return 0;
    for (size_t i = 0; i < c.n; i++) {
        char path[OXL_FOLDER_MAX + 300];
        snprintf(path, sizeof path, "%s/%s", folder, c.rows[i].file);
        wrong += !check_file(o, path);
    }
    *n += c.n;
    oxl_catalogue_free(&c);
    return wrong;
}

static bool is_folder(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

static enum oxl_status check(const struct oxl_opts *o, const char *folder, struct oxl_error *err)
{
    size_t wrong = 0, n = 0;
    err->status = OXL_OK;
    if (o->files_n == 0)
        wrong += check_folder(o, folder, &n, err);
    for (size_t i = 0; i < o->files_n && err->status == OXL_OK; i++)
        if (is_folder(o->files[i])) {
            wrong += check_folder(o, o->files[i], &n, err);
        } else {
            wrong += !check_file(o, o->files[i]);
            n++;
        }
    if (err->status != OXL_OK || wrong == 0)
        return err->status;
    return oxl_fail(err, OXL_ERR_FORMAT,
                    "%zu of %zu recordings cannot be read, are not complete or replay otherwise: "
                    "they are named above",
                    wrong, n);
}

/* "not-bad" is easier to type than "not bad". */
static enum oxl_status take_verdict(struct oxl_opts *o, char word[24], struct oxl_error *err)
{
    snprintf(word, 24, "%.20s", o->verdict);
    for (char *c = word; *c; c++)
        *c = *c == '-' ? ' ' : *c;
    for (unsigned c = 0; c < OXL_CONCLUSIONS; c++)
        if (strcmp(word, oxl_conclusion_name((enum oxl_conclusion)c)) == 0) {
            o->verdict = word;
            return OXL_OK;
        }
    return oxl_fail(err, OXL_ERR_USAGE,
                    "--verdict: found \"%s\", expected good, not-bad, questionable, not-good, bad "
                    "or inconclusive",
                    o->verdict);
}

enum oxl_status oxl_cmd_recordings(const struct oxl_opts *given, struct oxl_error *err)
{
    char own[OXL_FOLDER_MAX], word[24];
    struct oxl_opts o = *given;
    struct oxl_catalogue c;
    if (o.since && !oxl_past_is_date(o.since))
        return oxl_fail(err, OXL_ERR_USAGE, "--since: found \"%s\", expected a day: 2026-11-30",
                        o.since);
    if (o.verdict && take_verdict(&o, word, err) != OXL_OK)
        return err->status;
    if (o.files_n == 0 && !oxl_folder(OXL_FOLDER_DATA, own))
        return oxl_fail(err, OXL_ERR_USAGE, "HOME is not set: name the folder of the recordings");
    const char *folder = o.files_n ? o.files[0] : own;
    if (o.check)
        return check(&o, folder, err);
    if (!o.json && !o.csv && !o.plain && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO))
        return oxl_home_recordings(&o, folder, err);
    enum oxl_status st = oxl_recordings_load(&o, folder, &c, err);
    if (st == OXL_OK)
        st = print(&o, &c, folder, err);
    oxl_catalogue_free(&c);
    return st;
}

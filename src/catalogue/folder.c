/* A folder's recordings as rows: from the cache where a file is as it was, else from the file. */
#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "cache.h"
#include "oxylag/catalogue.h"

struct reading {
    const char *folder; /* as given */
    char real[PATH_MAX];
    const struct oxl_catalogue_source *from;
    struct oxl_past *rows; /* sorted by file until all are there */
    struct oxl_cache_key *keys;
    bool *have;        /* filled from the cache */
    char (*gone)[256]; /* kept, but no longer there */
    size_t n, cap, gone_n;
};

static bool is_recording(const char *name)
{
    const size_t n = strlen(name);
    return n > 6 && strcmp(name + n - 6, ".jsonl") == 0 && name[0] != '.';
}

static int by_file(const void *a, const void *b)
{
    return strcmp(((const struct oxl_past *)a)->file, ((const struct oxl_past *)b)->file);
}

static bool add(struct reading *r, const char *name)
{
    if (r->n == r->cap) {
        size_t cap = r->cap ? 2 * r->cap : 64;
        struct oxl_past *rows = realloc(r->rows, cap * sizeof *rows);
        if (!rows)
            return false;
        r->rows = rows;
        r->cap = cap;
    }
    struct oxl_past *row = &r->rows[r->n++];
    oxl_past_unreadable(row, "");
    snprintf(row->file, sizeof row->file, "%s", name);
    return true;
}

static enum oxl_status list_files(struct reading *r, struct oxl_error *err)
{
    DIR *d = opendir(r->folder);
    const struct dirent *e;
    bool room = true;
    if (!d)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s: the folder cannot be read: %s", r->folder,
                        strerror(errno));
    while (room && (e = readdir(d)))
        room = !is_recording(e->d_name) || add(r, e->d_name);
    closedir(d);
    if (r->n)
        qsort(r->rows, r->n, sizeof *r->rows, by_file);
    r->keys = calloc(r->n + 1, sizeof *r->keys);
    r->have = calloc(r->n + 1, sizeof *r->have);
    return room && r->keys && r->have ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

static void path_of(const struct reading *r, size_t i, char out[PATH_MAX])
{
    snprintf(out, PATH_MAX, "%s/%s", r->folder, r->rows[i].file);
}

static struct oxl_cache_key key_of(const char *real, const char *path, const char *file)
{
    struct stat st;
    struct oxl_cache_key k = {.folder = real, .file = file, .size = -1};
    if (stat(path, &st) == 0) {
        k.size = st.st_size;
        k.mtime_ns = (int64_t)st.st_mtim.tv_sec * 1000000000 + st.st_mtim.tv_nsec;
    }
    return k;
}

static void look_at_files(struct reading *r)
{
    char path[PATH_MAX];
    for (size_t i = 0; i < r->n; i++) {
        path_of(r, i, path);
        r->keys[i] = key_of(r->real, path, r->rows[i].file);
    }
}

static void forget(struct reading *r, const char *file)
{
    char(*gone)[256] = realloc(r->gone, (r->gone_n + 1) * sizeof *gone);
    if (!gone)
        return;
    r->gone = gone;
    snprintf(gone[r->gone_n++], sizeof *gone, "%s", file);
}

static bool is_starved(const struct reading *r)
{
    return r->from->starved && r->from->starved(r->from->ctx);
}

/* A line of the cache: a row of a file that is as it was, or to be dropped. */
static void on_kept(void *ctx, const struct oxl_cache_key *key, const char *text)
{
    struct reading *r = ctx;
    struct oxl_past wanted = {.file = ""}, row = {.file = ""};
    if (!key) {
        memset(r->have, 0, r->n * sizeof *r->have);
        r->gone_n = 0;
        return;
    }
    snprintf(wanted.file, sizeof wanted.file, "%s", key->file);
    const struct oxl_past *at =
        !r->n ? NULL : bsearch(&wanted, r->rows, r->n, sizeof wanted, by_file);
    if (!at) {
        forget(r, key->file);
        return;
    }
    const size_t i = (size_t)(at - r->rows);
    r->have[i] =
        key->size == r->keys[i].size && key->mtime_ns == r->keys[i].mtime_ns &&
        oxl_members_from_json(oxl_past_fields, OXL_PAST_FIELDS, text, strlen(text), &row) &&
        !is_starved(r);
    if (!r->have[i])
        return;
    memcpy(row.file, r->rows[i].file, sizeof row.file); /* the folder's own spelling */
    r->rows[i] = row;
}

static void read_file(struct reading *r, size_t i)
{
    char path[PATH_MAX], file[sizeof r->rows[i].file];
    path_of(r, i, path);
    memcpy(file, r->rows[i].file, sizeof file);
    if (!oxl_past_read(path, &r->rows[i]) && r->from->replay)
        r->from->replay(r->from->ctx, path, &r->rows[i]);
    if (is_starved(r))
        oxl_past_unreadable(&r->rows[i], "there is no memory to read it");
    memcpy(r->rows[i].file, file, sizeof file);
}

static void keep(struct oxl_cache *c, const struct oxl_cache_key *key, const struct oxl_past *row)
{
    char text[OXL_PAST_JSON];
    /* What cannot be read today may be tomorrow, for another reason than its own. */
    if (strcmp(row->kind, "unreadable") != 0 &&
        oxl_members_json(oxl_past_fields, OXL_PAST_FIELDS, row, text, sizeof text))
        oxl_cache_keep(c, key, text);
}

static void read_rest(struct reading *r, struct oxl_cache *c, struct oxl_catalogue *out)
{
    for (size_t i = 0; i < r->n; i++) {
        if (r->have[i])
            continue;
        read_file(r, i);
        keep(c, &r->keys[i], &r->rows[i]);
        out->read++;
        if (r->from->progress)
            r->from->progress(r->from->ctx, i, r->n);
    }
    for (size_t i = 0; i < r->gone_n; i++)
        oxl_cache_drop(c, &(struct oxl_cache_key){.folder = r->real, .file = r->gone[i]});
}

enum oxl_status oxl_catalogue_read(const char *folder, const struct oxl_catalogue_source *from,
                                   struct oxl_catalogue *out, struct oxl_error *err)
{
    struct reading r = {.folder = folder, .from = from};
    *out = (struct oxl_catalogue){0};
    enum oxl_status st = list_files(&r, err);
    if (st == OXL_OK) {
        const bool known = from->cache && realpath(folder, r.real);
        look_at_files(&r);
        struct oxl_cache *c =
            known ? oxl_cache_open(from->cache, r.real, &r, on_kept, out->note, sizeof out->note)
                  : NULL;
        read_rest(&r, c, out);
        if (c && !oxl_cache_close(c))
            snprintf(out->note, sizeof out->note, "the list is not kept for the next time: %s",
                     from->cache);
        oxl_past_sort(r.rows, r.n);
        out->rows = r.rows;
        out->n = r.n;
        r.rows = NULL;
    }
    free(r.rows);
    free(r.keys);
    free(r.have);
    free(r.gone);
    return st;
}

void oxl_catalogue_free(struct oxl_catalogue *c)
{
    free(c->rows);
    *c = (struct oxl_catalogue){0};
}

static void ignore(void *ctx, const struct oxl_cache_key *key, const char *text)
{
    (void)ctx;
    (void)key;
    (void)text;
}

bool oxl_catalogue_keep(const char *cache, const char *folder, const struct oxl_past *row)
{
    char real[PATH_MAX], path[PATH_MAX], note[256];
    if (!cache || !realpath(folder, real))
        return false;
    snprintf(path, sizeof path, "%s/%s", folder, row->file);
    const struct oxl_cache_key key = key_of(real, path, row->file);
    struct oxl_cache *c = oxl_cache_open(cache, real, NULL, ignore, note, sizeof note);
    keep(c, &key, row);
    return oxl_cache_close(c);
}

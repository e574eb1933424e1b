#include "cache.h"

#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The row's members, too, decide whether it can be used. */
#define VERSION OXL_VERSION "/1"
enum { BUSY_MS = 500 };

struct oxl_cache {
    sqlite3 *db;
    char path[4096];
    bool changed, failed, damaged;
};

static uint64_t add(uint64_t h, const char *text)
{
    do
        h = (h ^ (unsigned char)*text) * UINT64_C(1099511628211);
    while (*text++);
    return h;
}

/* Bits that went over on the disk are not seen by SQLite: a row is believed only with its sum
 * (FNV-1a, 64 bits; from memory). */
static int64_t sum_of(const struct oxl_cache_key *k, const char *text)
{
    char numbers[64];
    snprintf(numbers, sizeof numbers, "%lld %lld " VERSION, (long long)k->size,
             (long long)k->mtime_ns);
    return (int64_t)add(add(add(add(UINT64_C(14695981039346656037), k->folder), k->file), numbers),
                        text);
}

static int run(sqlite3 *db, const char *sql)
{
    return sqlite3_exec(db, sql, NULL, NULL, NULL);
}

static int is_ok(void *ctx, int n, char **values, char **names)
{
    (void)ctx;
    (void)names;
    return n != 1 || !values[0] || strcmp(values[0], "ok") != 0;
}

/* A tree whose keys are out of order is read without a word, and loses what is put into it. */
static int examine(sqlite3 *db)
{
    const int rc = sqlite3_exec(db, "PRAGMA integrity_check(1)", is_ok, NULL, NULL);
    return rc == SQLITE_ABORT ? SQLITE_CORRUPT : rc;
}

static int prepare(sqlite3 *db, const char *sql, const struct oxl_cache_key *k, sqlite3_stmt **out)
{
    int rc = sqlite3_prepare_v2(db, sql, -1, out, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_bind_text(*out, 1, k->folder, -1, SQLITE_STATIC);
    if (rc == SQLITE_OK && k->file)
        rc = sqlite3_bind_text(*out, 2, k->file, -1, SQLITE_STATIC);
    return rc;
}

static int read_rows(sqlite3 *db, const char *folder, void *ctx,
                     void (*each)(void *ctx, const struct oxl_cache_key *key, const char *text))
{
    struct oxl_cache_key k = {.folder = folder};
    sqlite3_stmt *st = NULL;
    int rc = prepare(db, "SELECT file, size, mtime, row, sum FROM past WHERE folder = ?1", &k, &st);
    while (rc == SQLITE_OK && (rc = sqlite3_step(st)) == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(st, 3);
        k.file = (const char *)sqlite3_column_text(st, 0);
        k.size = sqlite3_column_int64(st, 1);
        k.mtime_ns = sqlite3_column_int64(st, 2);
        if (k.file && text)
            each(ctx, &k, sqlite3_column_int64(st, 4) == sum_of(&k, text) ? text : "");
        rc = SQLITE_OK;
    }
    sqlite3_finalize(st);
    return rc == SQLITE_DONE ? SQLITE_OK : rc;
}

/* For its owner alone: it holds VINs. */
static int open_file(const char *path, sqlite3 **db)
{
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (fd >= 0)
        close(fd);
    int rc = sqlite3_open_v2(path, db, SQLITE_OPEN_READWRITE, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_busy_timeout(*db, BUSY_MS);
    /* Lost when the power fails is no loss. */
    if (rc == SQLITE_OK)
        rc = run(*db, "PRAGMA synchronous = OFF");
    if (rc == SQLITE_OK)
        rc = run(*db,
                 "CREATE TABLE IF NOT EXISTS past(folder TEXT, file TEXT, size INTEGER, "
                 "mtime INTEGER, row TEXT, sum INTEGER, PRIMARY KEY(folder, file)) WITHOUT ROWID");
    return rc;
}

/* Not a database, a torn one, one of another kind, or one that says of itself that it may not be
 * written. */
static bool is_damage(int rc, const char *path)
{
    const int kind = rc & 0xff;
    return kind == SQLITE_CORRUPT || kind == SQLITE_NOTADB || kind == SQLITE_ERROR ||
           (kind == SQLITE_READONLY && access(path, W_OK) == 0);
}

static void remove_all(const char *path)
{
    static const char *const tails[] = {"", "-journal", "-wal", "-shm"};
    char name[4200];
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, tails[i]);
        (void)unlink(name);
    }
}

struct oxl_cache *oxl_cache_open(const char *path, const char *folder, void *ctx,
                                 void (*each)(void *ctx, const struct oxl_cache_key *key,
                                              const char *text),
                                 char *note, size_t note_n)
{
    struct oxl_cache *c = calloc(1, sizeof *c);
    int rc = SQLITE_NOMEM;
    for (int tries = 0; c && tries < 2; tries++) {
        rc = open_file(path, &c->db);
        if (rc == SQLITE_OK)
            rc = examine(c->db);
        if (rc == SQLITE_OK)
            rc = read_rows(c->db, folder, ctx, each);
        if (!is_damage(rc, path) || tries > 0)
            break;
        sqlite3_close(c->db);
        c->db = NULL;
        remove_all(path);
        each(ctx, NULL, NULL);
        snprintf(note, note_n, "the cache was damaged and is made anew: %s", path);
    }
    if (rc == SQLITE_OK) {
        snprintf(c->path, sizeof c->path, "%s", path);
        return c;
    }
    snprintf(note, note_n, "the list is not kept for the next time (%s): %s", sqlite3_errstr(rc),
             path);
    sqlite3_close(c ? c->db : NULL);
    free(c);
    return NULL;
}

static void change(struct oxl_cache *c, const char *sql, const struct oxl_cache_key *k,
                   const char *text)
{
    sqlite3_stmt *st = NULL;
    int rc = SQLITE_OK;
    if (!c || c->failed)
        return;
    if (!c->changed)
        rc = run(c->db, "BEGIN IMMEDIATE");
    c->changed = c->changed || rc == SQLITE_OK;
    if (rc == SQLITE_OK)
        rc = prepare(c->db, sql, k, &st);
    if (rc == SQLITE_OK && text) {
        sqlite3_bind_int64(st, 3, k->size);
        sqlite3_bind_int64(st, 4, k->mtime_ns);
        sqlite3_bind_text(st, 5, text, -1, SQLITE_STATIC);
        sqlite3_bind_int64(st, 6, sum_of(k, text));
    }
    if (rc == SQLITE_OK)
        rc = sqlite3_step(st);
    sqlite3_finalize(st);
    c->failed = rc != SQLITE_DONE;
    c->damaged = c->failed && is_damage(rc, c->path);
}

void oxl_cache_keep(struct oxl_cache *c, const struct oxl_cache_key *key, const char *text)
{
    change(c, "INSERT OR REPLACE INTO past VALUES(?1, ?2, ?3, ?4, ?5, ?6)", key, text);
}

void oxl_cache_drop(struct oxl_cache *c, const struct oxl_cache_key *key)
{
    change(c, "DELETE FROM past WHERE folder = ?1 AND file = ?2", key, NULL);
}

bool oxl_cache_close(struct oxl_cache *c)
{
    if (!c)
        return false;
    int rc = c->changed ? run(c->db, c->failed ? "ROLLBACK" : "COMMIT") : SQLITE_OK;
    const bool kept = rc == SQLITE_OK && !c->failed;
    sqlite3_close(c->db);
    if (c->damaged ||
        is_damage(rc, c->path)) /* found when it was written to: the next list makes it anew */
        remove_all(c->path);
    free(c);
    return kept;
}

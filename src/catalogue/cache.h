/* Cache: rows that were read before, in one SQLite file. It holds nothing that the recordings do
 * not, and may be deleted at any time; whatever is wrong with it, the list is right without it. */
#ifndef OXYLAG_CATALOGUE_CACHE_H
#define OXYLAG_CATALOGUE_CACHE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Which state of which file a row is of. */
struct oxl_cache_key {
    const char *folder, *file;
    int64_t size, mtime_ns;
};

struct oxl_cache; /* opaque */
/* NULL: there is none, and *note says why; a damaged one is made anew, which *note says. each:
 * every row that is kept of the folder, as it was kept by this version. */
struct oxl_cache *oxl_cache_open(const char *path, const char *folder, void *ctx,
                                 void (*each)(void *ctx, const struct oxl_cache_key *key,
                                              const char *text),
                                 char *note, size_t note_n);
void oxl_cache_keep(struct oxl_cache *c, const struct oxl_cache_key *key, const char *text);
void oxl_cache_drop(struct oxl_cache *c, const struct oxl_cache_key *key);
/* Writes what was kept and dropped. False: it could not be written. NULL is accepted. */
bool oxl_cache_close(struct oxl_cache *c);

#endif

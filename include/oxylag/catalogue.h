/* Catalogue: a folder of recordings as rows, one a recording. A row is what the recording's own
 * result line says, or what a replay gave (the caller's); it is kept in a cache that may be deleted
 * at any time.
 */
#ifndef OXYLAG_CATALOGUE_H
#define OXYLAG_CATALOGUE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/figure.h"
#include "oxylag/record.h"
#include "oxylag/status.h"

/* Texts are as they were read: make them safe (safe.h) before they are shown. */
struct oxl_past {
    char file[256]; /* its name in the folder */
    char kind[12];  /* "test", "inspection", "unreadable" */
    char
        replay[12]; /* "not-made": the row is as recorded; "identical", "differs": it is computed */
    char started[32], program[32];
    char order[128], vin[18], plate[32], vehicle[128], technician[64];
    char verdict[20]; /* as conclusion in --json; "" without a result */
    char lead[160];   /* the leading figure in words */
    char before[256]; /* the last test of the same vehicle and bank before this one; "" none */
    char why[200];    /* why there is no result, or why it cannot be read */
    char sha256[65];  /* when it was checked */
    bool complete;    /* has its last line: neither killed, nor cut off, nor still being written */
    bool simulated;
    double bank;
    struct oxl_span delay_at_target_s, o2_mg; /* as in the result */
};

/* The members of a struct as they are written and read back. WORD: a text, null where it is "". */
enum oxl_member_type { OXL_MEMBER_TEXT, OXL_MEMBER_WORD, OXL_MEMBER_FLAG, OXL_MEMBER_NUMBER };
struct oxl_member {
    const char *name;
    enum oxl_member_type type;
    size_t offset, size;
};
/* NOLINTBEGIN(bugprone-macro-parentheses): names stand in no parentheses */
#define OXL_MEMBER(of, type, name, member)                                                         \
    {                                                                                              \
        name, OXL_MEMBER_##type, offsetof(struct of, member), sizeof(((struct of *)NULL)->member)  \
    }
/* NOLINTEND(bugprone-macro-parentheses) */
/* One JSON object without newline; 0: it did not fit. */
size_t oxl_members_json(const struct oxl_member *m, size_t n, const void *of, char *out,
                        size_t room);
/* False: it is not what oxl_members_json wrote. */
bool oxl_members_from_json(const struct oxl_member *m, size_t n, const char *text, size_t len,
                           void *of);
/* The row's, as every output and the cache have them. */
enum { OXL_PAST_FIELDS = 24, OXL_PAST_JSON = 8192 };
extern const struct oxl_member oxl_past_fields[OXL_PAST_FIELDS];

/* A row from a header and the events of a test, each as --json has it. */
void oxl_past_header(struct oxl_past *row, const struct oxl_record_header *h);
/* DAMAGED: no JSON, or no memory for it. */
enum oxl_past_said { OXL_PAST_OTHER, OXL_PAST_RUNNING, OXL_PAST_RESULT, OXL_PAST_DAMAGED };
enum oxl_past_said oxl_past_event(struct oxl_past *row, const char *json, size_t n);
void oxl_past_unreadable(struct oxl_past *row, const char *why);
/* From the first and the last lines of a file. False: they are not enough for a row (a result
 * without its conclusion, of an older version): replay it. */
bool oxl_past_read(const char *path, struct oxl_past *row);
/* Hides what tells vehicle and customer, as on a page: VIN but for its first eight characters,
 * plate, vehicle. */
void oxl_past_mask(struct oxl_past *row);

/* Newest first, what has no date last, and each finds the test before it. */
void oxl_past_sort(struct oxl_past *rows, size_t n);
/* Which rows are wanted; NULL or "": any. */
struct oxl_past_filter {
    const char *vin, *order; /* is in it, capitals or not */
    const char *verdict;
    const char *since; /* "2026-11-30": that day or later, as the recording's clock had it */
};
bool oxl_past_matches(const struct oxl_past *row, const struct oxl_past_filter *f);
/* "2026-11-30"? */
bool oxl_past_is_date(const char *text);

struct oxl_catalogue {
    struct oxl_past *rows; /* newest first; what cannot be read last */
    size_t n;
    char note[256]; /* about the cache, for a person; "" nothing */
    unsigned read;  /* how many files were read, since the cache did not have them */
};
struct oxl_catalogue_source {
    const char *cache; /* the cache's file; NULL: none */
    void *ctx;
    /* Replays a file whose lines are not enough; NULL: the row stays without a conclusion. */
    void (*replay)(void *ctx, const char *path, struct oxl_past *row);
    void (*progress)(void *ctx, size_t done, size_t all); /* NULL: none */
    /* Was memory short since the last call, so that a row may lack something? NULL: never. */
    bool (*starved)(void *ctx);
};
/* Every *.jsonl of the folder, without those in folders below it. */
enum oxl_status oxl_catalogue_read(const char *folder, const struct oxl_catalogue_source *from,
                                   struct oxl_catalogue *out, struct oxl_error *err) OXL_MUST_CHECK;
void oxl_catalogue_free(struct oxl_catalogue *c);
/* Keeps a row that was computed for a file of the folder. False: it could not be kept. */
bool oxl_catalogue_keep(const char *cache, const char *folder, const struct oxl_past *row);

#endif

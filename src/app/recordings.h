/* Inside recordings: what the list, its screen and a check share. */
#ifndef OXL_APP_RECORDINGS_H
#define OXL_APP_RECORDINGS_H

#include "opts.h"
#include "oxylag/catalogue.h"
#include "oxylag/report.h"

/* The folder's rows that the options ask for; masked when they say so. */
enum oxl_status oxl_recordings_load(const struct oxl_opts *o, const char *folder,
                                    struct oxl_catalogue *out, struct oxl_error *err);

/* past_replay.c: a row computed by a replay of the whole file, with its checksum. */
void oxl_past_replay(void *ctx, const char *path, struct oxl_past *row);

/* The same, with its name, kept for the next list. */
void oxl_recordings_check(const char *path, struct oxl_past *row);

/* recordings_say.c */
/* "2026-11-30 07:35", "GOOD", "NO RESULT": as a person reads them, safe to show. */
struct oxl_past_words {
    char date[20], verdict[20], order[128], vin[18], plate[32], vehicle[128], file[256],
        before[256];
    char rest[420]; /* the leading figure, or why there is none */
};
struct oxl_past_words oxl_past_words(const struct oxl_past *row);
void oxl_past_text(const struct oxl_past *row, struct oxl_buf *out);
/* Any struct's members as a row of a table, and as a line of JSON. */
void oxl_members_csv_header(const struct oxl_member *m, size_t n, struct oxl_buf *out);
void oxl_members_csv(const struct oxl_member *m, size_t n, const void *of, struct oxl_buf *out);
void oxl_members_line(const struct oxl_member *m, size_t n, const void *of, struct oxl_buf *out);
/* What a check found: "FILE: complete, replay identical, SHA-256 ..". */
void oxl_past_checked(const struct oxl_past *row, struct oxl_buf *out);
/* A check finds nothing wrong with it. */
bool oxl_past_sound(const struct oxl_past *row);

#endif

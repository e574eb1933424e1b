/* The rows of a folder as text, JSON and CSV. */
#include <stdio.h>
#include <string.h>

#include "oxylag/measure.h"
#include "oxylag/safe.h"
#include "record/json_out.h"
#include "recordings.h"

static const char *verdict_shown(const struct oxl_past *row)
{
    for (unsigned c = 0; c < OXL_CONCLUSIONS; c++)
        if (strcmp(row->verdict, oxl_conclusion_name((enum oxl_conclusion)c)) == 0)
            return oxl_conclusion_shown((enum oxl_conclusion)c);
    return strcmp(row->kind, "test") == 0         ? "NO RESULT"
           : strcmp(row->kind, "inspection") == 0 ? "inspection"
                                                  : "UNREADABLE";
}

/* The leading figure, or why there is none; then what else is to be known before it is used. */
static void rest(const struct oxl_past *row, char *out, size_t n)
{
    const bool read = strcmp(row->kind, "unreadable") != 0;
    snprintf(out, n, "%s%s%s%s", row->verdict[0] ? row->lead : row->why,
             row->simulated ? "; simulated" : "", read && !row->complete ? "; not complete" : "",
             strcmp(row->replay, "differs") != 0 && row->sha256[0] ? "; checked"
             : strcmp(row->replay, "differs") == 0 ? "; a replay gives another result"
                                                   : "");
}

struct oxl_past_words oxl_past_words(const struct oxl_past *row)
{
    struct oxl_past_words w = {.date = ""};
    char line[sizeof w.rest];
    oxl_safe_copy(w.date, 17, row->started[0] ? row->started : "not known");
    if (strlen(w.date) > 10 && w.date[10] == 'T')
        w.date[10] = ' ';
    oxl_safe_copy(w.verdict, sizeof w.verdict, verdict_shown(row));
    oxl_safe_copy(w.order, sizeof w.order, row->order);
    oxl_safe_copy(w.vin, sizeof w.vin, row->vin);
    oxl_safe_copy(w.plate, sizeof w.plate, row->plate);
    oxl_safe_copy(w.vehicle, sizeof w.vehicle, row->vehicle);
    oxl_safe_copy(w.file, sizeof w.file, row->file);
    oxl_safe_copy(w.before, sizeof w.before, row->before);
    rest(row, line, sizeof line);
    oxl_safe_copy(w.rest, sizeof w.rest, line);
    return w;
}

void oxl_past_text(const struct oxl_past *row, struct oxl_buf *out)
{
    const struct oxl_past_words w = oxl_past_words(row);
    oxl_buf_add(out, "%-16s  %-12s  %-17s  %s%s%s\n", w.date, w.verdict, w.vin[0] ? w.vin : "--",
                w.plate, w.plate[0] ? "  " : "", w.order);
    oxl_buf_add(out, "%18s%s\n%18s%s\n", "", w.rest, "", w.file);
    if (w.before[0])
        oxl_buf_add(out, "%18safter %s\n", "", w.before);
}

void oxl_members_csv_header(const struct oxl_member *m, size_t n, struct oxl_buf *out)
{
    for (size_t i = 0; i < n; i++)
        oxl_buf_add(out, "%s%s", i ? "," : "", m[i].name);
    oxl_buf_add(out, "\n");
}

static void cell(const struct oxl_member *m, const void *at, struct oxl_buf *out)
{
    char text[32] = "";
    if (m->type <= OXL_MEMBER_WORD)
        oxl_report_csv_text(at, out);
    else if (m->type == OXL_MEMBER_FLAG)
        oxl_buf_add(out, "%s", *(const bool *)at ? "true" : "false");
    else if (oxl_known(*(const double *)at))
        oxl_number_text(*(const double *)at, text);
    oxl_buf_put(out, text, strlen(text));
}

void oxl_members_csv(const struct oxl_member *m, size_t n, const void *of, struct oxl_buf *out)
{
    for (size_t i = 0; i < n; i++) {
        oxl_buf_put(out, ",", i > 0);
        cell(&m[i], (const char *)of + m[i].offset, out);
    }
    oxl_buf_add(out, "\n");
}

void oxl_members_line(const struct oxl_member *m, size_t n, const void *of, struct oxl_buf *out)
{
    char text[OXL_PAST_JSON];
    const size_t len = oxl_members_json(m, n, of, text, sizeof text);
    out->failed = out->failed || len == 0;
    oxl_buf_put(out, text, len);
    oxl_buf_put(out, "\n", 1);
}

bool oxl_past_sound(const struct oxl_past *row)
{
    return row->complete && strcmp(row->replay, "differs") != 0;
}

void oxl_past_checked(const struct oxl_past *row, struct oxl_buf *out)
{
    const struct oxl_past_words w = oxl_past_words(row);
    char why[sizeof row->why];
    oxl_safe_copy(why, sizeof why, row->why);
    if (strcmp(row->kind, "unreadable") == 0) {
        oxl_buf_add(out, "%s: UNREADABLE: %s\n", w.file, why);
        return;
    }
    const char *replay = strcmp(row->replay, "identical") == 0 ? "identical"
                         : strcmp(row->replay, "differs") == 0
                             ? "with ANOTHER RESULT"
                             : "with the same result, in other words or digits";
    oxl_buf_add(out, "%s: %s, replay %s, recorded by version ", w.file,
                row->complete ? "complete" : "NOT COMPLETE", replay);
    oxl_safe_copy(why, sizeof why, row->program);
    oxl_buf_add(out, "%s\n    SHA-256 %s\n", why, row->sha256);
}

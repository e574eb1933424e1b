#include "class.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "commands.h"
#include "json_memory.h"
#include "recordings.h"
#include "settings.h"

enum { FILE_MAX_BYTES = 64 << 20 };

#define RESULT(type, member) OXL_MEMBER(oxl_class_result, type, #member, member)
const struct oxl_member oxl_class_members[OXL_CLASS_MEMBERS] = {
    RESULT(TEXT, trainee),   RESULT(TEXT, lesson),  RESULT(TEXT, when),   RESULT(NUMBER, score),
    RESULT(NUMBER, of),      RESULT(WORD, verdict), RESULT(WORD, answer), RESULT(NUMBER, front_ms),
    RESULT(NUMBER, rear_ms), RESULT(TEXT, sha256),
};

static bool file_of_results(char *out, size_t n)
{
    char folder[OXL_FOLDER_MAX];
    return oxl_folder(OXL_FOLDER_DATA, folder) &&
           (size_t)snprintf(out, n, "%s/class.txt", folder) < n;
}

static double mean_off(const struct oxl_quiz_shown *s, bool rear)
{
    double sum = 0;
    int n = 0;
    for (int i = 0; i < s->runs_n; i++) {
        const double ms = rear ? s->runs[i].rear.error_ms : s->runs[i].front.error_ms;
        if (oxl_known(ms)) {
            sum += fabs(ms);
            n++;
        }
    }
    return n ? sum / n : (double)NAN;
}

void oxl_class_take(const struct oxl_quiz *q, struct oxl_class_result *out)
{
    const struct oxl_quiz_shown *s = &q->shown;
    out->score = s->points;
    out->of = s->of;
    out->front_ms = mean_off(s, false);
    out->rear_ms = mean_off(s, true);
    snprintf(out->verdict, sizeof out->verdict, "%s",
             s->has_verdict ? oxl_conclusion_name(s->verdict) : "");
    snprintf(out->answer, sizeof out->answer, "%s",
             q->record->has_result ? oxl_conclusion_name(q->record->result.conclusion) : "");
}

static enum oxl_status append(const char *path, const struct oxl_buf *line, struct oxl_error *err)
{
    char last = '\n';
    int fd = open(path, O_RDWR | O_CREAT | O_APPEND | O_NOFOLLOW | O_CLOEXEC, 0600);
    /* Behind a line that a full disk cut off a new one begins. */
    if (fd >= 0 && lseek(fd, -1, SEEK_END) >= 0 && read(fd, &last, 1) == 1 && last != '\n')
        (void)!write(fd, "\n", 1);
    ssize_t wrote = fd < 0 ? -1 : write(fd, line->data, line->len);
    int error = errno;
    if (fd >= 0 && close(fd) != 0 && wrote >= 0) {
        error = errno;
        wrote = -1;
    }
    if (wrote == (ssize_t)line->len)
        return OXL_OK;
    return oxl_fail(err, OXL_ERR_IO, "%s: the result could not be kept (%s)", path,
                    wrote < 0 ? strerror(error) : "the disk is full");
}

enum oxl_status oxl_class_add(const struct oxl_class_result *r, struct oxl_error *err)
{
    char path[OXL_FOLDER_MAX + 16], folder[OXL_FOLDER_MAX];
    struct oxl_buf line = {0};
    if (!file_of_results(path, sizeof path) || !oxl_folder(OXL_FOLDER_DATA, folder))
        return oxl_fail(err, OXL_ERR_IO, "HOME is not set: the result cannot be kept");
    if (!oxl_folder_make(folder))
        return oxl_fail(err, OXL_ERR_IO, "%s: cannot be made: the result cannot be kept", folder);
    oxl_members_line(oxl_class_members, OXL_CLASS_MEMBERS, r, &line);
    enum oxl_status st = line.failed ? oxl_fail(err, OXL_ERR_NOMEM, "no memory for the result")
                                     : append(path, &line, err);
    oxl_buf_free(&line);
    return st;
}

static enum oxl_status take_lines(const char *text, struct oxl_class *out, struct oxl_error *err)
{
    size_t lines = 0;
    for (const char *c = text; *c; c++)
        lines += *c == '\n';
    out->list = calloc(lines + 1, sizeof *out->list);
    if (!out->list)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for the class");
    while (*text) {
        const size_t n = strcspn(text, "\n");
        struct oxl_class_result *r = &out->list[out->n];
        const bool whole =
            text[n] == '\n' &&
            oxl_members_from_json(oxl_class_members, OXL_CLASS_MEMBERS, text, n, r) &&
            oxl_known(r->score) && oxl_known(r->of);
        out->n += whole;
        out->damaged += !whole;
        text += n + (text[n] == '\n');
    }
    return OXL_OK;
}

enum oxl_status oxl_class_read(struct oxl_class *out, struct oxl_error *err)
{
    char path[OXL_FOLDER_MAX + 16];
    char *text = NULL;
    struct stat st;
    *out = (struct oxl_class){0};
    if (!file_of_results(path, sizeof path) || (stat(path, &st) != 0 && errno == ENOENT))
        return OXL_OK;
    enum oxl_status status = oxl_read_text(path, FILE_MAX_BYTES, &text, err);
    oxl_json_watch();
    if (status == OXL_OK)
        status = take_lines(text, out, err);
    if (status == OXL_OK && oxl_json_starved())
        status = oxl_fail(err, OXL_ERR_NOMEM, "no memory for the class");
    free(text);
    return status;
}

void oxl_class_free(struct oxl_class *c)
{
    free(c->list);
    *c = (struct oxl_class){0};
}

const struct oxl_class_result *oxl_class_best(const struct oxl_class *c, const char *trainee,
                                              const char *sha256)
{
    const struct oxl_class_result *best = NULL;
    for (size_t i = 0; i < c->n; i++) {
        const struct oxl_class_result *r = &c->list[i];
        if (strcmp(r->trainee, trainee) == 0 && strcmp(r->sha256, sha256) == 0 &&
            (!best || r->score > best->score))
            best = r;
    }
    return best;
}

/* A row from a file. A list of a thousand recordings does not read them whole: the header and the
 * vehicle stand at the beginning, the result and the last line at the end. What lies between is
 * read by a check. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "link/input_file.h"
#include "oxylag/catalogue.h"

enum { FIRST_WINDOW = 64 * 1024 };

/* A part of the file in memory. */
struct window {
    int fd;
    size_t size; /* of the file */
    char *text;
    size_t n;
    bool damaged; /* a line of it was not understood */
};

static bool load(struct window *w, size_t from, size_t n)
{
    char *text = realloc(w->text, n + 1);
    if (!text)
        return false;
    const ssize_t got = oxl_input_read(w->fd, from, text, n);
    w->text = text;
    w->n = got > 0 ? (size_t)got : 0;
    text[w->n] = '\0';
    return w->n > 0;
}

/* The next whole line; NULL: none is left. */
static const char *next_line(const struct window *w, size_t *at, size_t *n)
{
    const char *line = w->text + *at;
    const char *end = memchr(line, '\n', w->n - *at);
    if (!end)
        return NULL;
    *n = (size_t)(end - line);
    *at += *n + 1;
    return line;
}

/* The event's object of a line as this program writes it; NULL: the line holds none. */
static const char *event_of(const char *line, size_t n, size_t *len)
{
    static const char mark[] = ",\"event\":{";
    const size_t k = sizeof mark - 1;
    const char *comma = memchr(line, ',', n);
    if (!comma || (size_t)(line + n - comma) < k + 2 || memcmp(comma, mark, k) != 0)
        return NULL;
    *len = (size_t)(line + n - comma) - k; /* from its bracket on, without the line's own */
    return comma + k - 1;
}

/* Everything in the window goes to the row. True: nothing more is to be expected further inwards. A
 * vehicle is said before the first run, a result after the last one. */
static bool take(struct window *w, size_t at, struct oxl_past *row)
{
    bool enough = false;
    const char *line, *json;
    size_t n, len;
    while ((line = next_line(w, &at, &n)))
        if ((json = event_of(line, n, &len))) {
            const enum oxl_past_said said = oxl_past_event(row, json, len);
            enough = enough || said != OXL_PAST_OTHER;
            w->damaged = w->damaged || said == OXL_PAST_DAMAGED;
        }
    return enough;
}

static bool read_head(struct window *w, struct oxl_past *row)
{
    struct oxl_error err = {OXL_OK, ""};
    struct oxl_record_header h;
    for (size_t part = FIRST_WINDOW;; part *= 2) {
        size_t n = 0, at = 0;
        const bool some = load(w, 0, part < w->size ? part : w->size);
        const char *line = some ? next_line(w, &at, &n) : NULL;
        if (!line || oxl_record_decode_header(line, n, &h, "it", &err) != OXL_OK) {
            oxl_past_unreadable(row, line   ? err.text
                                     : some ? "its first line has no end"
                                            : "it is empty, or cannot be read");
            return false;
        }
        oxl_past_header(row, &h);
        if (take(w, at, row) || part >= w->size)
            return true;
    }
}

/* The last line says that the recording is whole, and may say what ended it from outside. */
static void read_end(struct window *w, struct oxl_past *row)
{
    size_t at = w->n - 1;
    if (w->text[at] != '\n')
        return;
    while (at > 0 && w->text[at - 1] != '\n')
        at--;
    json_t *line = json_loadb(w->text + at, w->n - at, 0, NULL);
    const json_t *end = json_object_get(line, "end");
    row->complete = end != NULL;
    w->damaged = w->damaged || !line;
    if (json_is_string(end) && !row->verdict[0])
        snprintf(row->why, sizeof row->why, "%.*s", (int)sizeof row->why - 1,
                 json_string_value(end));
    json_decref(line);
}

static void read_tail(struct window *w, struct oxl_past *row)
{
    for (size_t part = FIRST_WINDOW;; part *= 2) {
        const size_t n = part < w->size ? part : w->size;
        if (!load(w, w->size - n, n)) {
            w->damaged = true;
            return;
        }
        const char *first = memchr(w->text, '\n', w->n);
        const size_t at = n < w->size && first ? (size_t)(first + 1 - w->text) : 0;
        if (take(w, at, row) || n == w->size)
            break;
    }
    read_end(w, row);
}

static bool read_row(struct window *w, struct oxl_past *row)
{
    if (!read_head(w, row))
        return true;
    read_tail(w, row);
    if (w->damaged) {
        oxl_past_unreadable(row, "a line of it cannot be read: it is damaged, or memory is short");
        return true;
    }
    if (strcmp(row->kind, "test") == 0 && !row->verdict[0] && !row->why[0])
        snprintf(row->why, sizeof row->why, "%s",
                 row->complete ? "it ends before a result"
                               : "it is cut off or still being written: there is no result");
    return !row->verdict[0] || row->lead[0];
}

bool oxl_past_read(const char *path, struct oxl_past *row)
{
    const char *why = "";
    struct window w = {.fd = -1};
    w.fd = oxl_input_open(path, &w.size, &why);
    if (w.fd < 0) {
        oxl_past_unreadable(row, why);
        return true;
    }
    const bool enough = read_row(&w, row);
    close(w.fd);
    free(w.text);
    return enough;
}

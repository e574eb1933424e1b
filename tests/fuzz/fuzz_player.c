/* A recording that somebody has tampered with, played as replay and report play it: it is refused
 * with a sentence or played to its end; the report of it holds no control character.
 *
 * Input that begins with '{' is a recording as it is. Any other is a list of edits to a sound one
 * made here: where (two bytes, as a part of the whole), what (a byte), how long, with what. */
#define _GNU_SOURCE 1 /* memfd_create */
#include <sys/mman.h>
#include <unistd.h>

#include "app/player.h"
#include "help_fuzz.h"
#include "oxylag/report.h"
#include "rig.h"

enum { ROOM = 4 << 20 };

struct text {
    char *data;
    size_t n;
};

static void keep_line(void *ctx, const char *line, size_t n)
{
    struct text *t = ctx;
    CHECK(t->n + n < ROOM);
    memcpy(t->data + t->n, line, n);
    t->n += n;
}

/* One run of a slow link (a short recording), made once. */
static const struct text *sound(void)
{
    static struct text t;
    static struct rig rig;
    if (t.data)
        return &t;
    t.data = malloc(ROOM);
    CHECK(t.data);
    rig.ctx = &t;
    rig.line = keep_line;
    CHECK(rig_start(&rig, "kline", 1, OXL_TECH_GUIDED));
    rig_run(&rig, 70000000);
    rig_stop(&rig);
    return &t;
}

static void insert(struct text *t, size_t at, const void *bytes, size_t n)
{
    if (t->n + n >= ROOM)
        return;
    memmove(t->data + at + n, t->data + at, t->n - at);
    memcpy(t->data + at, bytes, n);
    t->n += n;
}

static void cut(struct text *t, size_t at, size_t n)
{
    n = n < t->n - at ? n : t->n - at;
    memmove(t->data + at, t->data + at + n, t->n - at - n);
    t->n -= n;
}

static size_t line_start(const struct text *t, size_t at)
{
    while (at > 0 && t->data[at - 1] != '\n')
        at--;
    return at;
}

static size_t line_length(const struct text *t, size_t at)
{
    const char *nl = memchr(t->data + at, '\n', t->n - at);
    return nl ? (size_t)(nl - t->data) + 1 - at : t->n - at;
}

static void edit(struct text *t, size_t at, uint8_t what, const uint8_t *bytes, size_t n)
{
    static char line[65536];
    size_t start = line_start(t, at), len = line_length(t, start);
    switch (what % 6) {
    case 0: /* other bytes in place */
        memcpy(t->data + at, bytes, n < t->n - at ? n : t->n - at);
        break;
    case 1:
        insert(t, at, bytes, n);
        break;
    case 2:
        cut(t, at, n * n);
        break;
    case 3: /* the line twice */
        if (len < sizeof line) {
            memcpy(line, t->data + start, len);
            insert(t, start, line, len);
        }
        break;
    case 4: /* the line is gone */
        cut(t, start, len);
        break;
    default: /* the file ends here */
        t->n = at;
        break;
    }
}

static void tamper(struct text *t, const uint8_t *data, size_t size)
{
    while (size >= 4 && t->n > 1) {
        size_t at = (size_t)((double)t->n * (data[0] * 256 + data[1]) / 65536);
        uint8_t what = data[2];
        size_t n = data[3] % 32U;
        data += 4;
        size -= 4;
        n = n < size ? n : size;
        edit(t, at, what, data, n);
        data += n;
        size -= n;
    }
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    oxl_test_record_event(ctx, ev);
}

static void check_page(const struct oxl_test_record *record)
{
    const struct oxl_report_input input = {.record = record};
    struct oxl_buf page = {0};
    oxl_report_text(&input, 1, &page);
    for (size_t i = 0; i < page.len; i++) {
        unsigned char c = (unsigned char)page.data[i];
        CHECK(c == '\n' || (c >= 0x20 && c != 0x7F));
        CHECK(c != 0xC2 || (unsigned char)page.data[i + 1] >= 0xA0);
    }
    oxl_buf_free(&page);
    oxl_report_json(record, &page);
    oxl_buf_free(&page);
}

static void play(const char *path)
{
    static struct oxl_test_record record;
    struct oxl_player p;
    struct oxl_error err = {OXL_OK, ""};
    if (oxl_player_open(&p, path, &record, on_event, &err) != OXL_OK) {
        CHECK(err.status != OXL_OK && err.text[0]);
        return;
    }
    oxl_test_record_init(&record, &p.header);
    enum oxl_status st = oxl_player_run(&p, &err);
    CHECK(st == OXL_OK || (err.text[0] && strstr(err.text, " line ")));
    CHECK(oxl_player_outcome(&p, &err) == OXL_OK || err.text[0]);
    check_page(&record);
    oxl_player_close(&p);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct text t;
    char path[64];
    if (!t.data)
        t.data = malloc(ROOM);
    int fd = memfd_create("recording", MFD_CLOEXEC);
    CHECK(t.data && fd >= 0);
    if (size > 0 && data[0] == '{' && size < ROOM) {
        memcpy(t.data, data, size);
        t.n = size;
    } else {
        memcpy(t.data, sound()->data, sound()->n);
        t.n = sound()->n;
        tamper(&t, data, size);
    }
    CHECK(write(fd, t.data, t.n) == (ssize_t)t.n);
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    play(path);
    close(fd);
    return 0;
}

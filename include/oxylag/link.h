/* Link: a stream of bytes to and from the adapter, and the clock that goes with it. The only
 * rooms that touch the operating system are src/link, src/out, src/ui/term_*.c and src/app.
 */
#ifndef OXYLAG_LINK_H
#define OXYLAG_LINK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

#include "oxylag/status.h"

struct oxl_link; /* opaque, made by one of the openers */

struct oxl_link_ops {
    /* Bytes available now: >0 read, 0 nothing now, -1 the link is down (errno kept). Never
     * blocks. */
    ssize_t (*read)(struct oxl_link *l, void *buf, size_t n, int64_t now_us);
    /* Bytes accepted now (may be fewer than n, may be 0), -1 the link is down. Never blocks. */
    ssize_t (*write)(struct oxl_link *l, const void *buf, size_t n, int64_t now_us);
    /* -1 when not supported by the link. */
    int (*set_speed)(struct oxl_link *l, unsigned baud);
    /* For poll(2): a descriptor, or -1 when the link has none (then next_due_us tells). */
    int (*fd)(const struct oxl_link *l);
    int64_t (*next_due_us)(const struct oxl_link *l); /* INT64_MAX when fd tells */
    size_t (*unsent)(const struct oxl_link *l); /* accepted, not on its way yet; NULL: not known */
    void (*close)(struct oxl_link *l);          /* frees it */
};
struct oxl_link {
    const struct oxl_link_ops *ops;
    bool has_speed; /* a real serial line */
};

/* Opens PORT: "tcp:HOST:PORT", or a device path (libserialport; a tty that libserialport does
 * not know, such as a pseudo-terminal, is opened with termios). Non-blocking, 8N1, raw, no flow
 * control. *err says what is wrong and what to do. "sim:" ports are opened by oxl_link_sim. */
enum oxl_status oxl_link_open(const char *port, unsigned baud, struct oxl_link **out,
                              struct oxl_error *err) OXL_MUST_CHECK;

/* What the port is called without a name to look up: "tcp:192.0.2.1:35000" for a socket, "" for
 * others. */
void oxl_link_known(struct oxl_link *l, char *out, size_t n);

/* The same beside the caller, in a thread, as a name, an address or a driver may let it wait; each
 * try to connect is given up after 3 s. */
struct oxl_opening; /* opaque */
/* known: from oxl_link_known, tried first; "" none. NULL: no memory or no thread. */
struct oxl_opening *oxl_opening_start(const char *port, const char *known, unsigned baud);
/* False: not yet. True: it is over and freed; *out is the link, or NULL when it did not open. */
bool oxl_opening_over(struct oxl_opening *o, struct oxl_link **out);
/* Leaves it to itself: what it opens is closed again. NULL is accepted. */
void oxl_opening_leave(struct oxl_opening *o);

struct oxl_sim;
/* The in-process simulator; sim is not owned. */
struct oxl_link *oxl_link_sim(struct oxl_sim *sim);
/* From now on its bytes come in packets that far apart, as a USB adapter hands them on; 0: each by
 * itself. */
void oxl_link_sim_packets(struct oxl_link *l, int64_t packet_us);

/* One candidate port for `oxylag ports`. */
struct oxl_port_info {
    char path[128];
    char words[192]; /* in plain words: "USB serial adapter, vendor 1a86 product 7523" */
    bool usable;     /* may be opened by this user */
    bool built_in;   /* a port of the computer itself: an adapter is never there by itself */
};
/* Lists serial ports; *n is how many there are (may exceed max; 0 after an error). OXL_ERR_USAGE:
 * they cannot be listed here, as where libserialport was built without its list. */
enum oxl_status oxl_ports(struct oxl_port_info *out, size_t max, size_t *n,
                          struct oxl_error *err) OXL_MUST_CHECK;
/* The one of n listed ports that a run may take unasked: the only one that is plugged in or paired.
 * A built-in one never is, since nobody knows what hangs on it. OXL_ERR_USAGE says which there are.
 */
enum oxl_status oxl_port_choose(const struct oxl_port_info *list, size_t n, size_t *which,
                                struct oxl_error *err) OXL_MUST_CHECK;

/* ---- recording files ------------------------------------------------------------------------ */
struct oxl_recorder; /* append-only writer, flushed to disk every second */
/* Refuses to overwrite an existing file unless it is empty. Mode 0600 less umask. */
enum oxl_status oxl_recorder_open(const char *path, struct oxl_recorder **out,
                                  struct oxl_error *err) OXL_MUST_CHECK;
/* Appends one whole line. After the first failure (full disk) nothing more is written, the
 * failure is kept, what is in the file stays whole, and the test goes on. */
void oxl_recorder_line(struct oxl_recorder *r, const char *line, size_t n);
/* Writes what is due at now_us; once a second it is synced, in a thread, as a disk may be slow. */
void oxl_recorder_tick(struct oxl_recorder *r, int64_t now_us);
/* The same at once, as at the end of a test. */
void oxl_recorder_flush(struct oxl_recorder *r);
bool oxl_recorder_failed(const struct oxl_recorder *r, const char **why);
uint64_t oxl_recorder_bytes(const struct oxl_recorder *r);
/* Flushes, syncs, closes and frees. A file that it made and that nothing was written to is taken
 * away again. */
enum oxl_status oxl_recorder_close(struct oxl_recorder *r, struct oxl_error *err);

/* A whole recording in memory for replay: lines of text. Refuses what is no recording, with a
 * sentence. *torn is set when the last line is cut off; that line is left out. */
struct oxl_recording {
    char *text; /* owned */
    size_t size;
    char sha256[65]; /* of the file as it is, hex */
    bool torn;
};
enum oxl_status oxl_recording_load(const char *path, struct oxl_recording *out,
                                   struct oxl_error *err) OXL_MUST_CHECK;
void oxl_recording_free(struct oxl_recording *r);

/* The speed that is set on a terminal's descriptor; 0: none, or none that is known. */
unsigned oxl_tty_baud(int fd);

#endif

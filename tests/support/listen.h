/* What can be heard in samples: by pitch alone (Goertzel's algorithm), against a table of its own
 * that is docs/sound.md's, not the program's. */
#ifndef LISTEN_H
#define LISTEN_H

#include <stddef.h>
#include <stdint.h>

enum { LISTEN_HZ = 44100 };

struct heard {
    double at_s;
    const char *what; /* a cue's name, "tick"; "?": the beginning of a cue, and not the rest */
};
/* In the order of their beginning, at most max. */
size_t listen_to(const int16_t *samples, size_t n, struct heard *out, size_t max);

#endif

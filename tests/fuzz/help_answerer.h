/* An adapter with a vehicle behind it that says whatever it is told to say: no physics, no delays
 * of its own. Fuzzers turn its values, so that the core is led into every state with values that
 * no vehicle would give. CAN, 11-bit; longer answers as ISO 15765-2 segments. */
#ifndef HELP_ANSWERER_H
#define HELP_ANSWERER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct answerer {
    uint8_t value[256][4]; /* service 01, by PID */
    uint8_t mask[256];     /* 1: supported */
    bool codes;            /* a stored code */
    bool mute;             /* no answer to anything */
    char reply[2048];      /* what goes out next, when `n` is not 0 */
    size_t n;
    char line[128]; /* request under way */
    size_t line_n;
};

/* Warm, closed loop, idle at 750 rpm; front 24 (lambda), rear 15 (volts), trims, air meter. */
void answerer_start(struct answerer *a);
/* Bytes from the tester; the answer is appended to reply. */
void answerer_hear(struct answerer *a, const char *bytes, size_t n);

void answerer_lambda(struct answerer *a, double lambda);
void answerer_rear(struct answerer *a, double volts);
void answerer_stft(struct answerer *a, double pct);

#endif

/* What the fuzzers share. */
#ifndef HELP_FUZZ_H
#define HELP_FUZZ_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define CHECK(x)                                                                                   \
    do {                                                                                           \
        if (!(x)) {                                                                                \
            fprintf(stderr, "%s:%d: broken promise: %s\n", __FILE__, __LINE__, #x);                \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

/* The input byte by byte; zeros behind its end. */
struct reader {
    const uint8_t *at, *end;
};

static inline uint8_t take(struct reader *r)
{
    return r->at < r->end ? *r->at++ : 0;
}

/* The input as a string of its own size, so that a read past its end is seen; to be freed. */
static inline char *text_of(const uint8_t *data, size_t size)
{
    char *text = malloc(size + 1);
    CHECK(text);
    memcpy(text, data, size);
    text[size] = '\0';
    return text;
}

#endif

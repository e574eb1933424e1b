/* SHA-256 (FIPS 180-4 clause 6.2), so that a report can name its recording beyond doubt. */
#ifndef OXYLAG_LINK_SHA256_H
#define OXYLAG_LINK_SHA256_H

#include <stddef.h>
#include <stdint.h>

struct oxl_sha256 {
    uint32_t h[8];
    uint64_t bytes;
    uint8_t block[64];
};
void oxl_sha256_start(struct oxl_sha256 *s);
void oxl_sha256_add(struct oxl_sha256 *s, const void *data, size_t n);
/* 64 lower-case hex digits and a NUL. */
void oxl_sha256_hex(struct oxl_sha256 *s, char out[65]);

#endif

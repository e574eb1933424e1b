/* SHA-256 (FIPS 180-4) by libnettle, so that a report can name its recording beyond doubt. */
#ifndef OXYLAG_LINK_SHA256_H
#define OXYLAG_LINK_SHA256_H

#include <nettle/sha2.h>
#include <stddef.h>

struct oxl_sha256 {
    struct sha256_ctx ctx;
};
void oxl_sha256_start(struct oxl_sha256 *s);
void oxl_sha256_add(struct oxl_sha256 *s, const void *data, size_t n);
/* 64 lower-case hex digits and a NUL. */
void oxl_sha256_hex(struct oxl_sha256 *s, char out[65]);

#endif

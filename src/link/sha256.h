/* SHA-256 (FIPS 180-4) by libnettle, so that a report can name its recording beyond doubt. */
#ifndef OXYLAG_LINK_SHA256_H
#define OXYLAG_LINK_SHA256_H

#include <stddef.h>

/* 64 lower-case hex digits and a NUL. */
void oxl_sha256(const void *data, size_t n, char out[65]);

#endif

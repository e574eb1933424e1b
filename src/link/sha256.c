#include "sha256.h"

#include <stdint.h>

void oxl_sha256_start(struct oxl_sha256 *s)
{
    sha256_init(&s->ctx);
}

void oxl_sha256_add(struct oxl_sha256 *s, const void *data, size_t n)
{
    sha256_update(&s->ctx, n, data);
}

void oxl_sha256_hex(struct oxl_sha256 *s, char out[65])
{
    static const char hex[] = "0123456789abcdef";
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_digest(&s->ctx, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++) {
        out[2 * i] = hex[digest[i] >> 4];
        out[2 * i + 1] = hex[digest[i] & 15];
    }
    out[64] = '\0';
}

#include "input_file.h"

#include <nettle/base16.h>
#include <nettle/sha2.h>

void oxl_sha256(const void *data, size_t n, char out[65])
{
    struct sha256_ctx ctx;
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_init(&ctx);
    sha256_update(&ctx, n, data);
    sha256_digest(&ctx, sizeof digest, digest);
    base16_encode_update(out, sizeof digest, digest);
    out[64] = '\0';
}

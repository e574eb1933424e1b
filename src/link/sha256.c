#include "sha256.h"

#include <string.h>

/* FIPS 180-4 clause 4.2.2: first 32 bits of the fractional parts of the cube roots of the first
 * 64 primes. */
static const uint32_t k[64] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

static uint32_t rotr(uint32_t x, unsigned n)
{
    return x >> n | x << (32 - n);
}

/* The message schedule of clause 6.2.2 step 1. */
static void schedule(const uint8_t *p, uint32_t w[64])
{
    for (size_t t = 0; t < 16; t++)
        w[t] = (uint32_t)p[4 * t] << 24 | (uint32_t)p[4 * t + 1] << 16 |
               (uint32_t)p[4 * t + 2] << 8 | p[4 * t + 3];
    for (size_t t = 16; t < 64; t++) {
        uint32_t s0 = rotr(w[t - 15], 7) ^ rotr(w[t - 15], 18) ^ w[t - 15] >> 3;
        uint32_t s1 = rotr(w[t - 2], 17) ^ rotr(w[t - 2], 19) ^ w[t - 2] >> 10;
        w[t] = s1 + w[t - 7] + s0 + w[t - 16];
    }
}

static void compress(uint32_t hash[8], const uint8_t *block)
{
    uint32_t w[64];
    uint32_t a = hash[0], b = hash[1], c = hash[2], d = hash[3];
    uint32_t e = hash[4], f = hash[5], g = hash[6], h = hash[7];
    schedule(block, w);
    for (size_t t = 0; t < 64; t++) {
        uint32_t s1 = rotr(e, 6) ^ rotr(e, 11) ^ rotr(e, 25);
        uint32_t t1 = h + s1 + ((e & f) ^ (~e & g)) + k[t] + w[t];
        uint32_t s0 = rotr(a, 2) ^ rotr(a, 13) ^ rotr(a, 22);
        uint32_t t2 = s0 + ((a & b) ^ (a & c) ^ (b & c));
        h = g;
        g = f;
        f = e;
        e = d + t1;
        d = c;
        c = b;
        b = a;
        a = t1 + t2;
    }
    const uint32_t add[8] = {a, b, c, d, e, f, g, h};
    for (size_t i = 0; i < 8; i++)
        hash[i] += add[i];
}

void oxl_sha256_start(struct oxl_sha256 *s)
{
    static const uint32_t h0[8] = {0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                                   0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
    memcpy(s->h, h0, sizeof s->h);
    s->bytes = 0;
}

void oxl_sha256_add(struct oxl_sha256 *s, const void *data, size_t n)
{
    const uint8_t *p = data;
    size_t have = (size_t)(s->bytes % 64);
    s->bytes += n;
    if (have && have + n >= 64) {
        size_t take = 64 - have;
        memcpy(s->block + have, p, take);
        compress(s->h, s->block);
        p += take;
        n -= take;
        have = 0;
    }
    for (; have == 0 && n >= 64; p += 64, n -= 64)
        compress(s->h, p);
    if (n)
        memcpy(s->block + have, p, n);
}

void oxl_sha256_hex(struct oxl_sha256 *s, char out[65])
{
    static const char hex[] = "0123456789abcdef";
    static const uint8_t pad[64] = {0x80};
    uint64_t bits = s->bytes * 8;
    uint8_t length[8];
    for (unsigned i = 0; i < 8; i++)
        length[i] = (uint8_t)(bits >> (56 - 8 * i));
    /* Clause 5.1.1: a one bit, zeros up to 56 bytes of the last block, the length in bits. */
    oxl_sha256_add(s, pad, 1 + (119 - (size_t)(s->bytes % 64)) % 64);
    oxl_sha256_add(s, length, sizeof length);
    for (unsigned i = 0; i < 64; i++)
        out[i] = hex[s->h[i / 8] >> (28 - 4 * (i % 8)) & 15];
    out[64] = '\0';
}

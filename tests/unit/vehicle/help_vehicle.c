#include "help_vehicle.h"

#include <stdlib.h>
#include <string.h>

void help_message(struct help_message *h, const char *hex)
{
    size_t n = 0;
    for (const char *c = hex; *c && n < HELP_MAX_BYTES;) {
        if (*c == ' ') {
            c++;
            continue;
        }
        char pair[3] = {c[0], c[1], '\0'};
        h->bytes[n++] = (uint8_t)strtoul(pair, NULL, 16);
        c += 2;
    }
    h->m = (struct oxl_message){
        .ecu = 0x7E8, .data = h->bytes, .len = n, .first_byte_us = 2000, .last_byte_us = 2500};
}

struct help_samples help_decode(const char *hex, const struct oxl_decoding *d)
{
    struct help_message h;
    struct help_samples out = {.n = 0};
    help_message(&h, hex);
    out.n = oxl_decode_live(&h.m, d, 1000, out.s, HELP_MAX_SAMPLES, &out.clean);
    return out;
}

double help_value(const struct help_samples *s, const char *name)
{
    for (size_t i = 0; i < s->n; i++) {
        char n[48];
        oxl_channel_name(s->s[i].channel, n, sizeof n);
        if (strcmp(n, name) == 0)
            return s->s[i].value;
    }
    return NAN;
}

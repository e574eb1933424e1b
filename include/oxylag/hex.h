/* Hexadecimal digits as adapters, recordings and standards write them: upper case. */
#ifndef OXYLAG_HEX_H
#define OXYLAG_HEX_H

/* 0..15, or -1. */
static inline int oxl_hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

#endif

#include "oxylag/report.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Room for n more bytes and a NUL. */
static bool reserve(struct oxl_buf *b, size_t n)
{
    size_t need = b->len + n + 1, cap = b->cap ? b->cap : 1024;
    if (need <= b->cap)
        return true;
    while (cap < need)
        cap *= 2;
    char *data = realloc(b->data, cap);
    if (!data)
        return false;
    b->data = data;
    b->cap = cap;
    return true;
}

void oxl_buf_add(struct oxl_buf *b, const char *fmt, ...)
{
    va_list args;
    if (b->failed)
        return;
    va_start(args, fmt);
    int n = vsnprintf(NULL, 0, fmt, args);
    va_end(args);
    if (n < 0 || !reserve(b, (size_t)n)) {
        b->failed = true;
        return;
    }
    va_start(args, fmt);
    vsnprintf(b->data + b->len, (size_t)n + 1, fmt, args);
    va_end(args);
    b->len += (size_t)n;
}

void oxl_buf_put(struct oxl_buf *b, const void *bytes, size_t n)
{
    if (b->failed || n == 0)
        return;
    if (!reserve(b, n)) {
        b->failed = true;
        return;
    }
    memcpy(b->data + b->len, bytes, n);
    b->len += n;
    b->data[b->len] = '\0';
}

void oxl_buf_free(struct oxl_buf *b)
{
    free(b->data);
    *b = (struct oxl_buf){0};
}

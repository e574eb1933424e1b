#include "json_memory.h"

#include <jansson.h>
#include <stddef.h>
#include <stdlib.h>

/* It has no other place to be: the library knows one allocator. */
static bool json_starved;
static struct {
    _Alignas(max_align_t) char room[64 * 1024];
    size_t used;
} reserve;

static void *json_memory(size_t n)
{
    void *p = malloc(n);
    if (p)
        return p;
    json_starved = true;
    size_t rounded = (n + _Alignof(max_align_t) - 1) & ~(_Alignof(max_align_t) - 1);
    if (rounded < n || rounded > sizeof reserve.room - reserve.used)
        return NULL;
    p = reserve.room + reserve.used;
    reserve.used += rounded;
    return p;
}

static void json_memory_free(void *p)
{
    const char *at = p;
    if (at < reserve.room || at >= reserve.room + sizeof reserve.room)
        free(p);
}

void oxl_json_watch(void)
{
    json_set_alloc_funcs(json_memory, json_memory_free);
    json_starved = false;
    reserve.used = 0;
}

bool oxl_json_starved(void)
{
    return json_starved;
}

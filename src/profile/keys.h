/* The table of profile keys: one row a key, and everything else of this room reads it. */
#ifndef OXYLAG_PROFILE_KEYS_H
#define OXYLAG_PROFILE_KEYS_H

#include <stdbool.h>
#include <stddef.h>

#include "oxylag/profile.h"

enum oxl_key_kind {
    OXL_KEY_NUMBER,
    OXL_KEY_NUMBER_OR_UNKNOWN, /* "unknown" is NAN */
    OXL_KEY_COUNT,             /* a whole number, unsigned */
    OXL_KEY_WORD,              /* one of some words, an enum */
    OXL_KEY_NAME,              /* small letters, digits and '-' */
    OXL_KEY_TEXT               /* printable ASCII without ';', which begins a comment */
};

struct oxl_key {
    const char *section, *key;
    enum oxl_key_kind kind;
    size_t offset, size; /* of the member of struct oxl_profile */
    double min, max;     /* accepted numbers, both inclusive */
    double number;       /* default */
    const char *text;    /* default of names and texts; accepted words, by value, with spaces */
};

/* Two numbers that only make sense in this order. */
struct oxl_key_order {
    const char *low, *high; /* keys */
    bool may_be_equal;
};

enum { OXL_KEYS = 62, OXL_KEY_ORDERS = 15 };
extern const struct oxl_key oxl_keys[OXL_KEYS];
extern const struct oxl_key_order oxl_key_orders[OXL_KEY_ORDERS];

/* Index of the key, OXL_KEYS when there is none. A NULL section means any. */
size_t oxl_key_find(const char *section, const char *key);

/* The number that a key holds now. */
double oxl_key_number(const struct oxl_key *k, const struct oxl_profile *p);

#endif

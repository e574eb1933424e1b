#include "args.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

void oxl_args_start(struct oxl_args *a, const char *command)
{
    memset(a, 0, sizeof *a);
    oxl_args_add(a, "oxylag");
    oxl_args_add(a, command);
}

void oxl_args_add(struct oxl_args *a, const char *word)
{
    size_t n = strlen(word) + 1;
    if (a->n == OXL_ARGS_MAX || n > sizeof a->text - a->used) {
        a->full = true;
        return;
    }
    a->argv[a->n++] = memcpy(a->text + a->used, word, n);
    a->used += n;
}

void oxl_args_option(struct oxl_args *a, const char *name, const char *value)
{
    char option[40];
    if (!value[0])
        return;
    snprintf(option, sizeof option, "--%s", name);
    oxl_args_add(a, option);
    oxl_args_add(a, value);
}

static bool is_plain(const char *word)
{
    for (const char *c = word; *c; c++)
        if (!isalnum((unsigned char)*c) && !strchr("-_./:+,@%", *c))
            return false;
    return word[0] != '\0';
}

/* Between single quotes everything stands for itself but the quote (POSIX.1 XCU 2.2.2). */
static size_t quote(const char *word, char *out, size_t n)
{
    size_t len = 0;
    bool plain = is_plain(word);
    const char *mark = plain ? "" : "'";
    len += (size_t)snprintf(out, n, "%s", mark);
    for (; *word; word++)
        len += (size_t)snprintf(out + (len < n ? len : n), len < n ? n - len : 0, "%s%.*s",
                                *word == '\'' ? "'\\'" : "", 1, word);
    len += (size_t)snprintf(out + (len < n ? len : n), len < n ? n - len : 0, "%s", mark);
    return len;
}

void oxl_args_shown(const struct oxl_args *a, char *out, size_t n)
{
    size_t len = 0;
    out[0] = '\0';
    for (int i = 0; i < a->n && len + 1 < n; i++) {
        if (i)
            out[len++] = ' ';
        out[len] = '\0';
        len += quote(a->argv[i], out + len, n - len);
    }
}

#include "help_harm.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* Text may hold CR by damage: each piece is a line; what stands behind the last is followed by
 * the CR that was sent. */
static bool any_line_changes(const char *text, size_t n)
{
    size_t from = 0;
    for (size_t i = 0; i <= n; i++)
        if (i == n || text[i] == '\r') {
            if (line_changes(text + from, i - from))
                return true;
            from = i + 1;
        }
    return false;
}

bool harmed_changes(const char *text, enum harm harm)
{
    char made[100];
    size_t n = strlen(text);
    bool any = false;
    for (size_t at = 0; at < n; at++) {
        for (size_t lost = 1; lost <= (harm == HARM_TWO ? 2 : 1) && at + lost <= n; lost++) {
            memcpy(made, text, at);
            memcpy(made + at, text + at + lost, n - at - lost);
            any = any || any_line_changes(made, n - lost);
        }
        memcpy(made, text, at + 1);
        memcpy(made + at + 1, text + at, n - at);
        any = any || any_line_changes(made, n + 1);
        for (int bit = 0; bit < 8 && harm != HARM_LOSS; bit++) {
            memcpy(made, text, n);
            made[at] = (char)((unsigned char)made[at] ^ 1U << bit);
            any = any || any_line_changes(made, n);
        }
    }
    return any || any_line_changes(text, n);
}

bool tail_changes(const char *text)
{
    for (size_t i = 1; text[i]; i++)
        if (any_line_changes(text + i, strlen(text + i)))
            return true;
    return false;
}

bool joined_changes(const char *text, const char *next)
{
    char made[100];
    for (int bit = -1; bit < 8; bit++) {
        char cr = (char)(bit < 0 ? ' ' : '\r' ^ 1 << bit);
        int n = snprintf(made, sizeof made, "%s%c%s", text, cr, next);
        if (any_line_changes(made, (size_t)n))
            return true;
    }
    return false;
}

unsigned check_sent(const struct rig *r, enum harm harm)
{
    char line[100];
    unsigned n = 0;
    for (const char *at = r->out; (at = strstr(at, " send ")); n++) {
        at += strlen(" send ");
        size_t len = strcspn(at, "\n");
        assert_true(len < sizeof line);
        memcpy(line, at, len);
        line[len] = '\0';
        if (harmed_changes(line, harm) || (strncmp(line, "AT", 2) == 0 && tail_changes(line)) ||
            joined_changes(line, "0114151"))
            fail_msg("%s was sent as it is", line);
    }
    return n;
}

#include "opts.h"

#include "opts_table.h"

#include <ctype.h>
#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/safe.h"

static enum oxl_status find_command(const char *word, struct oxl_opts *o, struct oxl_error *err)
{
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++)
        if (strcmp(word, oxl_command_rows[c].name) == 0) {
            o->command = (enum oxl_command)c;
            return OXL_OK;
        }
    char all[200] = "", meant[48];
    struct oxl_nearest near = {.typed = word};
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++) {
        oxl_nearest_try(&near, oxl_command_rows[c].name);
        oxl_append_word(all, sizeof all, ", ", oxl_command_rows[c].name);
    }
    oxl_nearest_try(&near, "help");
    return oxl_fail(err, OXL_ERR_USAGE, "unknown command \"%s\"%s%s expected one of %s, help", word,
                    oxl_nearest_text(&near, meant, sizeof meant), near.meant ? " Else" : ":", all);
}

static enum oxl_status set_number(const struct oxl_option_row *row, const char *value, double *out,
                                  struct oxl_error *err)
{
    char *end;
    errno = 0;
    double v = strtod(value, &end);
    bool whole = row->kind == COUNT;
    /* strtod takes blanks, hexadecimal, "inf" and "nan" besides. */
    bool plain = value[strspn(value, "0123456789.+-eE")] == '\0';
    if (end == value || !plain || *end || errno || !isfinite(v) || v < row->min || v > row->max ||
        (whole && v != floor(v)))
        return oxl_fail(err, OXL_ERR_USAGE, "--%s: found \"%s\", expected a %s from %g to %.10g",
                        row->name, value, whole ? "whole number" : "number", row->min, row->max);
    *out = v;
    return OXL_OK;
}

/* Counted as people count, for whom a limit in bytes means little. */
static size_t characters(const char *text)
{
    size_t n = 0;
    for (; *text; text++)
        n += ((unsigned char)*text & 0xC0) !=
             0x80; /* RFC 3629 section 3: not in the middle of one */
    return n;
}

static enum oxl_status set_text(const struct oxl_option_row *row, const char *value,
                                const char **out, struct oxl_error *err)
{
    size_t bytes = strlen(value), n = characters(value);
    if (bytes == 0)
        return oxl_fail(err, OXL_ERR_USAGE, "--%s: expected %s, found nothing", row->name,
                        row->value);
    if (bytes > (size_t)row->max && n == bytes)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--%s: is too long, %zu characters: at most %.0f are kept, so shorten it",
                        row->name, n, row->max);
    if (bytes > (size_t)row->max)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--%s: is too long, %zu characters in %zu bytes of UTF-8: at most %.0f "
                        "bytes are kept, so shorten it",
                        row->name, n, bytes, row->max);
    if (row->kind == FIGURE && !isdigit((unsigned char)value[strspn(value, " ")]))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--%s: found \"%s\", expected a figure such as 123456 km", row->name,
                        value);
    *out = value;
    return OXL_OK;
}

/* "a4|letter": which of them it is. */
static enum oxl_status set_word(const struct oxl_option_row *row, const char *value, unsigned *out,
                                struct oxl_error *err)
{
    const char *word = row->value;
    for (unsigned i = 0; word; i++) {
        size_t n = strcspn(word, "|");
        if (strlen(value) == n && memcmp(value, word, n) == 0) {
            *out = i;
            return OXL_OK;
        }
        word = word[n] ? word + n + 1 : NULL;
    }
    return oxl_fail(err, OXL_ERR_USAGE, "--%s: found \"%s\", expected %s", row->name, value,
                    row->value);
}

static enum oxl_status set(const struct oxl_option_row *row, const char *value, struct oxl_opts *o,
                           struct oxl_error *err)
{
    void *at = (char *)o + row->offset;
    double number = 0;
    enum oxl_status st = OXL_OK;
    switch (row->kind) {
    case FLAG:
        *(bool *)at = true;
        break;
    case TEXT:
    case FIGURE:
        return set_text(row, value, at, err);
    case COUNT:
        st = set_number(row, value, &number, err);
        if (st == OXL_OK && row->offset == offsetof(struct oxl_opts, seed))
            *(uint64_t *)at = (uint64_t)number;
        else if (st == OXL_OK)
            *(unsigned *)at = (unsigned)number;
        break;
    case NUMBER:
        return set_number(row, value, at, err);
    case WORD:
        return set_word(row, value, at, err);
    }
    return st;
}

static const struct oxl_option_row *row_named(const char *name, enum oxl_command c)
{
    for (unsigned i = 0; i < OXL_OPTION_ROWS; i++)
        if (oxl_option_rows[i].commands & 1u << c && strcmp(oxl_option_rows[i].name, name) == 0)
            return &oxl_option_rows[i];
    return NULL;
}

enum oxl_status oxl_opts_check(enum oxl_command c, const char *option, const char *value,
                               struct oxl_error *err)
{
    struct oxl_opts scratch;
    const struct oxl_option_row *row = row_named(option, c);
    return row ? set(row, value, &scratch, err)
               : oxl_fail(err, OXL_ERR_USAGE, "--%s: there is no such option", option);
}

void oxl_opts_apply(struct oxl_opts *o, const char *option, const char *value)
{
    const struct oxl_option_row *row = row_named(option, o->command);
    if (row)
        (void)set(row, value, o, NULL);
}

/* Options that the command takes, in the form that getopt_long wants. */
static size_t build(enum oxl_command c, struct option *longs, char *shorts)
{
    size_t n = 0, s = 0;
    shorts[s++] = ':';
    for (unsigned i = 0; i < OXL_OPTION_ROWS; i++) {
        if (!(oxl_option_rows[i].commands & 1u << c))
            continue;
        int needs = oxl_option_rows[i].kind == FLAG ? no_argument : required_argument;
        longs[n++] = (struct option){oxl_option_rows[i].name, needs, NULL, 256 + (int)i};
        if (oxl_option_rows[i].letter) {
            shorts[s++] = oxl_option_rows[i].letter;
            if (needs)
                shorts[s++] = ':';
        }
    }
    longs[n] = (struct option){0};
    shorts[s] = '\0';
    return n;
}

static const struct oxl_option_row *row_of(int found, enum oxl_command c)
{
    if (found >= 256)
        return &oxl_option_rows[found - 256];
    for (unsigned i = 0; i < OXL_OPTION_ROWS; i++)
        if (oxl_option_rows[i].letter == found && oxl_option_rows[i].commands & 1u << c)
            return &oxl_option_rows[i];
    return NULL;
}

static enum oxl_status refuse_option(const char *typed, enum oxl_command c, struct oxl_error *err)
{
    char word[40], dashed[48] = "", meant[80];
    snprintf(word, sizeof word, "%.*s", (int)strcspn(typed, "="), typed);
    struct oxl_nearest near = {.typed = word + strspn(word, "-")};
    for (unsigned i = 0; i < OXL_OPTION_ROWS && strncmp(word, "--", 2) == 0; i++)
        if (oxl_option_rows[i].commands & 1u << c)
            oxl_nearest_try(&near, oxl_option_rows[i].name);
    for (unsigned i = 0; i < OXL_OPTION_ROWS; i++)
        if (strcmp(near.typed, oxl_option_rows[i].name) == 0)
            near.meant = NULL; /* meant as typed, but of another command */
    if (near.meant)
        snprintf(dashed, sizeof dashed, "--%s", near.meant);
    near.meant = near.meant ? dashed : NULL;
    return oxl_fail(err, OXL_ERR_USAGE, "unknown option \"%s\"%s%s oxylag %s --help", typed,
                    oxl_nearest_text(&near, meant, sizeof meant), near.meant ? " Try" : ": try",
                    oxl_command_rows[c].name);
}

static enum oxl_status parse_options(int argc, char **argv, struct oxl_opts *o,
                                     struct oxl_error *err)
{
    const char *name = oxl_command_rows[o->command].name;
    struct option longs[OXL_OPTION_ROWS + 1];
    char shorts[2 * OXL_OPTION_ROWS + 2];
    bool seen[OXL_OPTION_ROWS] = {false};
    build(o->command, longs, shorts);
    optind = 0; /* anew: of the GNU and the musl library */
    opterr = 0;
    for (int found; (found = getopt_long(argc, argv, shorts, longs, NULL)) != -1;) {
        if (found == '?')
            return refuse_option(argv[optind - 1], o->command, err);
        if (found == ':')
            return oxl_fail(err, OXL_ERR_USAGE, "\"%s\" needs a value: try oxylag %s --help",
                            argv[optind - 1], name);
        const struct oxl_option_row *row = row_of(found, o->command);
        if (row->kind != FLAG && seen[row - oxl_option_rows])
            return oxl_fail(err, OXL_ERR_USAGE, "--%s is given twice: give it once", row->name);
        seen[row - oxl_option_rows] = true;
        enum oxl_status st = set(row, optarg, o, err);
        if (st != OXL_OK)
            return st;
    }
    for (; optind < argc; optind++) {
        if (o->files_n >= oxl_command_rows[o->command].files_max)
            return oxl_fail(err, OXL_ERR_USAGE, "\"%s\" is not expected: try oxylag %s --help",
                            argv[optind], name);
        o->files[o->files_n++] = argv[optind];
    }
    if (!o->help && o->files_n < oxl_command_rows[o->command].files_min)
        return oxl_fail(err, OXL_ERR_USAGE, "%s needs a %s: oxylag %s %s", name,
                        o->command == OXL_CMD_IMPORT ? "table" : "recording", name,
                        oxl_command_rows[o->command].arguments);
    return OXL_OK;
}

enum oxl_status oxl_opts_parse(int argc, char **argv, const struct oxl_settings *s,
                               struct oxl_opts *o, struct oxl_error *err)
{
    memset(o, 0, sizeof *o);
    o->rate = 1;
    o->seed = 1;
    o->volume_pct = 70;
    if (argc < 2)
        return oxl_fail(err, OXL_ERR_USAGE, "say what to do: try oxylag --help");
    enum oxl_status st = find_command(argv[1], o, err);
    if (st == OXL_OK && s)
        oxl_settings_apply(s, o);
    if (st == OXL_OK)
        st = parse_options(argc - 1, argv + 1, o, err);
    if (st == OXL_OK && !o->help)
        st = oxl_opts_together(o, err);
    return st;
}

void oxl_help_program(struct oxl_buf *out)
{
    oxl_buf_add(out, "oxylag: the guided propane oxygen-storage test of a catalytic converter\n\n"
                     "  oxylag COMMAND [options]      oxylag COMMAND --help\n\n");
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++)
        oxl_buf_add(out, "  %-10s %-8s %s\n", oxl_command_rows[c].name,
                    oxl_command_rows[c].arguments, oxl_command_rows[c].does);
    oxl_buf_add(out, "  %-10s %-8s %s\n", "help", "[COMMAND]",
                "this text, or what a command takes");
    oxl_buf_add(
        out,
        "\nFirst try: oxylag, alone on a terminal, then Practise; or oxylag demo. On a vehicle:\n"
        "oxylag run --port /dev/ttyUSB0\n\n"
        "Exit codes: 0 finished (whatever the verdict), 2 usage, 3 bad input file or\n"
        "profile, 4 port cannot be opened, 5 adapter or vehicle does not answer, 6 test\n"
        "stopped before a result, 7 vehicle unsuitable, 70 internal error.\n");
}

void oxl_help_command(enum oxl_command c, struct oxl_buf *out)
{
    oxl_buf_add(out, "oxylag %s %s%s[options]: %s\n\n", oxl_command_rows[c].name,
                oxl_command_rows[c].arguments, oxl_command_rows[c].arguments[0] ? " " : "",
                oxl_command_rows[c].does);
    for (unsigned i = 0; i < OXL_OPTION_ROWS; i++) {
        if (!(oxl_option_rows[i].commands & 1u << c))
            continue;
        char left[48], letter[5] = "    ";
        if (oxl_option_rows[i].letter)
            snprintf(letter, sizeof letter, "-%c, ", oxl_option_rows[i].letter);
        snprintf(left, sizeof left, "%s--%s%s%s", letter, oxl_option_rows[i].name,
                 oxl_option_rows[i].value ? " " : "",
                 oxl_option_rows[i].value ? oxl_option_rows[i].value : "");
        oxl_buf_add(out, "  %-36s %s\n", left, oxl_option_rows[i].help);
    }
}

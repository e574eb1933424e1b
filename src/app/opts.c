#include "opts.h"

#include "hearing.h"
#include "nearest.h"

#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define IN(c) (1u << OXL_CMD_##c)
#define LIVE  (IN(RUN) | IN(DEMO))
#define SHOWN (LIVE | IN(REPLAY))
#define MADE  (LIVE | IN(IMPORT)) /* makes a recording */

/* What a recording's header keeps of a text: nothing is cut, so nothing longer is taken. */
#define KEPT(member) (sizeof((struct oxl_record_header *)0)->member - 1)
enum {
    PORT_MAX_BYTES = KEPT(port),
    SCENARIO_MAX_BYTES = PORT_MAX_BYTES - 4, /* behind "sim:" */
    PATH_MAX_BYTES = 500,
    COLUMNS_MAX_BYTES = 4000
};

enum kind { FLAG, TEXT, COUNT, NUMBER, FORMAT, THEME, PAPER };

static const struct option_row {
    const char *name;
    char letter;
    enum kind kind;
    unsigned commands;
    size_t offset;
    double min, max; /* COUNT, NUMBER; TEXT: max bytes */
    const char *value, *help;
} rows[] = {
#define AT(member) offsetof(struct oxl_opts, member)
    {"port", 'p', TEXT, IN(RUN) | IN(INSPECT), AT(port), 0, PORT_MAX_BYTES, "PORT",
     "/dev/..., tcp:HOST:PORT or sim:SCENARIO; may be left out when just one adapter is plugged "
     "in"},
    {"scenario", 's', TEXT, IN(DEMO) | IN(SIMULATE), AT(scenario), 0, SCENARIO_MAX_BYTES, "NAME",
     "what is simulated: a name (see: oxylag scenarios) or the path of a file; good when not "
     "given"},
    {"listen", 'l', TEXT, IN(SIMULATE), AT(listen), 0, PATH_MAX_BYTES, "WHERE",
     "tcp:HOST:PORT (port 0: any free one) or pty"},
    {"symlink", 0, TEXT, IN(SIMULATE), AT(symlink), 0, PATH_MAX_BYTES, "PATH",
     "with pty: a name that stays when the terminal is unplugged and plugged in again"},
    {"profile", 'P', TEXT, MADE | IN(INSPECT), AT(profile), 0, PATH_MAX_BYTES, "NAME|FILE",
     "limits and settings; chosen by what the vehicle supports when not given"},
    {"bank", 'b', COUNT, MADE | IN(INSPECT), AT(bank), 1, 2, "1|2",
     "which bank is tested; 1 when not given"},
    {"runs", 'n', COUNT, LIVE, AT(runs), 1, 12, "N", "valid runs wanted; the profile's (3)"},
    {"order", 'o', TEXT, MADE, AT(order), 0, KEPT(order), "TEXT",
     "repair order, printed on the report"},
    {"technician", 0, TEXT, MADE, AT(technician), 0, KEPT(technician), "TEXT", "who does the test"},
    {"inlet", 0, TEXT, MADE, AT(inlet), 0, KEPT(inlet), "TEXT", "where the gas is fed"},
    {"note", 0, TEXT, MADE, AT(note), 0, KEPT(note), "TEXT", "a free note for the recording"},
    {"out", 'O', TEXT, MADE | IN(INSPECT) | IN(REPORT), AT(out), 0, PATH_MAX_BYTES, "FILE",
     "the recording (run, demo, inspect, import) or the report"},
    {"truth", 0, TEXT, LIVE | IN(SIMULATE), AT(truth), 0, PATH_MAX_BYTES, "FILE",
     "simulated only: what really happened"},
    {"mask-vin", 0, FLAG, LIVE | IN(INSPECT) | IN(REPORT) | IN(REPLAY), AT(mask_vin), 0, 0, NULL,
     "hide the last nine characters of the VIN"},
    {"speed", 0, COUNT, IN(RUN) | IN(INSPECT), AT(speed_baud), 1200, 4000000, "BAUD",
     "the adapter's line speed; found when not given"},
    {"seed", 0, COUNT, LIVE | IN(INSPECT) | IN(SIMULATE), AT(seed), 0, 4294967295.0, "N",
     "simulated only: another seed, another car and hand of the same kind"},
    {"packets", 0, COUNT, LIVE, AT(packet_ms), 1, 100, "MS",
     "simulated only: bytes come in packets so far apart, as over USB"},
    {"rate", 'r', NUMBER, IN(DEMO) | IN(REPLAY), AT(rate), 0.05, 1000, "X",
     "times real time; 1 when not given"},
    {"from", 0, NUMBER, IN(REPLAY), AT(from_s), 0, 1e6, "SECONDS", "show from this time on"},
    {"seconds", 0, NUMBER, IN(SIMULATE), AT(seconds), 0.1, 1e7, "S", "stop serving after this"},
    {"by-hand", 0, FLAG, IN(DEMO), AT(by_hand), 0, 0, NULL,
     "you work the gas valve with the arrow keys"},
    {"quiz", 0, FLAG, IN(REPLAY), AT(quiz), 0, 0, NULL,
     "hide the answer: you mark front-lean and rear-lean and give the verdict"},
    {"answers", 0, TEXT, IN(REPLAY), AT(answers), 0, PATH_MAX_BYTES, "FILE",
     "with --quiz: the keys and their times from a file instead of the keyboard"},
    {"columns", 'c', TEXT, IN(IMPORT), AT(columns), 0, COLUMNS_MAX_BYTES, "LIST",
     "time=NAME,front=NAME,rear=NAME,stft=NAME[,ltft=,air=,rpm=,..], each NAME[:unit]"},
    {"separator", 0, TEXT, IN(IMPORT), AT(separator), 0, PATH_MAX_BYTES, "WHICH",
     "comma, semicolon, tab or a character; found when not given"},
    {"format", 'f', FORMAT, IN(REPORT), AT(format), 0, 0, "text|json|csv|html|pdf",
     "text when not given; html and pdf are one printed page"},
    {"paper", 0, PAPER, IN(REPORT), AT(paper), 0, 0, "a4|letter",
     "of html and pdf; a4 when not given"},
    {"json", 'j', FLAG, SHOWN | IN(INSPECT) | IN(IMPORT) | IN(PORTS) | IN(PROFILES) | IN(SCENARIOS),
     AT(json), 0, 0, NULL, "one JSON object a line, for programs"},
    {"samples", 0, FLAG, SHOWN, AT(samples), 0, 0, NULL, "with --json: every sample too"},
    {"plain", 0, FLAG, SHOWN, AT(plain), 0, 0, NULL, "a line an event instead of the dashboard"},
    {"leak-check", 0, FLAG, LIVE, AT(leak_check), 0, 0, NULL,
     "ask for the leak check after the first run (key l does it at any time)"},
    {"pass-stops", 0, FLAG, LIVE, AT(pass_stops), 0, 0, NULL,
     "go on although a pre-check line says STOP; the report says so"},
    {"new-converter", 0, FLAG, LIVE, AT(new_converter), 0, 0, NULL,
     "the converter is new, less than about 160 km old (key n)"},
    {"deeper", 0, FLAG, LIVE, AT(deeper), 0, 0, NULL,
     "a deeper run at the end, whatever the other runs say (key d)"},
    {"no-deeper", 0, FLAG, LIVE, AT(no_deeper), 0, 0, NULL,
     "no deeper run when the runs do not decide (key d when it is offered)"},
    {"accept-cautions", 'y', FLAG, LIVE, AT(accept_cautions), 0, 0, NULL,
     "I have read the cautions and take care"},
    {"virtual-time", 0, FLAG, SHOWN | IN(INSPECT), AT(virtual_time), 0, 0, NULL,
     "simulated and replay only: as fast as the machine can, identical results"},
    {"theme", 0, THEME, SHOWN, AT(theme), 0, 0, "auto|light|dark|mono", "colours of the dashboard"},
    {"ascii", 0, FLAG, SHOWN, AT(ascii), 0, 0, NULL, "no characters beyond ASCII"},
    {"sound", 0, TEXT, SHOWN, AT(sound), 0, PATH_MAX_BYTES, "on|bell|off|file:PATH",
     "sounds, or the terminal's bell alone; on with the dashboard; a file is a WAV"},
    {"volume", 0, COUNT, SHOWN, AT(volume_pct), 0, 100, "PERCENT",
     "of the sounds; 70 if not given"},
    {"voice", 0, FLAG, SHOWN, AT(voice), 0, 0, NULL, "speak the headline too"},
    {"quiet", 'q', FLAG, SHOWN | IN(INSPECT) | IN(SIMULATE) | IN(IMPORT) | IN(REPORT), AT(quiet), 0,
     0, NULL, "no bells, no chatter, no progress"},
    {"help", 'h', FLAG, ~0u, AT(help), 0, 0, NULL, "this text"},
#undef AT
};
enum { ROWS = sizeof rows / sizeof rows[0] };

static const struct command_row {
    const char *name, *arguments, *does;
    size_t files_min, files_max;
} commands[OXL_CMD_COUNT] = {
    [OXL_CMD_RUN] = {"run", "", "the guided test on a vehicle", 0, 0},
    [OXL_CMD_DEMO] = {"demo", "", "the guided test on the built-in simulated vehicle", 0, 0},
    [OXL_CMD_INSPECT] = {"inspect", "",
                         "trouble codes, readiness, monitor results, identity: the pre-check alone",
                         0, 0},
    [OXL_CMD_REPLAY] = {"replay", "FILE", "plays a recording through the same core and screen", 1,
                        1},
    [OXL_CMD_REPORT] =
        {"report", "FILE...",
         "the repair-order page; of two recordings, a comparison; of an inspection, its page", 1,
         OXL_MAX_FILES},
    [OXL_CMD_PORTS] = {"ports", "", "lists serial ports in plain words", 0, 0},
    [OXL_CMD_PROFILES] = {"profiles", "[NAME]", "lists profiles, or prints one", 0, 1},
    [OXL_CMD_SCENARIOS] = {"scenarios", "", "lists what can be simulated", 0, 0},
    [OXL_CMD_SIMULATE] = {"simulate", "", "serves the simulated adapter and vehicle", 0, 0},
    [OXL_CMD_IMPORT] = {"import", "FILE.csv", "makes a recording from a table of samples", 1, 1},
};

static void list_commands(char *out, size_t n)
{
    size_t len = 0;
    out[0] = '\0';
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++)
        if (len + strlen(commands[c].name) + 3 < n) {
            memcpy(out + len, c ? ", " : "", c ? 3 : 1);
            len += c ? 2 : 0;
            memcpy(out + len, commands[c].name, strlen(commands[c].name) + 1);
            len += strlen(commands[c].name);
        }
}

static enum oxl_status find_command(const char *word, struct oxl_opts *o, struct oxl_error *err)
{
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++)
        if (strcmp(word, commands[c].name) == 0) {
            o->command = (enum oxl_command)c;
            return OXL_OK;
        }
    char all[200], meant[48];
    struct oxl_nearest near = {.typed = word};
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++)
        oxl_nearest_try(&near, commands[c].name);
    oxl_nearest_try(&near, "help");
    list_commands(all, sizeof all);
    return oxl_fail(err, OXL_ERR_USAGE, "unknown command \"%s\"%s%s expected one of %s, help", word,
                    oxl_nearest_text(&near, meant, sizeof meant), near.meant ? " Else" : ":", all);
}

static enum oxl_status set_number(const struct option_row *row, const char *value, double *out,
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

static enum oxl_status set_text(const struct option_row *row, const char *value, const char **out,
                                struct oxl_error *err)
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
    *out = value;
    return OXL_OK;
}

static enum oxl_status set_word(const struct option_row *row, const char *value,
                                const char *const *words, unsigned *out, struct oxl_error *err)
{
    for (unsigned i = 0; words[i]; i++)
        if (strcmp(value, words[i]) == 0) {
            *out = i;
            return OXL_OK;
        }
    return oxl_fail(err, OXL_ERR_USAGE, "--%s: found \"%s\", expected %s", row->name, value,
                    row->value);
}

static enum oxl_status set(const struct option_row *row, const char *value, struct oxl_opts *o,
                           struct oxl_error *err)
{
    static const char *const formats[] = {"text", "json", "csv", "html", "pdf", NULL};
    static const char *const papers[] = {"a4", "letter", NULL};
    static const char *const themes[] = {"auto", "light", "dark", "mono", NULL};
    void *at = (char *)o + row->offset;
    double number = 0;
    unsigned word = 0;
    enum oxl_status st = OXL_OK;
    switch (row->kind) {
    case FLAG:
        *(bool *)at = true;
        break;
    case TEXT:
        st = set_text(row, value, at, err);
        break;
    case COUNT:
        st = set_number(row, value, &number, err);
        if (st == OXL_OK && row->offset == offsetof(struct oxl_opts, seed))
            *(uint64_t *)at = (uint64_t)number;
        else if (st == OXL_OK)
            *(unsigned *)at = (unsigned)number;
        break;
    case NUMBER:
        st = set_number(row, value, &number, err);
        if (st == OXL_OK)
            *(double *)at = number;
        break;
    case FORMAT:
        st = set_word(row, value, formats, &word, err);
        o->format = (enum oxl_report_format)word;
        break;
    case PAPER:
        st = set_word(row, value, papers, &word, err);
        o->paper = (enum oxl_paper)word;
        break;
    case THEME:
        st = set_word(row, value, themes, &word, err);
        o->theme = (enum oxl_theme)word;
        break;
    }
    return st;
}

/* Options that the command takes, in the form that getopt_long wants. */
static size_t build(enum oxl_command c, struct option *longs, char *shorts)
{
    size_t n = 0, s = 0;
    shorts[s++] = ':';
    for (unsigned i = 0; i < ROWS; i++) {
        if (!(rows[i].commands & 1u << c))
            continue;
        int needs = rows[i].kind == FLAG ? no_argument : required_argument;
        longs[n++] = (struct option){rows[i].name, needs, NULL, 256 + (int)i};
        if (rows[i].letter) {
            shorts[s++] = rows[i].letter;
            if (needs)
                shorts[s++] = ':';
        }
    }
    longs[n] = (struct option){0};
    shorts[s] = '\0';
    return n;
}

static const struct option_row *row_of(int found, enum oxl_command c)
{
    if (found >= 256)
        return &rows[found - 256];
    for (unsigned i = 0; i < ROWS; i++)
        if (rows[i].letter == found && rows[i].commands & 1u << c)
            return &rows[i];
    return NULL;
}

static enum oxl_status refuse_option(const char *typed, enum oxl_command c, struct oxl_error *err)
{
    char word[40], dashed[48] = "", meant[80];
    snprintf(word, sizeof word, "%.*s", (int)strcspn(typed, "="), typed);
    struct oxl_nearest near = {.typed = word + strspn(word, "-")};
    for (unsigned i = 0; i < ROWS && strncmp(word, "--", 2) == 0; i++)
        if (rows[i].commands & 1u << c)
            oxl_nearest_try(&near, rows[i].name);
    for (unsigned i = 0; i < ROWS; i++)
        if (strcmp(near.typed, rows[i].name) == 0)
            near.meant = NULL; /* meant as typed, but of another command */
    if (near.meant)
        snprintf(dashed, sizeof dashed, "--%s", near.meant);
    near.meant = near.meant ? dashed : NULL;
    return oxl_fail(err, OXL_ERR_USAGE, "unknown option \"%s\"%s%s oxylag %s --help", typed,
                    oxl_nearest_text(&near, meant, sizeof meant), near.meant ? " Try" : ": try",
                    commands[c].name);
}

static enum oxl_status parse_options(int argc, char **argv, struct oxl_opts *o,
                                     struct oxl_error *err)
{
    const char *name = commands[o->command].name;
    struct option longs[ROWS + 1];
    char shorts[2 * ROWS + 2];
    bool seen[ROWS] = {false};
    build(o->command, longs, shorts);
    optind = 1;
    opterr = 0;
    for (int found; (found = getopt_long(argc, argv, shorts, longs, NULL)) != -1;) {
        if (found == '?')
            return refuse_option(argv[optind - 1], o->command, err);
        if (found == ':')
            return oxl_fail(err, OXL_ERR_USAGE, "\"%s\" needs a value: try oxylag %s --help",
                            argv[optind - 1], name);
        const struct option_row *row = row_of(found, o->command);
        if (row->kind != FLAG && seen[row - rows])
            return oxl_fail(err, OXL_ERR_USAGE, "--%s is given twice: give it once", row->name);
        seen[row - rows] = true;
        enum oxl_status st = set(row, optarg, o, err);
        if (st != OXL_OK)
            return st;
    }
    for (; optind < argc; optind++) {
        if (o->files_n >= commands[o->command].files_max)
            return oxl_fail(err, OXL_ERR_USAGE, "\"%s\" is not expected: try oxylag %s --help",
                            argv[optind], name);
        o->files[o->files_n++] = argv[optind];
    }
    if (!o->help && o->files_n < commands[o->command].files_min)
        return oxl_fail(err, OXL_ERR_USAGE, "%s needs a %s: oxylag %s %s", name,
                        o->command == OXL_CMD_IMPORT ? "table" : "recording", name,
                        commands[o->command].arguments);
    return OXL_OK;
}

/* Options that only make sense together. */
static enum oxl_status check_together(const struct oxl_opts *o, struct oxl_error *err)
{
    bool sim_port = o->port && strncmp(o->port, "sim:", 4) == 0;
    if ((o->command == OXL_CMD_RUN || o->command == OXL_CMD_INSPECT) && o->virtual_time &&
        !sim_port)
        return oxl_fail(err, OXL_ERR_USAGE, "--virtual-time works only with --port sim:SCENARIO");
    if (o->command == OXL_CMD_RUN && o->truth && !sim_port)
        return oxl_fail(err, OXL_ERR_USAGE, "--truth works only with --port sim:SCENARIO");
    if (o->command == OXL_CMD_RUN && o->packet_ms && !sim_port)
        return oxl_fail(err, OXL_ERR_USAGE, "--packets works only with --port sim:SCENARIO");
    if (o->samples && !o->json)
        return oxl_fail(err, OXL_ERR_USAGE, "--samples goes with --json");
    if (o->by_hand && (o->json || o->plain || o->virtual_time))
        return oxl_fail(err, OXL_ERR_USAGE, "--by-hand needs the dashboard");
    if (o->files_n > 2 && (o->format == OXL_FORMAT_HTML || o->format == OXL_FORMAT_PDF))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "html and pdf are one page of one recording, or of two to compare: found "
                        "%zu files",
                        o->files_n);
    if (o->command == OXL_CMD_IMPORT && !o->columns)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "import needs --columns time=NAME,front=NAME,rear=NAME,stft=NAME: try "
                        "oxylag import --help");
    if (o->answers && !o->quiz)
        return oxl_fail(err, OXL_ERR_USAGE, "--answers goes with --quiz");
    if (o->quiz && o->samples)
        return oxl_fail(err, OXL_ERR_USAGE, "--quiz keeps the samples to itself: no --samples");
    if (o->command == OXL_CMD_SIMULATE && !o->listen)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "simulate needs --listen tcp:HOST:PORT or --listen pty");
    return oxl_hearing_check(o, err);
}

enum oxl_status oxl_opts_parse(int argc, char **argv, struct oxl_opts *o, struct oxl_error *err)
{
    memset(o, 0, sizeof *o);
    o->rate = 1;
    o->seed = 1;
    o->volume_pct = 70;
    if (argc < 2)
        return oxl_fail(err, OXL_ERR_USAGE, "say what to do: try oxylag --help");
    enum oxl_status st = find_command(argv[1], o, err);
    if (st == OXL_OK)
        st = parse_options(argc - 1, argv + 1, o, err);
    if (st == OXL_OK && !o->help)
        st = check_together(o, err);
    return st;
}

void oxl_help_program(struct oxl_buf *out)
{
    oxl_buf_add(out, "oxylag: the guided propane oxygen-storage test of a catalytic converter\n\n"
                     "  oxylag COMMAND [options]      oxylag COMMAND --help\n\n");
    for (unsigned c = 0; c < OXL_CMD_COUNT; c++)
        oxl_buf_add(out, "  %-10s %-8s %s\n", commands[c].name, commands[c].arguments,
                    commands[c].does);
    oxl_buf_add(out, "  %-10s %-8s %s\n", "help", "[COMMAND]",
                "this text, or what a command takes");
    oxl_buf_add(out,
                "\nFirst try: oxylag demo          On a vehicle: oxylag run --port /dev/ttyUSB0\n\n"
                "Exit codes: 0 finished (whatever the verdict), 2 usage, 3 bad input file or\n"
                "profile, 4 port cannot be opened, 5 adapter or vehicle does not answer, 6 test\n"
                "stopped before a result, 7 vehicle unsuitable, 70 internal error.\n");
}

void oxl_help_command(enum oxl_command c, struct oxl_buf *out)
{
    oxl_buf_add(out, "oxylag %s %s%s[options]: %s\n\n", commands[c].name, commands[c].arguments,
                commands[c].arguments[0] ? " " : "", commands[c].does);
    for (unsigned i = 0; i < ROWS; i++) {
        if (!(rows[i].commands & 1u << c))
            continue;
        char left[48], letter[5] = "    ";
        if (rows[i].letter) {
            letter[0] = '-';
            letter[1] = rows[i].letter;
            letter[2] = ',';
        }
        snprintf(left, sizeof left, "%s--%s%s%s", letter, rows[i].name, rows[i].value ? " " : "",
                 rows[i].value ? rows[i].value : "");
        oxl_buf_add(out, "  %-36s %s\n", left, rows[i].help);
    }
}

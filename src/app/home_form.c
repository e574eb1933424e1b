/* The form before a test: which fields a command has, and the command line made of them. */
#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "home.h"

static const char optional[] = "Printed on the page; may stay empty.";
static const char *const banks[] = {"1", "2"};
static const char *const paces[] = {"as on a vehicle", "twice as fast", "4 times as fast"};
static const char *const rates[] = {"1", "2", "4"};
static const char *const valves[] = {"works by itself: watch", "by hand: you, with the arrow keys"};

bool oxl_home_refused(const struct oxl_error *err, char *why, size_t n)
{
    const char *after = strstr(err->text, ": ");
    snprintf(why, n, "%s", after ? after + 2 : err->text);
    return false;
}

bool oxl_home_option_fits(enum oxl_command command, const char *option, const char *text, char *why,
                          size_t n)
{
    struct oxl_error err = {OXL_OK, ""};
    return !text[0] || oxl_opts_check(command, option, text, &err) == OXL_OK ||
           oxl_home_refused(&err, why, n);
}

enum { RUN = 1, INSPECT = 2, DEMO = 4, ALL = 7 };
static const struct {
    unsigned in;
    enum oxl_field_kind kind;
    const char *label, *hint, *option;
} table[OXL_HOME_FIELDS] = {
    [OXL_FIELD_PORT] = {ALL, OXL_FIELD_CHOICE, "Adapter",
                        "Left and right choose; what is plugged in appears by itself.", NULL},
    [OXL_FIELD_ADDRESS] = {RUN | INSPECT, OXL_FIELD_TEXT, "or its address",
                           "Only for an adapter on the network, tcp:192.168.0.10:35000, or the "
                           "path of a port.",
                           NULL},
    [OXL_FIELD_CHECK] = {RUN | INSPECT, OXL_FIELD_BUTTON, "Test the link",
                         "Ignition on. Looks for adapter, vehicle and sensors; says what is wrong.",
                         NULL},
    [OXL_FIELD_ORDER] = {ALL, OXL_FIELD_TEXT, "Repair order",
                         "Printed on the page, and part of the file's name; may stay empty.",
                         "order"},
    [OXL_FIELD_PLATE] = {ALL, OXL_FIELD_TEXT, "Plate", optional, "plate"},
    [OXL_FIELD_ODOMETER] = {ALL, OXL_FIELD_TEXT, "Odometer",
                            "With its unit, such as 123456 km; may stay empty.", "odometer"},
    [OXL_FIELD_VEHICLE] = {ALL, OXL_FIELD_TEXT, "Vehicle",
                           "The customer's vehicle: make, model, year; may stay empty.", "vehicle"},
    [OXL_FIELD_TECHNICIAN] = {ALL, OXL_FIELD_TEXT, "Technician",
                              "Printed on the page; remembered for the next test.", "technician"},
    [OXL_FIELD_INLET] = {RUN, OXL_FIELD_TEXT, "Gas fed at",
                         "Where the hose goes in, such as behind the air meter: it matters when "
                         "tests are compared.",
                         "inlet"},
    [OXL_FIELD_PACE] = {DEMO, OXL_FIELD_CHOICE, "Pace",
                        "How quickly the time goes by; left and right choose.", NULL},
    [OXL_FIELD_BANK] =
        {RUN | INSPECT, OXL_FIELD_CHOICE, "Bank",
         "2 only where the engine has two banks with a converter each; Test the link "
         "says so.",
         "bank"},
    [OXL_FIELD_BEGIN] = {ALL, OXL_FIELD_BUTTON, "Begin",
                         "What is typed can still be changed: arrow up.", NULL},
};

static unsigned bit_of(enum oxl_command c)
{
    return c == OXL_CMD_RUN ? RUN : c == OXL_CMD_INSPECT ? INSPECT : DEMO;
}

/* The address stands for a port. */
static bool check(int which, const char *text, char *why, size_t n)
{
    const char *option = which == OXL_FIELD_ADDRESS ? "port" : table[which].option;
    return oxl_home_option_fits(OXL_CMD_RUN, option, text, why, n);
}

struct oxl_field *oxl_home_field(struct oxl_home_form *f, enum oxl_home_field which)
{
    for (size_t i = 0; i < f->form.n; i++)
        if (f->fields[i].id == (int)which)
            return &f->fields[i];
    return NULL;
}

static void add_field(struct oxl_home_form *f, enum oxl_home_field which,
                      const struct oxl_field *was)
{
    struct oxl_field *k = &f->fields[f->form.n];
    *k = (struct oxl_field){.kind = table[which].kind,
                            .label = table[which].label,
                            .hint = table[which].hint,
                            .id = (int)which,
                            .check = check};
    if (was) {
        memcpy(k->text, was->text, sizeof k->text);
        k->word = was->word;
    }
    f->form.n++;
}

static void set_words(struct oxl_field *k, const char *const *words, size_t n)
{
    if (!k)
        return;
    k->words = words;
    k->words_n = n;
    k->word = k->word < n ? k->word : 0;
}

void oxl_home_form(struct oxl_home_form *f, enum oxl_command command, bool same_vehicle,
                   const struct oxl_settings *s)
{
    static struct oxl_home_form was;
    was = *f;
    was.form.fields = was.fields;
    f->command = command;
    f->form = (struct oxl_form){.fields = f->fields};
    for (int i = 0; i < OXL_HOME_FIELDS; i++)
        if (table[i].in & bit_of(command) && !(i == OXL_FIELD_BANK && same_vehicle && was.form.n &&
                                               !oxl_home_field(&was, (enum oxl_home_field)i)))
            add_field(f, (enum oxl_home_field)i,
                      same_vehicle || i == OXL_FIELD_ADDRESS
                          ? oxl_home_field(&was, (enum oxl_home_field)i)
                          : NULL);
    struct oxl_field *technician = oxl_home_field(f, OXL_FIELD_TECHNICIAN);
    if (!technician->text[0])
        snprintf(technician->text, sizeof technician->text, "%s", s->value[OXL_SET_TECHNICIAN]);
    set_words(oxl_home_field(f, OXL_FIELD_BANK), banks, 2);
    set_words(oxl_home_field(f, OXL_FIELD_PACE), paces, 3);
    if (command == OXL_CMD_DEMO || f->ports_n == 0)
        oxl_home_form_ports(f, NULL, NULL, 0);
    else
        set_words(oxl_home_field(f, OXL_FIELD_PORT), f->choices, f->first + f->ports_n);
}

/* Bank and Begin are the last two. */
void oxl_home_form_banks(struct oxl_home_form *f, bool two)
{
    const struct oxl_field *bank = oxl_home_field(f, OXL_FIELD_BANK);
    const size_t word = bank ? bank->word : 0;
    f->form.n -= bank ? 2 : 1;
    if (two) {
        add_field(f, OXL_FIELD_BANK, NULL);
        set_words(&f->fields[f->form.n - 1], banks, 2);
        f->fields[f->form.n - 1].word = word;
    }
    add_field(f, OXL_FIELD_BEGIN, NULL);
}

/* "USB serial adapter, plugged in 5 s ago: /dev/ttyUSB0" */
static void port_words(const struct oxl_port_info *p, double age_s, char *out, size_t n)
{
    char age[48] = "";
    if (!p->built_in && age_s < 100)
        snprintf(age, sizeof age, ", plugged in %.0f s ago", age_s);
    else if (!p->built_in && age_s < 6000)
        snprintf(age, sizeof age, ", plugged in %.0f min ago", age_s / 60);
    snprintf(out, n, "%.*s%s: %s%s", (int)strcspn(p->words, ","), p->words, age, p->path,
             p->usable ? "" : " (you may not open it)");
}

static void add_ports(struct oxl_home_form *f, const struct oxl_port_info *ports,
                      const double *age_s, size_t n, bool built_in)
{
    for (size_t i = 0; i < n && f->ports_n < OXL_HOME_PORTS; i++) {
        if (ports[i].built_in != built_in)
            continue;
        f->ports[f->ports_n] = ports[i];
        port_words(&ports[i], age_s[i], f->words[f->ports_n], sizeof f->words[0]);
        f->ports_n++;
    }
}

void oxl_home_form_ports(struct oxl_home_form *f, const struct oxl_port_info *ports,
                         const double *age_s, size_t n)
{
    struct oxl_field *k = oxl_home_field(f, OXL_FIELD_PORT);
    if (!k)
        return;
    if (f->command == OXL_CMD_DEMO) {
        k->label = "Gas valve";
        k->hint = "Left and right choose who works the valve.";
        set_words(k, valves, 2);
        return;
    }
    char chosen[sizeof f->ports[0].path] = "";
    if (k->word >= f->first && k->word - f->first < f->ports_n)
        memcpy(chosen, f->ports[k->word - f->first].path, sizeof chosen);
    f->ports_n = 0;
    add_ports(f, ports, age_s, n, false);
    f->first = f->ports_n == 0;
    add_ports(f, ports, age_s, n, true);
    f->choices[0] = "none is plugged in or paired";
    k->word = 0;
    for (size_t i = 0; i < f->ports_n; i++) {
        f->choices[f->first + i] = f->words[i];
        if (strcmp(chosen, f->ports[i].path) == 0)
            k->word = f->first + i;
    }
    set_words(k, f->choices, f->first + f->ports_n);
}

const char *oxl_home_port(const struct oxl_home_form *f)
{
    const char *port = "";
    for (size_t i = 0; i < f->form.n; i++) {
        size_t at = f->fields[i].word - f->first; /* wraps where it is none */
        if (f->fields[i].id == OXL_FIELD_PORT && at < f->ports_n)
            port = f->ports[at].path;
        if (f->fields[i].id == OXL_FIELD_ADDRESS && f->fields[i].text[0])
            port = f->fields[i].text;
    }
    return port;
}

void oxl_home_args(const struct oxl_home_form *f, const char *out, struct oxl_args *a)
{
    static const char *const names[] = {
        [OXL_CMD_RUN] = "run", [OXL_CMD_DEMO] = "demo", [OXL_CMD_INSPECT] = "inspect"};
    bool demo = f->command == OXL_CMD_DEMO;
    oxl_args_start(a, names[f->command]);
    oxl_args_option(a, demo ? "scenario" : "port", demo ? f->scenario : oxl_home_port(f));
    for (size_t i = 0; i < f->form.n; i++) {
        const struct oxl_field *k = &f->fields[i];
        if (demo && k->id == OXL_FIELD_PORT && k->word == 1)
            oxl_args_add(a, "--by-hand");
        else if (k->id == OXL_FIELD_BANK && k->word == 1)
            oxl_args_option(a, "bank", banks[1]);
        else if (k->id == OXL_FIELD_PACE && k->word > 0)
            oxl_args_option(a, "rate", rates[k->word]);
        else if (table[k->id].option && k->kind == OXL_FIELD_TEXT)
            oxl_args_option(a, table[k->id].option, k->text);
    }
    oxl_args_option(a, "out", out);
}

bool oxl_home_file_name(const char *folder, const char *stamp, const char *order, char *out,
                        size_t n)
{
    char name[64] = "", number[16] = "";
    size_t len = 0;
    struct stat st;
    for (; *order && len + 1 < sizeof name; order++) /* a name that any system takes */
        name[len++] = isalnum((unsigned char)*order) ? *order : '_';
    name[len] = '\0';
    for (int i = 2; i < 100; i++) {
        int used =
            snprintf(out, n, "%s/%s%s%s%s.jsonl", folder, stamp, name[0] ? "-" : "", name, number);
        if (used < 0 || (size_t)used >= n)
            return false;
        if (lstat(out, &st) != 0)
            return true;
        snprintf(number, sizeof number, "-%d", i);
    }
    return false;
}

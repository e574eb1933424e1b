#include "settings.h"

#include <ini.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "opts.h"

enum { FILE_MAX_BYTES = 65536 };

static const struct {
    const char *name, *option; /* option NULL: the home screen's own */
    bool yes_no;               /* of a switch */
} known[OXL_SETTINGS] = {
    [OXL_SET_TECHNICIAN] = {"technician", "technician", false},
    [OXL_SET_FOLDER] = {"folder", NULL, false},
    [OXL_SET_THEME] = {"theme", "theme", false},
    [OXL_SET_ASCII] = {"ascii", "ascii", true},
    [OXL_SET_SOUND] = {"sound", "sound", false},
    [OXL_SET_VOICE] = {"voice", "voice", true},
    [OXL_SET_VOLUME] = {"volume", "volume", false},
    [OXL_SET_MASK_VIN] = {"mask-vin", "mask-vin", true},
};

enum oxl_status oxl_settings_check(enum oxl_setting which, const char *value, struct oxl_error *err)
{
    bool yes = strcmp(value, "yes") == 0;
    if (known[which].yes_no && !yes && strcmp(value, "no") != 0)
        return oxl_fail(err, OXL_ERR_USAGE, "--%s: found \"%s\", expected yes or no",
                        known[which].name, value);
#ifndef OXL_WITH_ESPEAK /* the option would be refused, and stop a test */
    if (which == OXL_SET_VOICE && yes)
        return oxl_fail(err, OXL_ERR_USAGE, "--voice: this program was built without a voice");
#endif
    if (which == OXL_SET_SOUND && strcmp(value, "on") != 0 && strcmp(value, "bell") != 0 &&
        strcmp(value, "off") != 0)
        return oxl_fail(err, OXL_ERR_USAGE, "--sound: found \"%s\", expected on, bell or off",
                        value);
    if (which == OXL_SET_FOLDER && value[0] != '/')
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--folder: found \"%s\", expected a path that begins with /", value);
    return known[which].option ? oxl_opts_check(OXL_CMD_RUN, known[which].option,
                                                known[which].yes_no ? NULL : value, err)
                               : OXL_OK;
}

void oxl_settings_apply(const struct oxl_settings *s, struct oxl_opts *o)
{
    for (int i = 0; i < OXL_SETTINGS; i++) {
        const char *value = s->value[i];
        if (known[i].option && value[0] && !(known[i].yes_no && strcmp(value, "yes") != 0))
            oxl_opts_apply(o, known[i].option, value);
    }
}

/* ---- the file -------------------------------------------------------------------------------- */
struct reader {
    const char *at; /* in the text; behind the line that is read */
    int line;
    struct oxl_settings *s;
    struct oxl_error *err;
    enum oxl_status status; /* the first failure */
};

static void wrong(struct reader *r, const char *why)
{
    if (r->status == OXL_OK)
        r->status = oxl_fail(r->err, OXL_ERR_FORMAT,
                             "%s line %d: %s. Correct it or delete the file; the other settings "
                             "count",
                             r->s->path, r->line, why);
}

/* As fgets(3) does. */
static char *next_line(char *out, int n, void *user)
{
    struct reader *r = user;
    size_t len = strcspn(r->at, "\n"), room = (size_t)n - 1;
    if (!*r->at)
        return NULL;
    len += r->at[len] == '\n';
    len = len < room ? len : room;
    memcpy(out, r->at, len);
    out[len] = '\0';
    r->at += len;
    r->line += out[len - 1] == '\n' || !*r->at;
    return out;
}

static int on_setting(void *user, const char *section, const char *name, const char *value)
{
    struct reader *r = user;
    struct oxl_error why = {OXL_OK, ""};
    char text[160];
    (void)section;
    for (int i = 0; i < OXL_SETTINGS; i++) {
        if (strcmp(name, known[i].name) != 0)
            continue;
        if (value[0] && strlen(value) < OXL_SETTING_BYTES &&
            oxl_settings_check((enum oxl_setting)i, value, &why) == OXL_OK)
            memcpy(r->s->value[i], value, strlen(value) + 1);
        else
            wrong(r, why.text[0] ? why.text + strlen("--") : "a value is missing or too long");
        return 1;
    }
    snprintf(text, sizeof text, "there is no setting \"%.60s\"", name);
    wrong(r, text);
    return 1;
}

enum oxl_status oxl_settings_load(struct oxl_settings *s, struct oxl_error *err)
{
    char folder[OXL_FOLDER_MAX], *text = NULL;
    memset(s, 0, sizeof *s);
    if (!oxl_folder(OXL_FOLDER_CONFIG, folder))
        return OXL_OK;
    snprintf(s->path, sizeof s->path, "%s/settings.ini", folder);
    if (access(s->path, F_OK) != 0)
        return OXL_OK;
    enum oxl_status st = oxl_read_text(s->path, FILE_MAX_BYTES, &text, err);
    if (st != OXL_OK)
        return st;
    struct reader r = {.at = text, .s = s, .err = err};
    int line = ini_parse_stream(next_line, &r, on_setting, &r);
    if (line > 0) {
        r.line = line;
        wrong(&r, "expected \"name = value\"");
    }
    free(text);
    return r.status;
}

static void write_all(const struct oxl_settings *s, FILE *f)
{
    fputs("; Settings of oxylag, written by its home screen. Names and values: docs/commands.md\n",
          f);
    for (int i = 0; i < OXL_SETTINGS; i++)
        if (s->value[i][0])
            fprintf(f, "%s = %s\n", known[i].name, s->value[i]);
}

/* Beside it first: a full disk leaves the old file as it was. */
enum oxl_status oxl_settings_save(const struct oxl_settings *s, struct oxl_error *err)
{
    char folder[OXL_FOLDER_MAX], fresh[OXL_SETTINGS_PATH + 8];
    FILE *f;
    if (!oxl_folder(OXL_FOLDER_CONFIG, folder))
        return oxl_fail(err, OXL_ERR_IO, "there is no home folder: the settings are not kept");
    if (!oxl_folder_make(folder))
        return oxl_fail(err, OXL_ERR_IO, "%s cannot be made: the settings are not kept", folder);
    snprintf(fresh, sizeof fresh, "%s.new", s->path);
    (void)unlink(fresh);
    enum oxl_status st = oxl_create_file(fresh, &f, err);
    if (st != OXL_OK)
        return st;
    write_all(s, f);
    bool bad = fflush(f) != 0 || ferror(f);
    if (fclose(f) == 0 && !bad && rename(fresh, s->path) == 0)
        return OXL_OK;
    (void)unlink(fresh);
    return oxl_fail(err, OXL_ERR_IO, "%s could not be written: is the disk full?", s->path);
}

enum oxl_status oxl_settings_folder(const struct oxl_settings *s, char *out, size_t n,
                                    struct oxl_error *err)
{
    char standard[OXL_FOLDER_MAX];
    const char *folder = s->value[OXL_SET_FOLDER];
    if (!folder[0] && !oxl_folder(OXL_FOLDER_DATA, standard))
        return oxl_fail(err, OXL_ERR_IO,
                        "there is no home folder for the recordings: name one in the settings");
    folder = folder[0] ? folder : standard;
    if (!oxl_folder_make(folder) || access(folder, W_OK | X_OK) != 0)
        return oxl_fail(err, OXL_ERR_IO,
                        "%s cannot be written to: name another folder in the settings", folder);
    int len = snprintf(out, n, "%s", folder);
    return len > 0 && (size_t)len < n
               ? OXL_OK
               : oxl_fail(err, OXL_ERR_IO, "the path of the folder is too long: %s", folder);
}

/* What is remembered from one start to the next: oxylag/settings.ini in $XDG_CONFIG_HOME, else in
 * ~/.config (XDG base directory specification, from memory). Each setting acts as if its option
 * were given on the command line; an option that is given wins. */
#ifndef OXL_APP_SETTINGS_H
#define OXL_APP_SETTINGS_H

#include <stdbool.h>
#include <stddef.h>

#include "oxylag/status.h"

struct oxl_opts;

enum oxl_setting {
    OXL_SET_TECHNICIAN,
    OXL_SET_FOLDER, /* where recordings made from the home screen go */
    OXL_SET_THEME,
    OXL_SET_ASCII,
    OXL_SET_SOUND,
    OXL_SET_VOICE,
    OXL_SET_VOLUME,
    OXL_SET_MASK_VIN,
    OXL_SETTINGS
};

enum { OXL_SETTING_BYTES = 512, OXL_SETTINGS_PATH = 3100 };
struct oxl_settings {
    char value[OXL_SETTINGS][OXL_SETTING_BYTES]; /* "": not set */
    char path[OXL_SETTINGS_PATH];                /* "": there is no folder for it */
};

/* A file that is not there is no error. After an error what could be read counts: *err names the
 * line and what to do. */
enum oxl_status oxl_settings_load(struct oxl_settings *s, struct oxl_error *err) OXL_MUST_CHECK;
enum oxl_status oxl_settings_save(const struct oxl_settings *s,
                                  struct oxl_error *err) OXL_MUST_CHECK;
/* To the options that o->command takes. */
void oxl_settings_apply(const struct oxl_settings *s, struct oxl_opts *o);
/* Would this value do? Not where no command has such an option. */
enum oxl_status oxl_settings_check(enum oxl_setting which, const char *value,
                                   struct oxl_error *err) OXL_MUST_CHECK;
/* The folder of recordings, made if need be: the one that is set, else the default. */
enum oxl_status oxl_settings_folder(const struct oxl_settings *s, char *out, size_t n,
                                    struct oxl_error *err) OXL_MUST_CHECK;

/* ---- folders.c: folders of the user by the XDG base directory specification (from memory):
 * $XDG_DATA_HOME, else ~/.local/share; $XDG_CONFIG_HOME, else ~/.config; $XDG_CACHE_HOME, else
 * ~/.cache. */
enum { OXL_FOLDER_MAX = 3000 };
enum oxl_folder {
    OXL_FOLDER_DATA,   /* where recordings are kept, and what a class wrote */
    OXL_FOLDER_CONFIG, /* settings */
    OXL_FOLDER_CACHE   /* what may be deleted at any time */
};
/* False: neither its variable nor HOME is set. */
bool oxl_folder(enum oxl_folder which, char out[OXL_FOLDER_MAX]);
/* Makes it and the folders above it, for their owner alone. */
bool oxl_folder_make(const char *folder);

#endif

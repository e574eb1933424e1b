#include "event_sinks.h"

#include <string.h>

#include "commands.h"

static const char file_word[] = "file:";

static const char *file_of(const struct oxl_opts *o)
{
    const size_t n = sizeof file_word - 1;
    return o->sound && strncmp(o->sound, file_word, n) == 0 && o->sound[n] ? o->sound + n : NULL;
}

static bool says(const struct oxl_opts *o, const char *word)
{
    return o->sound && strcmp(o->sound, word) == 0;
}

/* Faster or slower than the test the sounds would not be those of it, and in a quiz they would give
 * the answer away. */
static bool in_real_time(const struct oxl_opts *o)
{
    return !o->virtual_time && o->rate == 1 && !o->quiz;
}

enum oxl_status oxl_hearing_check(const struct oxl_opts *o, struct oxl_error *err)
{
    if (o->sound && !file_of(o) && !says(o, "on") && !says(o, "bell") && !says(o, "off"))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--sound: found \"%s\", expected on, bell, off or file:PATH", o->sound);
    if (file_of(o) && !in_real_time(o))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--sound file: goes with real time: no --virtual-time, no --rate, no "
                        "--quiz");
    return OXL_OK;
}

static enum oxl_status open_sink(const struct oxl_opts *o, struct oxl_sound_sink *sink, bool *has,
                                 struct oxl_error *err)
{
    FILE *f = NULL;
    if (!file_of(o)) {
        *has = oxl_sound_device("/proc/self/exe", sink);
        return OXL_OK;
    }
    enum oxl_status st = oxl_create_file(file_of(o), &f, err);
    if (st != OXL_OK)
        return st;
    *has = oxl_sound_wav(f, sink);
    return *has ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", file_of(o));
}

enum oxl_status oxl_hearing_open(const struct oxl_opts *o, bool dashboard, struct oxl_sound **out,
                                 struct oxl_error *err)
{
    struct oxl_sound_sink sink;
    struct oxl_sound_voice voice;
    bool has = false, asked = says(o, "on") || file_of(o);
    if (!in_real_time(o) || !(asked || (!o->sound && dashboard && !o->quiet)))
        return OXL_OK;
    enum oxl_status st = open_sink(o, &sink, &has, err);
    if (st != OXL_OK || !has)
        return st;
    bool speaks = o->voice && oxl_sound_speech(&voice);
    *out = oxl_sound_open(&sink, speaks ? &voice : NULL, o->volume_pct);
    if (*out && o->voice && !speaks)
        return oxl_fail(err, OXL_ERR_USAGE, "--voice: this program was built without a voice");
    return *out ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory for the sound");
}

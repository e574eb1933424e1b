/* Profiles and other small files that the user names; what is printed. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "link/input_file.h"
#include "opts_table.h"
#include "oxylag/safe.h"

const char *oxl_base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

enum oxl_status oxl_read_bytes(const char *path, size_t max, char **out, size_t *n,
                               struct oxl_error *err)
{
    size_t size = 0;
    const char *why = "";
    int fd = oxl_input_open(path, &size, &why);
    *out = NULL;
    if (fd < 0)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s: %s", path[0] ? path : "\"\"", why);
    char *text = size <= max ? malloc(size + 1) : NULL;
    const ssize_t got = text ? oxl_input_read(fd, 0, text, size) : -1;
    close(fd);
    if (size > max)
        return oxl_fail(err, OXL_ERR_FORMAT, "%s: expected a text file of at most %zu bytes", path,
                        max);
    if (!text)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", path);
    if (got < 0 || (size_t)got != size) { /* half a profile would be taken for a whole one */
        free(text);
        return oxl_fail(err, OXL_ERR_FORMAT, "%s: could not be read whole", path);
    }
    text[size] = '\0';
    *out = text;
    *n = size;
    return OXL_OK;
}

enum oxl_status oxl_read_text(const char *path, size_t max, char **out, struct oxl_error *err)
{
    size_t n = 0;
    enum oxl_status st = oxl_read_bytes(path, max, out, &n, err);
    if (!*out || !memchr(*out, 0, n))
        return st;
    free(*out);
    *out = NULL;
    return oxl_fail(err, OXL_ERR_FORMAT,
                    "%s: is no text file (it has NUL bytes): save it as UTF-8 text", path);
}

static enum oxl_status load_named(const char *name, struct oxl_scenario **out,
                                  struct oxl_error *err)
{
    enum oxl_status st = oxl_scenario_load(name, out, err);
    struct oxl_nearest near = {.typed = name};
    char meant[64];
    for (size_t i = 0; st == OXL_ERR_USAGE && i < oxl_scenario_builtin_count(); i++)
        oxl_nearest_try(&near, oxl_scenario_builtin_name(i));
    return near.meant ? oxl_fail(err, st, "no scenario \"%s\"%s All of them: oxylag scenarios",
                                 name, oxl_nearest_text(&near, meant, sizeof meant))
                      : st;
}

enum oxl_status oxl_load_scenario(const char *name, struct oxl_scenario **out,
                                  struct oxl_error *err)
{
    if (!strpbrk(name, "/."))
        return load_named(name, out, err);
    char *text = NULL;
    enum oxl_status st = oxl_read_text(name, 1 << 20, &text, err);
    if (st == OXL_OK)
        st = oxl_scenario_parse(text, name, out, err);
    free(text);
    return st;
}

/* Made anew for its owner alone, through no link, over nothing that is there: a name may come from
 * elsewhere, and a folder may be shared. */
enum oxl_status oxl_create_file(const char *path, FILE **out, struct oxl_error *err)
{
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0600);
    *out = fd >= 0 ? fdopen(fd, "w") : NULL;
    if (*out)
        return OXL_OK;
    int error = errno;
    if (fd >= 0) { /* made, but there is no memory to write it with */
        close(fd);
        (void)unlink(path);
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for %s", path);
    }
    return oxl_fail(err, OXL_ERR_IO, "%s: cannot be written (%s): choose another name", path,
                    strerror(error));
}

static void list_profiles(char *out, size_t n)
{
    out[0] = '\0';
    for (size_t i = 0; i < oxl_profile_builtin_count(); i++)
        oxl_append_word(out, n, ", ", oxl_profile_builtin_name(i));
}

enum oxl_status oxl_load_profile(const char *name, struct oxl_profile *out, struct oxl_error *err)
{
    oxl_profile_defaults(out);
    if (!name)
        return OXL_OK;
    for (size_t i = 0; i < oxl_profile_builtin_count(); i++)
        if (strcmp(name, oxl_profile_builtin_name(i)) == 0)
            return oxl_profile_parse(oxl_profile_builtin_text(i), name, out, err);
    if (!strpbrk(name, "/.")) {
        char all[160];
        list_profiles(all, sizeof all);
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "there is no profile \"%s\": expected %s, or the path of a file", name,
                        all);
    }
    char *text = NULL;
    enum oxl_status st = oxl_read_text(name, 1 << 20, &text, err);
    if (st == OXL_OK)
        st = oxl_profile_parse(text, name, out, err);
    free(text);
    return st;
}

void oxl_truth_header(const struct oxl_sim *sim, FILE *f)
{
    char line[512];
    if (oxl_sim_truth_header(sim, line, sizeof line))
        fputs(line, f);
}

void oxl_truth_rest(struct oxl_sim *sim, size_t *written, FILE *f)
{
    char line[1024];
    struct oxl_truth t;
    for (; oxl_sim_truth(sim, *written, &t); ++*written)
        if (oxl_sim_truth_json(&t, line, sizeof line))
            fputs(line, f);
}

void oxl_print(struct oxl_buf *text)
{
    fputs(text->data ? text->data : "", stdout);
    if (text->failed)
        fputs("oxylag: no memory for all that is to be printed: close other programs\n", stderr);
    oxl_buf_free(text);
}

enum oxl_status oxl_print_whole(struct oxl_buf *text, struct oxl_error *err)
{
    const bool whole = !text->failed;
    if (whole)
        oxl_print(text);
    else
        oxl_buf_free(text);
    return whole ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory for what is to be printed");
}

void oxl_print_json(json_t *object)
{
    char *text = json_dumps(object, JSON_COMPACT | JSON_ENSURE_ASCII);
    if (text)
        puts(text);
    free(text);
    json_decref(object);
}

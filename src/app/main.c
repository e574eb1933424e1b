/* The program's only exits. Everything else returns a status. */
#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "home.h"
#include "opts_table.h"
#include "output.h"
#include "oxylag/sound.h"

static enum oxl_status dispatch(const struct oxl_opts *o, struct oxl_error *err)
{
    return oxl_command_rows[o->command].run(o, err);
}

static bool is(const char *word, const char *this, const char *or_this)
{
    return strcmp(word, this) == 0 || strcmp(word, or_this) == 0;
}

static int print_help(const struct oxl_opts *o)
{
    struct oxl_buf text = {0};
    if (o)
        oxl_help_command(o->command, &text);
    else
        oxl_help_program(&text);
    oxl_print(&text);
    return OXL_EXIT_OK;
}

/* A program started with its standard files closed would get their numbers for what it opens, and
 * then print its lines into a recording. */
static int fill_standard_files(void)
{
    for (int fd = 0; fd <= 2; fd++)
        if (fcntl(fd, F_GETFD) == -1 && errno == EBADF && open("/dev/null", O_RDWR) != fd)
            return -1;
    return 0;
}

/* What was printed must have arrived. */
static enum oxl_status finish_output(enum oxl_status st, struct oxl_error *err)
{
    errno = 0;
    bool bad = fflush(stdout) != 0;
    if ((bad || ferror(stdout)) && st == OXL_OK)
        return oxl_fail(err, OXL_ERR_IO, "standard output could not be written whole%s%s",
                        bad && errno ? ": " : "", bad && errno ? strerror(errno) : "");
    return st;
}

static void say_error(const struct oxl_error *err)
{
    fprintf(stderr, "oxylag: %s\n", err->text[0] ? err->text : "internal error");
    fflush(stderr);
}

/* Nobody may read them (final_output.h): then the one line that says why comes first. */
static int last_words(enum oxl_status st, struct oxl_error *err)
{
    bool hurried = oxl_final_output_begin((int)oxl_exit_code(st));
    bool said = st != OXL_OK && hurried;
    if (said)
        say_error(err);
    st = finish_output(st, err);
    if (st != OXL_OK && !said)
        say_error(err);
    fflush(stderr);
    oxl_final_output_end();
    return (int)oxl_exit_code(st);
}

int main(int argc, char **argv)
{
    if (fill_standard_files() != 0)
        return OXL_EXIT_INTERNAL;
    signal(SIGXFSZ, SIG_IGN); /* a limit on the size of files is a full disk, not an end */
    struct oxl_opts opts;
    char help_option[] = "--help";
    struct oxl_error err = {OXL_OK, ""};
    setlocale(LC_CTYPE, "");
    bool help = argc > 1 && strcmp(argv[1], "help") == 0;
    bool bare = help && (argc == 2 || argv[2][0] == '-' || strcmp(argv[2], "help") == 0);
    if (bare || (argc > 1 && is(argv[1], "--help", "-h")))
        return print_help(NULL);
    if (argc == 2 && strcmp(argv[1], OXL_SOUND_PLAY) == 0)
        return oxl_sound_play();
    if (argc > 1 && is(argv[1], "--version", "-V")) {
        printf("oxylag %s\n", OXL_VERSION);
        return OXL_EXIT_OK;
    }
    /* "help COMMAND" is "COMMAND --help". */
    char *asked[] = {argv[0], help ? argv[2] : NULL, help_option, NULL};
    static struct oxl_settings settings;
    bool wrong = oxl_settings_load(&settings, &err) != OXL_OK;
    if (argc == 1 && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO)) {
        struct oxl_error problem = err;
        return last_words(oxl_home(&settings, dispatch, wrong ? problem.text : NULL, &err), &err);
    }
    if (wrong) /* said, and in no one's way */
        say_error(&err);
    enum oxl_status st =
        oxl_opts_parse(help ? 3 : argc, help ? asked : argv, &settings, &opts, &err);
    if (st == OXL_OK && opts.help)
        return print_help(&opts);
    if (st == OXL_OK)
        st = dispatch(&opts, &err);
    return last_words(st, &err);
}

/* The device as a sink. It is played to by a process of its own: what stands beneath an audio
 * library prints, hangs, and ends its process when the system is set up strangely (PortAudio 19.6
 * does, by an assertion, where its system's library has no configuration); a test goes on without
 * it. */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "pace.h"

struct player {
    char program[256];
    pid_t pid;
    int samples_fd, word_fd; /* to it; from it */
};

static bool make_pipes(int in[2], int out[2])
{
    if (pipe(in) != 0)
        return false;
    if (pipe(out) != 0) {
        close(in[0]);
        close(in[1]);
        return false;
    }
    fcntl(in[1], F_SETFD, FD_CLOEXEC);
    fcntl(out[0], F_SETFD, FD_CLOEXEC);
    return true;
}

/* In a group of its own, so that Ctrl-C is the test's alone, and with no signal blocked. */
static bool spawn(struct player *p, int in, int out)
{
    extern char **environ;
    static char word[] = OXL_SOUND_PLAY;
    char *argv[] = {p->program, word, NULL};
    posix_spawn_file_actions_t files;
    posix_spawnattr_t how;
    sigset_t none;
    sigemptyset(&none);
    posix_spawn_file_actions_init(&files);
    posix_spawnattr_init(&how);
    posix_spawn_file_actions_adddup2(&files, in, STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&files, out, STDOUT_FILENO);
    posix_spawn_file_actions_addopen(&files, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawnattr_setsigmask(&how, &none);
    posix_spawnattr_setpgroup(&how, 0);
    posix_spawnattr_setflags(&how, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
    bool good = posix_spawn(&p->pid, p->program, &files, &how, argv, environ) == 0;
    posix_spawn_file_actions_destroy(&files);
    posix_spawnattr_destroy(&how);
    return good;
}

/* A word from it; false: it is gone. */
static bool may_go_on(const struct player *p)
{
    char word;
    ssize_t n;
    do
        n = read(p->word_fd, &word, 1);
    while (n < 0 && errno == EINTR);
    return n == 1;
}

static bool player_open(void *ctx)
{
    struct player *p = ctx;
    int in[2], out[2];
    if (!make_pipes(in, out))
        return false;
    bool good = spawn(p, in[0], out[1]);
    close(in[0]);
    close(out[1]);
    p->samples_fd = in[1];
    p->word_fd = out[0];
    p->pid = good ? p->pid : 0;
    return good && may_go_on(p);
}

static bool player_write(void *ctx, const int16_t *samples, size_t n)
{
    const struct player *p = ctx;
    const char *at = (const char *)samples;
    if (n != OXL_PIECE || !may_go_on(p))
        return false;
    for (size_t left = n * sizeof *samples; left > 0;) {
        ssize_t put = write(p->samples_fd, at, left);
        if (put < 0 && errno != EINTR)
            return false;
        at += put > 0 ? put : 0;
        left -= put > 0 ? (size_t)put : 0;
    }
    return true;
}

static void player_close(void *ctx)
{
    struct player *p = ctx;
    if (p->samples_fd >= 0) {
        close(p->samples_fd); /* what it has is heard to its end */
        close(p->word_fd);
    }
    if (p->pid > 0)
        waitpid(p->pid, NULL, 0);
    free(p);
}

bool oxl_sound_device(const char *program, struct oxl_sound_sink *out)
{
    struct player *p = oxl_sound_plays() ? calloc(1, sizeof *p) : NULL;
    if (!p)
        return false;
    strncpy(p->program, program, sizeof p->program - 1);
    p->samples_fd = p->word_fd = -1;
    *out = (struct oxl_sound_sink){p, player_open, player_write, player_close};
    return true;
}

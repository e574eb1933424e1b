/* The terminal of an end-to-end test: runs a program on a pseudo-terminal of 80x24, keeps what it
 * writes in a file, and stops reading when told to, as a remote session does whose network is gone.
 *
 *   tty_host OUTPUT COMMAND [ARGUMENT...]
 *
 * Says "pid N" at the start and "exit N" at the program's end. Commands, a line each on standard
 * input: pause, resume, "type TEXT" (\xHH is a byte), modes (says the terminal's modes), quit. */
#define _GNU_SOURCE 1
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

struct host {
    int master, slave, out;
    pid_t pid;
    bool paused, over, quit;
};

static void start(struct host *h, char **argv)
{
    struct winsize size = {.ws_row = 24, .ws_col = 80};
    h->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (h->master < 0 || grantpt(h->master) != 0 || unlockpt(h->master) != 0)
        exit(9);
    ioctl(h->master, TIOCSWINSZ, &size);
    h->pid = fork();
    if (h->pid != 0)
        return;
    setsid();
    int tty = open(ptsname(h->master), O_RDWR);
    if (tty < 0 || ioctl(tty, TIOCSCTTY, 0) < 0)
        _exit(8);
    for (int fd = 0; fd < 3; fd++)
        dup2(tty, fd);
    if (tty > 2)
        close(tty);
    execvp(argv[0], argv);
    _exit(127);
}

static void type(struct host *h, const char *text)
{
    char bytes[256];
    size_t n = 0;
    while (*text && n < sizeof bytes) {
        unsigned code = 0;
        if (sscanf(text, "\\x%2x", &code) == 1) {
            bytes[n++] = (char)code;
            text += 4;
        } else {
            bytes[n++] = *text++;
        }
    }
    if (write(h->master, bytes, n) != (ssize_t)n)
        puts("not typed");
}

static void say_modes(const struct host *h)
{
    struct termios t;
    if (tcgetattr(h->master, &t) != 0)
        puts("modes none");
    else
        printf("modes %x %x %x %x susp %u quit %u ixon %d\n", t.c_iflag, t.c_oflag, t.c_cflag,
               t.c_lflag, t.c_cc[VSUSP], t.c_cc[VQUIT], (t.c_iflag & IXON) != 0);
}

/* A terminal keeps some kilobytes for a reader who pauses: they are full from the beginning. */
static void pause_now(struct host *h)
{
    h->paused = true;
    while (write(h->slave, "\r", 1) == 1) {
    }
}

static void obey(struct host *h, char *line)
{
    line[strcspn(line, "\n")] = '\0';
    if (strcmp(line, "pause") == 0)
        pause_now(h);
    else if (strcmp(line, "resume") == 0)
        h->paused = false;
    else if (strncmp(line, "type ", 5) == 0)
        type(h, line + 5);
    else if (strcmp(line, "modes") == 0)
        say_modes(h);
    else
        h->quit = true;
}

static void take_output(struct host *h)
{
    char buf[4096];
    ssize_t n = read(h->master, buf, sizeof buf);
    if (n > 0 && write(h->out, buf, (size_t)n) != n)
        exit(9);
    if (n <= 0 && h->over)
        h->paused = true; /* all of it is here */
}

static void look_after(struct host *h)
{
    int status;
    if (h->over || waitpid(h->pid, &status, WNOHANG) != h->pid)
        return;
    h->over = true;
    printf("exit %d\n", WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status));
}

int main(int argc, char **argv)
{
    struct host h = {.out = -1};
    if (argc < 3)
        return 2;
    h.out = open(argv[1], O_WRONLY | O_CREAT | O_TRUNC | O_APPEND | O_CLOEXEC, 0600);
    setvbuf(stdout, NULL, _IOLBF, 0);
    setvbuf(stdin, NULL, _IONBF, 0); /* or poll would not see the lines that were read ahead */
    start(&h, argv + 2);
    /* Ours too, so that its modes outlive the program. */
    h.slave = open(ptsname(h.master), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    printf("pid %d\n", (int)h.pid);
    while (!h.quit) {
        struct pollfd p[2] = {{STDIN_FILENO, POLLIN, 0}, {h.paused ? -1 : h.master, POLLIN, 0}};
        char line[512];
        poll(p, 2, 10);
        if (p[0].revents && !fgets(line, sizeof line, stdin))
            break;
        if (p[0].revents)
            obey(&h, line);
        if (p[1].revents)
            take_output(&h);
        look_after(&h);
    }
    if (!h.over)
        kill(h.pid, SIGKILL);
    close(h.slave);
    return 0;
}

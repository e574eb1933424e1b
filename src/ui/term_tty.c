#include "term_tty.h"

#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <unistd.h>

/* In frames, of which there are ten a second. LAST_MS, AFTER_MS: how long leaving waits for a
 * terminal that was well until then, and for one that was flushed. */
enum { STALLED_FRAMES = 3, LAST_MS = 100, AFTER_MS = 60 };

bool oxl_tty_open(struct oxl_tty *t)
{
    memset(t, 0, sizeof *t);
    int fd = memfd_create("screen", MFD_CLOEXEC);
    t->page = fd >= 0 ? fdopen(fd, "r+") : NULL;
    if (fd >= 0 && !t->page)
        close(fd);
    t->writer = t->page ? oxl_writer_new(STDOUT_FILENO) : NULL;
    if (t->writer && tcgetattr(STDIN_FILENO, &t->before) == 0)
        return true;
    oxl_tty_close(t);
    return false;
}

static void on_resize(int number)
{
    (void)number; /* it only has to end a wait */
}

/* Ctrl-S, Ctrl-Z and Ctrl-\ are slips of a hand beside the `s` and `a` of the keys, and would leave
 * the technician with the gas on: a frozen screen, a stopped program, a dead one. Ctrl-C stays, as
 * it ends the test in order. */
void oxl_tty_modes(struct oxl_tty *t)
{
    t->during = t->before;
    t->during.c_iflag &= ~(tcflag_t)(IXON | ICRNL | INLCR | IGNCR);
    t->during.c_oflag &= ~(tcflag_t)ONLCR;
    t->during.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ECHONL | IEXTEN);
    t->during.c_lflag |= ISIG;
    t->during.c_cc[VSUSP] = t->during.c_cc[VQUIT] = _POSIX_VDISABLE;
    t->during.c_cc[VMIN] = 1;
    t->during.c_cc[VTIME] = 0;
    /* TCSANOW: the others wait until the terminal has taken everything. */
    tcsetattr(STDIN_FILENO, TCSANOW, &t->during);
}

/* Curses installs handlers of its own for these two where it finds the default: one that would ask
 * the page in memory for its size, and one that writes and waits. */
void oxl_tty_begin(struct oxl_tty *t)
{
    struct sigaction stop = {.sa_handler = SIG_IGN}, resize = {.sa_handler = on_resize};
    sigaction(SIGTSTP, &stop, &t->on_stop);
    sigaction(SIGWINCH, &resize, &t->on_resize);
    (void)oxl_tty_resized(t);
}

bool oxl_tty_resized(struct oxl_tty *t)
{
    struct winsize now;
    bool known = ioctl(STDOUT_FILENO, TIOCGWINSZ, &now) == 0 && now.ws_row > 0 && now.ws_col > 0;
    int rows = known ? now.ws_row : t->rows ? t->rows : 24;
    int cols = known ? now.ws_col : t->cols ? t->cols : 80;
    bool changed = rows != t->rows || cols != t->cols;
    t->rows = rows;
    t->cols = cols;
    return changed;
}

bool oxl_tty_free(struct oxl_tty *t)
{
    bool taken = oxl_writer_waiting(t->writer) == 0;
    t->skipped = taken ? 0 : t->skipped + 1;
    return taken;
}

bool oxl_tty_stalled(const struct oxl_tty *t)
{
    return t->skipped >= STALLED_FRAMES;
}

bool oxl_tty_send(struct oxl_tty *t)
{
    int fd = fileno(t->page);
    off_t n = lseek(fd, 0, SEEK_CUR), at = 0;
    bool fits = n >= 0 && (size_t)n <= OXL_WRITER_ROOM - oxl_writer_waiting(t->writer);
    char piece[4096];
    for (ssize_t got; fits && at < n; at += got) {
        got = pread(fd, piece, sizeof piece, at);
        fits = got > 0 && oxl_writer_put(t->writer, piece, (size_t)got);
    }
    if (n > 0 && (ftruncate(fd, 0) != 0 || lseek(fd, 0, SEEK_SET) != 0))
        return false;
    return fits;
}

/* A stalled terminal: what the system keeps for it is thrown away, which makes room for the few
 * bytes that give the shell its screen back. CAN ends a sequence that was cut in the middle
 * (ECMA-48 clause 8.3.6). */
static void force(struct oxl_tty *t)
{
    oxl_writer_free(t->writer);
    tcflush(STDOUT_FILENO, TCOFLUSH);
    t->writer = oxl_writer_new(STDOUT_FILENO);
    if (t->writer)
        (void)oxl_writer_put(t->writer, "\x18", 1);
}

bool oxl_tty_end(struct oxl_tty *t)
{
    bool read = oxl_writer_drain(t->writer, oxl_tty_stalled(t) ? 0 : LAST_MS);
    if (!read)
        force(t);
    /* Room that was made by throwing away is no reader: what follows would wait for one. */
    bool taken = t->writer && oxl_tty_send(t) && oxl_writer_drain(t->writer, AFTER_MS) && read;
    tcsetattr(STDIN_FILENO, TCSANOW, &t->before);
    sigaction(SIGTSTP, &t->on_stop, NULL);
    sigaction(SIGWINCH, &t->on_resize, NULL);
    return taken;
}

void oxl_tty_close(struct oxl_tty *t)
{
    if (t->page)
        fclose(t->page);
    oxl_writer_free(t->writer);
    memset(t, 0, sizeof *t);
}

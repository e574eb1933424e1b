/* Loaded before the C library (LD_PRELOAD) to make one call fail, for tests/fault/inject.sh.
 *
 *   OXL_FAULT=KIND:N[:MODE]  the N-th call of that kind fails: alloc, open, read, write, sync,
 * fread, pread, pwrite, open64 (those of the database). MODE: once (as without), on (that one and
 * all later), torn (of a write half goes through, then "on") OXL_FAULT_COUNT=FILE     at the end:
 * how many calls of each kind there were OXL_FAULT_CLOCK=AT:BY    AT seconds after the start
 * CLOCK_BOOTTIME leaps by BY seconds, as over a sleep of the machine; the other clocks stand still
 * meanwhile OXL_FAULT_HOLD=AT:BY     AT seconds after the start whoever asks for the time is held
 * up for BY seconds, as on a machine with too much to do OXL_FAULT_LOOKUP=BY      look-ups of names
 * take BY seconds and fail, but for the first OXL_FAULT_CURSES=1 what curses does while it is
 * started is counted, too
 *
 * Counted from main on: what the libraries do when they are loaded is not ours to answer for (glib
 * ends the process by itself then). Calls that the C library makes inside itself (stdio) are not
 * seen: for them there are /dev/full and closed pipes. */
#define _GNU_SOURCE 1
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

enum kind { ALLOC, OPEN, READ, WRITE, SYNC, FREAD, PREAD, PWRITE, OPEN64, KINDS };
static const char *const names[KINDS] = {"alloc", "open",  "read",   "write", "sync",
                                         "fread", "pread", "pwrite", "open64"};
/* Shared with children, so that what fails once fails in one of them. */
static unsigned long own[KINDS], *calls = own;
static bool in_main;

extern void *__libc_malloc(size_t n);
extern void *__libc_calloc(size_t n, size_t size);
extern void *__libc_realloc(void *p, size_t n);

static struct {
    bool read_env;
    enum kind kind;
    unsigned long at;
    bool on, torn, torn_done;
    double leap_at, leap_by, hold_at, hold_by;
} plan = {.kind = KINDS};

static void two_numbers(const char *text, double *at, double *by)
{
    char *end;
    if (!text)
        return;
    *at = strtod(text, &end);
    *by = *end == ':' ? strtod(end + 1, NULL) : 0;
}

static void read_plan(void)
{
    plan.read_env = true;
    const char *fault = getenv("OXL_FAULT");
    for (int k = 0; fault && k < KINDS; k++) {
        size_t n = strlen(names[k]);
        if (strncmp(fault, names[k], n) == 0 && fault[n] == ':') {
            char *end;
            plan.kind = (enum kind)k;
            plan.at = strtoul(fault + n + 1, &end, 10);
            plan.torn = strcmp(end, ":torn") == 0;
            plan.on = plan.torn || strcmp(end, ":on") == 0;
        }
    }
    two_numbers(getenv("OXL_FAULT_CLOCK"), &plan.leap_at, &plan.leap_by);
    two_numbers(getenv("OXL_FAULT_HOLD"), &plan.hold_at, &plan.hold_by);
}

static bool fails(enum kind k)
{
    if (!in_main)
        return false;
    if (!plan.read_env)
        read_plan();
    unsigned long n = __atomic_add_fetch(&calls[k], 1, __ATOMIC_RELAXED);
    return k == plan.kind && (n == plan.at || (plan.on && n > plan.at));
}

/* By now the loader has run every library's constructors (glibc 2.34 and later). */
int __libc_start_main(int (*program)(int, char **, char **), int argc, char **argv,
                      void (*init)(void), void (*fini)(void), void (*rtld_fini)(void),
                      void *stack_end)
{
    typedef int start_fn(int (*)(int, char **, char **), int, char **, void (*)(void),
                         void (*)(void), void (*)(void), void *);
    start_fn *start = (start_fn *)dlsym(RTLD_NEXT, "__libc_start_main");
    void *shared =
        mmap(NULL, sizeof own, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared != MAP_FAILED)
        calls = shared;
    in_main = true;
    return start(program, argc, argv, init, fini, rtld_fini, stack_end);
}

void *malloc(size_t n)
{
    if (fails(ALLOC)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_malloc(n);
}

void *calloc(size_t n, size_t size)
{
    if (fails(ALLOC)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_calloc(n, size);
}

void *realloc(void *p, size_t n)
{
    if (fails(ALLOC)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_realloc(p, n);
}

static int open_as(enum kind k, const char *path, int flags, va_list args)
{
    mode_t mode = flags & O_CREAT ? va_arg(args, mode_t) : 0;
    if (fails(k)) {
        errno = EMFILE;
        return -1;
    }
    return (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

int open(const char *path, int flags, ...)
{
    va_list args;
    va_start(args, flags);
    int fd = open_as(OPEN, path, flags, args);
    va_end(args);
    return fd;
}

int open64(const char *path, int flags, ...)
{
    va_list args;
    va_start(args, flags);
    int fd = open_as(OPEN64, path, flags, args);
    va_end(args);
    return fd;
}

/* Where memory is short as it starts, curses ends the process or crashes (no check after a strdup),
 * and crashes as it is freed (ncurses 6.4, seen with this shim). */
void *newterm(const char *type, FILE *out, FILE *in)
{
    void *(*real)(const char *, FILE *, FILE *);
    const bool was = in_main;
    *(void **)(void *)&real = dlsym(RTLD_NEXT, "newterm");
    in_main = was && getenv("OXL_FAULT_CURSES");
    void *screen = real(type, out, in);
    in_main = was;
    return screen;
}

void delscreen(void *screen)
{
    void (*real)(void *);
    const bool was = in_main;
    *(void **)(void *)&real = dlsym(RTLD_NEXT, "delscreen");
    in_main = false;
    real(screen);
    in_main = was;
}

ssize_t pread64(int fd, void *buf, size_t n, off_t at)
{
    if (fails(PREAD)) {
        errno = EIO;
        return -1;
    }
    return syscall(SYS_pread64, fd, buf, n, at);
}

ssize_t pwrite64(int fd, const void *buf, size_t n, off_t at)
{
    if (fails(PWRITE)) {
        errno = ENOSPC;
        return -1;
    }
    return syscall(SYS_pwrite64, fd, buf, n, at);
}

ssize_t read(int fd, void *buf, size_t n)
{
    if (fails(READ)) {
        errno = EIO;
        return -1;
    }
    return syscall(SYS_read, fd, buf, n);
}

ssize_t write(int fd, const void *buf, size_t n)
{
    if (fails(WRITE)) {
        if (plan.torn && !plan.torn_done && n > 1) {
            plan.torn_done = true;
            return syscall(SYS_write, fd, buf, n / 2);
        }
        errno = ENOSPC;
        return -1;
    }
    return syscall(SYS_write, fd, buf, n);
}

int fdatasync(int fd)
{
    if (fails(SYNC)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_fdatasync, fd);
}

int fsync(int fd)
{
    if (fails(SYNC)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_fsync, fd);
}

size_t fread(void *p, size_t size, size_t n, FILE *f)
{
    static size_t (*real)(void *, size_t, size_t, FILE *);
    if (fails(FREAD))
        return 0;
    if (!real)
        *(void **)(void *)&real = dlsym(RTLD_NEXT, "fread");
    return real(p, size, n, f);
}

static void hold_up(void)
{
    struct timespec by = {(time_t)plan.hold_by,
                          (long)((plan.hold_by - (double)(time_t)plan.hold_by) * 1e9)};
    plan.hold_by = 0;
    nanosleep(&by, NULL);
}

int clock_gettime(clockid_t clock, struct timespec *t)
{
    static double first;
    long r = syscall(SYS_clock_gettime, clock, t);
    if (!plan.read_env)
        read_plan();
    if (clock != CLOCK_BOOTTIME || r != 0)
        return (int)r;
    double now = (double)t->tv_sec + (double)t->tv_nsec / 1e9;
    if (first <= 0)
        first = now;
    if (plan.leap_by > 0 && now - first >= plan.leap_at)
        t->tv_sec += (time_t)plan.leap_by;
    if (plan.hold_by > 0 && now - first >= plan.hold_at)
        hold_up();
    return 0;
}

int getaddrinfo(const char *host, const char *service, const struct addrinfo *hints,
                struct addrinfo **out)
{
    static int (*real)(const char *, const char *, const struct addrinfo *, struct addrinfo **);
    static int names;
    const char *by = getenv("OXL_FAULT_LOOKUP");
    bool is_name = host && strspn(host, "0123456789.:") < strlen(host);
    if (by && is_name && names++ > 0) {
        sleep((unsigned)strtoul(by, NULL, 10));
        return EAI_AGAIN;
    }
    if (!real)
        *(void **)(void *)&real = dlsym(RTLD_NEXT, "getaddrinfo");
    return real(host, service, hints, out);
}

/* A libserialport that was built without its list of ports says SP_ERR_SUPP (libserialport.h). */
int sp_list_ports(void ***list)
{
    static int (*real)(void ***);
    if (getenv("OXL_FAULT_PORTS")) {
        *list = NULL;
        return -4;
    }
    if (!real)
        *(void **)(void *)&real = dlsym(RTLD_NEXT, "sp_list_ports");
    return real(list);
}

__attribute__((destructor)) static void say_counts(void)
{
    const char *file = getenv("OXL_FAULT_COUNT");
    int fd =
        file ? (int)syscall(SYS_openat, AT_FDCWD, file, O_WRONLY | O_CREAT | O_TRUNC, 0600) : -1;
    for (int k = 0; fd >= 0 && k < KINDS; k++)
        dprintf(fd, "%s %lu\n", names[k], calls[k]);
}

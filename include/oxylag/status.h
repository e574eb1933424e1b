/* Status codes and one-line errors: what every function that can fail returns.
 *
 * Three classes are kept apart: a caller's bug is an assert, the environment's refusal is a
 * status with a sentence for the user, and noise on the wire is not an error at all but a
 * counter and an event.
 */
#ifndef OXYLAG_STATUS_H
#define OXYLAG_STATUS_H

#if defined(__GNUC__) || defined(__clang__)
#define OXL_MUST_CHECK        __attribute__((warn_unused_result))
#define OXL_PRINTF(fmt, args) __attribute__((format(printf, fmt, args)))
#else
#define OXL_MUST_CHECK
#define OXL_PRINTF(fmt, args)
#endif

enum oxl_status {
    OXL_OK = 0,
    OXL_ERR_USAGE,           /* an option, a name or a value that is not accepted */
    OXL_ERR_NOMEM,           /* no memory */
    OXL_ERR_IO,              /* the operating system refused a read or a write */
    OXL_ERR_FORMAT,          /* an input file or a profile is not what it should be */
    OXL_ERR_PORT_MISSING,    /* there is no such port */
    OXL_ERR_PORT_PERMISSION, /* the port exists but may not be opened */
    OXL_ERR_PORT_OPEN,       /* the port cannot be opened for another reason */
    OXL_ERR_NO_ADAPTER,      /* the port opens but nothing that speaks the dialect answers */
    OXL_ERR_NO_VEHICLE,      /* the adapter answers but no vehicle does */
    OXL_ERR_LINK_LOST,       /* the link was there and is gone */
    OXL_ERR_UNSUITABLE,      /* the vehicle cannot be tested (no rear sensor, no closed loop) */
    OXL_ERR_STOPPED,         /* the test was stopped before a result */
    OXL_ERR_INTERNAL         /* our own bug */
};

/* Documented exit codes of the program (docs/commands.md). */
enum oxl_exit {
    OXL_EXIT_OK = 0,
    OXL_EXIT_USAGE = 2,
    OXL_EXIT_INPUT = 3,
    OXL_EXIT_PORT = 4,
    OXL_EXIT_SILENT = 5,
    OXL_EXIT_STOPPED = 6,
    OXL_EXIT_UNSUITABLE = 7,
    OXL_EXIT_INTERNAL = 70
};

/* One error for a person: a status and one line that says what to do next. The text is always
 * NUL-terminated, holds no newline and no control character. Owned by the caller. */
struct oxl_error {
    enum oxl_status status;
    char text[1024]; /* room for a long path and what to do about it */
};

/* Fills *err (may be NULL) and returns status, so that `return oxl_fail(err, ...)` reads well.
 * Over-long text is cut; what is not safe to show (safe.h) becomes '?'. */
enum oxl_status oxl_fail(struct oxl_error *err, enum oxl_status status, const char *fmt, ...)
    OXL_PRINTF(3, 4);

/* The exit code that belongs to a status. */
enum oxl_exit oxl_exit_code(enum oxl_status status);

#endif

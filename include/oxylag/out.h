/* Out: bytes for a descriptor that may take its time or take nothing at all: a paused pipe, a
 * stopped terminal, a remote session whose network is gone. A thread waits for the descriptor, so
 * that the caller never does. The descriptor keeps its flags, which others may share.
 */
#ifndef OXYLAG_OUT_H
#define OXYLAG_OUT_H

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Starts a thread for something that may wait, beside the loop. Signals are for the loop, whose
 * wait must end by them: the thread takes none. 0, or an errno. */
int oxl_thread_start(pthread_t *thread, void *(*work)(void *), void *ctx);

struct oxl_writer; /* opaque */

/* How many bytes may wait. Memory is touched only as far as it is used. */
enum { OXL_WRITER_ROOM = 4 * 1024 * 1024 };

/* fd is not owned and must stay open. NULL: no memory or no thread. */
struct oxl_writer *oxl_writer_new(int fd);
/* All n bytes or none of them; false: there is no room, or writing has failed. Never waits. */
bool oxl_writer_put(struct oxl_writer *w, const void *bytes, size_t n);
/* Bytes that the descriptor has not taken yet. */
size_t oxl_writer_waiting(struct oxl_writer *w);
/* The errno of the write that failed for good; 0: none. After it nothing more is written. */
int oxl_writer_error(struct oxl_writer *w);
/* Waits until all is taken, at most that long; true when it is. */
bool oxl_writer_drain(struct oxl_writer *w, int limit_ms);
/* Ends, within 50 ms. What still waits is given up. NULL is accepted. */
void oxl_writer_free(struct oxl_writer *w);

#endif

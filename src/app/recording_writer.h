/* What goes into a recording, a line each. Without a recorder (NULL) nothing does. */
#ifndef OXL_APP_RECORDING_WRITER_H
#define OXL_APP_RECORDING_WRITER_H

#include "opts.h"
#include "oxylag/link.h"
#include "oxylag/record.h"
#include "oxylag/session.h"
#include "oxylag/status.h"

/* Who, where, when and with what settings; the caller adds what only it knows. */
void oxl_recording_fill(struct oxl_record_header *h, const struct oxl_opts *o, const char *port,
                        const struct oxl_profile *profile);
void oxl_recording_header(struct oxl_recorder *r, const struct oxl_record_header *h);
void oxl_recording_sent(struct oxl_recorder *r, const char *bytes, size_t n, int64_t t_us);
void oxl_recording_speed(struct oxl_recorder *r, unsigned baud, int64_t t_us);
/* In order, not torn. why: what ended it from outside (a signal); NULL: nothing did. */
void oxl_recording_end(struct oxl_recorder *r, int64_t t_us, const char *why);
void oxl_recording_event(struct oxl_recorder *r, const struct oxl_event *ev, bool mask_vin);
void oxl_recording_input(struct oxl_recorder *r, const struct oxl_input *in);
/* The other way round; its bytes and values are the line's. False: such a line is no input. */
bool oxl_recorded_input(const struct oxl_line *l, struct oxl_input *in);
/* A new recording for a run that was given no name: oxylag-DATE-TIME.jsonl in the present folder,
 * or with -2, -3 and so on before the dot when that name is taken. Fills name. */
enum oxl_status oxl_recording_open_stamped(struct oxl_recorder **out, char *name, size_t n,
                                           struct oxl_error *err) OXL_MUST_CHECK;
/* Closes it and says where it is and what to do with it (the command next; NULL: nothing is said).
 * A failure that finds another in its way (err NULL) is said at once. */
enum oxl_status oxl_recording_close(struct oxl_recorder *r, const char *name, const char *next,
                                    const struct oxl_opts *o, struct oxl_error *err);

#endif

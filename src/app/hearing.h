/* Which sounds a command line asks for, and opening them. */
#ifndef OXL_APP_HEARING_H
#define OXL_APP_HEARING_H

#include "opts.h"
#include "oxylag/sound.h"

/* --sound is one of its words, and a file is written in real time only. */
enum oxl_status oxl_hearing_check(const struct oxl_opts *o, struct oxl_error *err) OXL_MUST_CHECK;
/* *out stays NULL where no sound is wanted: then there is the bell of a dashboard, or silence. A
 * device that is not there is no error. */
enum oxl_status oxl_hearing_open(const struct oxl_opts *o, bool dashboard, struct oxl_sound **out,
                                 struct oxl_error *err) OXL_MUST_CHECK;

#endif

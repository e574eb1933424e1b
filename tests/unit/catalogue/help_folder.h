/* A folder of small recordings, made line by line. */
#ifndef HELP_FOLDER_H
#define HELP_FOLDER_H

#include "oxylag/catalogue.h"

/* A fresh folder; free the name. */
char *help_folder(void);
void help_folder_remove(char *folder);
/* folder/name in a buffer of four that take turns. */
const char *help_path(const char *folder, const char *name);
void help_write(const char *folder, const char *name, const char *text, size_t n);
/* A header, what stands in `lines`, and nothing else. */
void help_recording(const char *folder, const char *name, const struct oxl_record_header *h,
                    const char *lines);
struct oxl_record_header help_header(const char *started, const char *order);
/* A test with that VIN and conclusion, whole. */
void help_test(const char *folder, const char *name, const char *started, const char *vin,
               const char *conclusion);
#define HELP_END "{\"t\":9,\"end\":true}\n"
#define HELP_RESULT                                                                                \
    "{\"t\":8,\"event\":{\"event\":\"result\",\"verdict\":\"good\",\"conclusion\":\"good\","       \
    "\"lead\":{\"text\":\"a figure\"},\"delay_at_target_s\":8.5,\"delay_at_target_low_s\":8.25,"   \
    "\"delay_at_target_high_s\":null,\"o2_mg\":null,\"o2_low_mg\":541.5,\"o2_high_mg\":null}}\n"

#endif

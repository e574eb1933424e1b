/* The twelve lessons: recordings in examples/, in the order in which they are taught. */
#ifndef OXL_APP_LESSONS_H
#define OXL_APP_LESSONS_H

#include <stdbool.h>
#include <stddef.h>

enum { OXL_LESSONS = 12 };
struct oxl_lesson {
    const char *name; /* of the recording, without .jsonl */
    const char *title;
};
extern const struct oxl_lesson oxl_lessons[OXL_LESSONS];
/* By the recording's name, with or without .jsonl; NULL: none of them. */
const struct oxl_lesson *oxl_lesson_named(const char *name);
unsigned oxl_lesson_number(const struct oxl_lesson *l); /* from 1 */
/* Its recording: where the program is installed, or beside the folder that it was built in. False:
 * neither. */
bool oxl_lesson_file(const struct oxl_lesson *l, char *out, size_t n);
/* Of a recording, as the class's results have it. */
bool oxl_lesson_sha256(const char *path, char out[65]);

#endif

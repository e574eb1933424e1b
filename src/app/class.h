/* A class: what trainees got in quizzes, kept as JSON lines in the user's data folder. */
#ifndef OXL_APP_CLASS_H
#define OXL_APP_CLASS_H

#include "oxylag/catalogue.h"
#include "oxylag/report.h"
#include "oxylag/status.h"
#include "quiz.h"

struct oxl_class_result {
    char trainee[64], lesson[256], when[32];
    char sha256[65]; /* of the recording: a lesson that was made again is another one */
    char verdict[20], answer[20]; /* "" none */
    double score, of;
    double front_ms, rear_ms; /* how far the marks were off, on average; NAN: none */
};
enum { OXL_CLASS_MEMBERS = 10 };
extern const struct oxl_member oxl_class_members[OXL_CLASS_MEMBERS];
struct oxl_class {
    struct oxl_class_result *list; /* in the order they were made */
    size_t n, damaged;             /* lines that are none */
};

/* The result of a quiz that was answered to its end. */
void oxl_class_take(const struct oxl_quiz *q, struct oxl_class_result *out);
/* Appends in one write, so that several programs may at once. */
enum oxl_status oxl_class_add(const struct oxl_class_result *r, struct oxl_error *err);
/* No file is an empty class. */
enum oxl_status oxl_class_read(struct oxl_class *out, struct oxl_error *err);
void oxl_class_free(struct oxl_class *c);
/* The trainee's best try of this recording; NULL: never answered. */
const struct oxl_class_result *oxl_class_best(const struct oxl_class *c, const char *trainee,
                                              const char *sha256);

/* A table a lesson: each trainee's first try, how many there were and the best one. */
void oxl_class_text(const struct oxl_class *c, struct oxl_buf *out);
void oxl_class_csv(const struct oxl_class *c, struct oxl_buf *out);

#endif

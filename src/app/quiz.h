/* Quiz: what a trainee marks in a recording against what the core found. Takes the core's events
 * and the trainee's keys; nothing of the answer comes out before the trainee has answered. */
#ifndef OXL_APP_QUIZ_H
#define OXL_APP_QUIZ_H

#include "oxylag/event.h"
#include "oxylag/report.h"
#include "oxylag/ui.h"

struct oxl_quiz {
    struct oxl_quiz_shown shown;
    const struct oxl_test_record *record; /* has every event before the quiz */
    bool have_answer;                     /* of the run at hand, not yet shown */
    int answer_run;
    int64_t answer_us;
    bool marks_due; /* the marks on the axis are to be drawn: the answer was just given */
};

void oxl_quiz_start(struct oxl_quiz *q, const struct oxl_test_record *record);
void oxl_quiz_event(struct oxl_quiz *q, const struct oxl_event *ev);
/* What answers the question, in the order of enum oxl_conclusion; a capital is "not". */
extern const char oxl_quiz_verdict_keys[];
/* Keys: space, u, those above at the question. True when the key meant something. */
bool oxl_quiz_key(struct oxl_quiz *q, int key, int64_t now_us);
/* Time passes: an answer is shown when both marks are made, or some seconds after. at_end: the
 * recording has no more to show. */
void oxl_quiz_tick(struct oxl_quiz *q, int64_t now_us, bool at_end);
/* The recording stands still while an answer or the question is on the screen. */
bool oxl_quiz_stops(const struct oxl_quiz *q);

/* One JSON object a line for a run that was answered, and for the whole. */
void oxl_quiz_run_json(const struct oxl_quiz_run *r, struct oxl_buf *out);
void oxl_quiz_json(const struct oxl_quiz *q, struct oxl_buf *out);
/* The same for a person. */
void oxl_quiz_run_text(const struct oxl_quiz_run *r, struct oxl_buf *out);
void oxl_quiz_text(const struct oxl_quiz *q, struct oxl_buf *out);

#endif

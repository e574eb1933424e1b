/* The class as a table a lesson, and as CSV. */
#include <stdio.h>
#include <string.h>

#include "class.h"
#include "lessons.h"
#include "oxylag/figure.h"
#include "oxylag/safe.h"
#include "recordings.h"

static bool same_lesson(const struct oxl_class_result *a, const struct oxl_class_result *b)
{
    return strcmp(a->lesson, b->lesson) == 0 && strcmp(a->sha256, b->sha256) == 0;
}

/* The first line of its kind: of a lesson, or of a trainee in a lesson. */
static bool is_first(const struct oxl_class *c, size_t i, bool of_trainee)
{
    for (size_t k = 0; k < i; k++)
        if (same_lesson(&c->list[k], &c->list[i]) &&
            (!of_trainee || strcmp(c->list[k].trainee, c->list[i].trainee) == 0))
            return false;
    return true;
}

static void one_trainee(const struct oxl_class *c, size_t first, struct oxl_buf *out)
{
    const struct oxl_class_result *r = &c->list[first], *best = r;
    char name[sizeof r->trainee], score[24], most[24];
    unsigned tries = 0;
    for (size_t i = first; i < c->n; i++)
        if (same_lesson(&c->list[i], r) && strcmp(c->list[i].trainee, r->trainee) == 0) {
            tries++;
            best = c->list[i].score > best->score ? &c->list[i] : best;
        }
    oxl_safe_copy(name, sizeof name, r->trainee);
    snprintf(score, sizeof score, "%.0f of %.0f", r->score, r->of);
    snprintf(most, sizeof most, "%.0f of %.0f", best->score, best->of);
    oxl_buf_add(out, "  %-22.40s %9s  %-8s %8s %8s  %5u  %9s\n", name, score,
                !r->verdict[0]                       ? "none"
                : strcmp(r->verdict, r->answer) == 0 ? "right"
                                                     : "wrong",
                oxl_figure_cell(r->front_ms, 0, false).text,
                oxl_figure_cell(r->rear_ms, 0, false).text, tries, most);
}

static void one_lesson(const struct oxl_class *c, size_t first, struct oxl_buf *out)
{
    const struct oxl_class_result *r = &c->list[first];
    char name[sizeof r->lesson];
    const struct oxl_lesson *l = oxl_lesson_named(r->lesson);
    oxl_safe_copy(name, sizeof name, r->lesson);
    if (l)
        oxl_buf_add(out, "Lesson %u, %s: %s\n", oxl_lesson_number(l), l->name, l->title);
    else
        oxl_buf_add(out, "%s\n", name);
    oxl_buf_add(out, "  %-22s %9s  %-8s %8s %8s  %5s  %9s\n", "trainee", "first try", "verdict",
                "front ms", "rear ms", "tries", "best");
    for (size_t i = first; i < c->n; i++)
        if (same_lesson(&c->list[i], r) && is_first(c, i, true))
            one_trainee(c, i, out);
}

/* The lessons in their order, then those of the trainer's own. */
void oxl_class_text(const struct oxl_class *c, struct oxl_buf *out)
{
    for (unsigned number = 1; number <= OXL_LESSONS + 1; number++)
        for (size_t i = 0; i < c->n; i++) {
            const struct oxl_lesson *l = oxl_lesson_named(c->list[i].lesson);
            if ((l ? oxl_lesson_number(l) : OXL_LESSONS + 1) == number && is_first(c, i, false))
                one_lesson(c, i, out);
        }
    if (c->n == 0)
        oxl_buf_add(
            out,
            "No results yet: a quiz with a trainee's name keeps them (replay --quiz --trainee)\n");
}

void oxl_class_csv(const struct oxl_class *c, struct oxl_buf *out)
{
    static const unsigned char texts_first[] = {0, 1, 2, 5, 6, 9, 3, 4, 7, 8};
    struct oxl_member columns[OXL_CLASS_MEMBERS];
    for (size_t i = 0; i < OXL_CLASS_MEMBERS; i++)
        columns[i] = oxl_class_members[texts_first[i]];
    oxl_members_csv_header(columns, OXL_CLASS_MEMBERS, out);
    for (size_t i = 0; i < c->n; i++)
        oxl_members_csv(columns, OXL_CLASS_MEMBERS, &c->list[i], out);
}

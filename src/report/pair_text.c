/* The comparison of two tests as text, ahead of their two pages. */
#include <stdio.h>

#include "oxylag/compare.h"
#include "say.h"
#include "text_page.h"
#include "words.h"

static void side(struct oxl_buf *out, const char *name, const struct oxl_test_record *s)
{
    char target[OXL_FIGURE_TEXT] = "not known", o2[OXL_FIGURE_TEXT] = "not known", line[768];
    if (s->has_result) {
        oxl_figure_span(&s->result.delay_at_target_s, 2, "s", target);
        oxl_figure_span(&s->result.o2_mg, 0, "mg", o2);
    }
    snprintf(line, sizeof line, "%s%s, %s: %s; delay at target %s; oxygen stored %s",
             s->header.simulated ? "SIMULATED, " : "",
             s->recording_name[0] ? s->recording_name : "no recording",
             s->header.started[0] ? s->header.started : "date not known",
             s->has_result ? oxl_verdict_name(s->result.verdict) : "no result", target, o2);
    oxl_page_field(out, name, line);
}

void oxl_report_pair_text(const struct oxl_test_record *first, const struct oxl_test_record *second,
                          struct oxl_buf *out)
{
    struct oxl_comparison c;
    char text[OXL_COMPARED];
    oxl_compare(first, second, &c);
    oxl_buf_add(out, "OXYGEN STORAGE, TWO TESTS COMPARED\n==================================\n");
    side(out, c.allowed ? "Before" : "First", first);
    side(out, c.allowed ? "After" : "Second", second);
    oxl_buf_add(out, "\n");
    oxl_page_text(out, "", oxl_compared_headline(&c));
    oxl_compared_words(&c, text);
    oxl_page_text(out, "", text);
    for (unsigned u = 0; u < OXL_UNLIKE_COUNT; u++)
        if (c.unlikes >> u & 1u)
            oxl_page_text(out, " - ", oxl_unlike_sentence((enum oxl_unlike)u));
    oxl_page_text(out, "", oxl_compared_method);
    oxl_buf_add(out, "\n");
}

#include "text_page.h"

#include <stdio.h>
#include <string.h>

#include "words.h"

void oxl_page_notes(struct oxl_buf *out, const struct oxl_test_record *s)
{
    if (s->notes_n == 0)
        return;
    oxl_page_heading(out, "Marks and notes");
    for (size_t i = 0; i < s->notes_n; i++) {
        char label[32];
        int64_t ms = s->notes[i].t_us / 1000;
        snprintf(label, sizeof label, "%6lld.%lld s  ", (long long)(ms / 1000),
                 (long long)(ms % 1000 / 100));
        oxl_page_text(out, label, s->notes[i].text);
    }
    if (s->notes_n == OXL_RECORD_MAX_NOTES)
        oxl_page_text(out, "", "There may be more in the recording.");
}

static void limits(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char line[OXL_BASIS];
    oxl_limits_words(s, line);
    oxl_page_field(out, "Limits", line);
    oxl_limits_mg_words(s, line);
    oxl_page_field(out, "The same in grams", line);
    oxl_origin_words(s, line);
    oxl_page_field(out, "Their origin", line);
    oxl_profile_words(s, line);
    oxl_page_field(out, "Profile", line);
}

static void assumptions(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char line[OXL_BASIS];
    oxl_assumed_words(s, line);
    oxl_page_field(out, "Assumed", line);
}

void oxl_page_basis(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char trim[64] = "not known";
    if (oxl_known(s->baseline_trim_pct))
        snprintf(trim, sizeof trim, "%.1f %% total trim before the last run", s->baseline_trim_pct);
    oxl_page_heading(out, "Limits, method, assumptions");
    limits(out, s);
    oxl_page_field(out, "Baseline", trim);
    oxl_page_field(out, "Method", oxl_method_words);
    assumptions(out, s);
}

static void recording(struct oxl_buf *out, const struct oxl_test_record *s)
{
    oxl_page_heading(out, "Record");
    oxl_page_field(out, "Program", s->header.program[0] ? s->header.program : "not known");
    oxl_page_field(out, "Recording", s->recording_name[0] ? s->recording_name : "none");
    if (s->sha256[0])
        oxl_page_text(out, "SHA-256    ", s->sha256); /* 64 digits, unbroken */
    if (s->header.imported.on && s->header.imported.table_sha256[0])
        oxl_page_text(out, "Its table  ", s->header.imported.table_sha256);
    if (s->torn)
        oxl_page_field(out, "Torn", "the recording's last line was cut off and is left out");
}

void oxl_page_ending(struct oxl_buf *out, const struct oxl_test_record *s)
{
    recording(out, s);
    oxl_page_heading(out, "Cautions");
    for (size_t i = 0; i < oxl_cautions_count(); i++) {
        char label[24];
        snprintf(label, sizeof label, "%2zu. ", i + 1);
        oxl_page_text(out, label, oxl_caution(i));
    }
    oxl_buf_add(out, "\n");
    oxl_page_text(out, "", oxl_verify_words);
    oxl_buf_add(out, "\n\n%-40s%s\n%-40s%s\n", "______________________________",
                "______________________________", "Technician, date", "Customer, date");
}

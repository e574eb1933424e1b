/* Everything that the description of a page says stands in each of its settings, and no level of
 * detail drops a part. poppler reads the PDF; without it that half is skipped. */
#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "long.h"
#include "set/layout.h"
#include "unit/page/help_record.h"

static struct oxl_test_record first, second;
static struct oxl_report_input told[2] = {{.record = &first}, {.record = &second}};
static struct oxl_page page;

/* Lines break differently in each setting, so blanks count for nothing. */
static void squeeze(char *text)
{
    char *to = text;
    for (; *text; text++)
        if (!isspace((unsigned char)*text))
            *to++ = *text;
    *to = '\0';
}

static void must_hold(const char *squeezed, const char *text, const char *where)
{
    char wanted[2048];
    assert_true(strlen(text) < sizeof wanted);
    memcpy(wanted, text, strlen(text) + 1);
    squeeze(wanted);
    if (!strstr(squeezed, wanted))
        fail_msg("the %s does not have \"%s\"", where, text);
}

/* Walks the description. drawn: a drawing stands for its words, which it names. */
static void must_hold_all(const char *squeezed, const char *where, bool text, bool drawn)
{
    assert_true(page.blocks_n > 30);
    for (size_t i = 0; i < page.blocks_n; i++) {
        const struct oxl_block *b = &page.blocks[i];
        const bool plot = b->kind == OXL_BLOCK_PLOT;
        if (text && (plot || b->kind == OXL_BLOCK_KEY))
            continue;
        must_hold(squeezed, oxl_page_str(&page, b->name), where);
        if (drawn && plot)
            must_hold(squeezed, page.plots[b->index].name, where);
        else if (drawn && b->kind == OXL_BLOCK_RULER)
            must_hold(squeezed, page.rulers[b->index].quantity, where);
        else
            must_hold(squeezed, oxl_page_str(&page, b->text), where);
    }
    for (size_t i = 0; !text && i < page.cells_n; i++)
        must_hold(squeezed, oxl_page_str(&page, page.cells[i]), where);
}

/* ---- settings as plain words ---------------------------------------------------------------- */

static void as_text(size_t n, struct oxl_buf *b)
{
    const struct oxl_report_input inputs[2] = {{.record = &first}, {.record = &second}};
    oxl_report_text(inputs, n, b);
}

/* Tags go, references become what they stand for. */
static void as_html(size_t n, struct oxl_buf *b)
{
    static const char *const refs[][2] = {
        {"&amp;", "&"}, {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&#39;", "'"}};
    oxl_report_html(told, n, OXL_PAPER_A4, b);
    char *to = b->data;
    for (const char *from = strstr(b->data, "<body>"); *from; from++) {
        if (*from == '<')
            from = strchr(from, '>');
        else if (*from == '&')
            for (size_t i = 0; i < sizeof refs / sizeof refs[0]; i++) {
                const size_t len = strlen(refs[i][0]);
                if (strncmp(from, refs[i][0], len) != 0)
                    continue;
                *to++ = refs[i][1][0];
                from += len - 1;
                break;
            }
        else
            *to++ = *from;
    }
    *to = '\0';
}

static bool as_pdf(size_t n, struct oxl_buf *b)
{
    char path[] = "/tmp/oxl-parts-XXXXXX", command[100], piece[4096];
    struct oxl_buf pdf = {0};
    const int fd = mkstemp(path);
    size_t got;
    oxl_report_pdf(told, n, OXL_PAPER_A4, &pdf);
    assert_false(pdf.failed);
    assert_int_equal(write(fd, pdf.data, pdf.len), (ssize_t)pdf.len);
    close(fd);
    oxl_buf_free(&pdf);
    /* -raw: in the order in which it was set, paragraph by paragraph */
    snprintf(command, sizeof command, "pdftotext -raw %s - 2>/dev/null", path);
    FILE *p = popen(command, "r");
    while ((got = fread(piece, 1, sizeof piece, p)) > 0)
        oxl_buf_put(b, piece, got);
    const bool read = pclose(p) == 0;
    unlink(path);
    return read;
}

/* ---- tests ---------------------------------------------------------------------------------- */

static void tell(size_t which)
{
    struct oxl_test_record *(*const kinds[])(void) = {story_low, story_held, story_stopped};
    first = *kinds[which]();
    second = *kinds[(which + 1) % 3]();
}

static void text_has_every_part(void **state)
{
    (void)state;
    for (size_t k = 0; k < 3; k++)
        for (size_t n = 1; n <= 2; n++) {
            struct oxl_buf b = {0};
            tell(k);
            oxl_page_make(&page, told, n, OXL_DETAIL_WHOLE);
            as_text(n, &b);
            /* The cells of a row stand side by side, so they are looked for one by one. */
            for (size_t i = 0; i < page.cells_n; i++)
                if (!strchr(oxl_page_str(&page, page.cells[i]), ' '))
                    assert_non_null(strstr(b.data, oxl_page_str(&page, page.cells[i])));
            squeeze(b.data);
            must_hold_all(b.data, "text", true, false);
            oxl_page_free(&page);
            oxl_buf_free(&b);
        }
}

static void print_has_every_part(bool pdf) /* by default each kind alone or beside another */
{
    for (size_t k = 0; k < 3; k++)
        for (size_t n = long_or(1, 1 + (unsigned)k % 2); n <= long_or(2, 1 + (unsigned)k % 2);
             n++) {
            struct oxl_buf b = {0};
            struct oxl_layout l;
            tell(k);
            assert_true(oxl_layout_fit(told, n, OXL_PAPER_A4, pdf ? 0 : 0.05, &l));
            oxl_page_make(&page, told, n, l.detail);
            if (pdf && !as_pdf(n, &b))
                skip();
            if (!pdf)
                as_html(n, &b);
            squeeze(b.data);
            must_hold_all(b.data, pdf ? "PDF" : "HTML", false, pdf);
            oxl_page_free(&page);
            oxl_buf_free(&b);
        }
}

static void html_has_every_part(void **state)
{
    (void)state;
    print_has_every_part(false);
}

static void pdf_has_every_part(void **state)
{
    (void)state;
    print_has_every_part(true);
}

static void headings(size_t n, enum oxl_detail detail, char *out, size_t size)
{
    size_t at = 0;
    oxl_page_make(&page, told, n, detail);
    for (size_t i = 0; i < page.blocks_n; i++)
        if (page.blocks[i].kind == OXL_BLOCK_HEADING)
            at += (size_t)snprintf(out + at, size - at, "%s\n",
                                   oxl_page_str(&page, page.blocks[i].text));
    oxl_page_free(&page);
}

static void no_detail_drops_a_part(void **state)
{
    (void)state;
    for (size_t k = 0; k < 3; k++)
        for (size_t n = 1; n <= 2; n++) {
            static char whole[4096], less[4096];
            tell(k);
            headings(n, OXL_DETAIL_WHOLE, whole, sizeof whole);
            assert_non_null(strstr(whole, "Emission warranty and documents\n"));
            for (enum oxl_detail d = OXL_DETAIL_FULL; d < OXL_DETAIL_COUNT; d++) {
                headings(n, d, less, sizeof less);
                assert_string_equal(less, whole);
            }
        }
}

/* What a verdict may be mistaken for is in all three. */
static void other_causes_are_on_the_page(void **state)
{
    (void)state;
    char whole[4096];
    tell(0);
    headings(1, OXL_DETAIL_CLIPPED, whole, sizeof whole);
    assert_non_null(strstr(whole, "Could also be"));
}

/* ---- the order of the page ------------------------------------------------------------------ */

static void must_follow(const char *text, const char *const *words)
{
    for (const char *at = text; *words; words++) {
        const char *next = strstr(at, *words);
        if (!next)
            fail_msg("\"%s\" is not there, or stands too early", *words);
        at = next;
    }
}

/* The beginning of a step, which is less than a line. */
static const char *step(enum oxl_reason r, char out[32])
{
    snprintf(out, 32, "%.30s", oxl_reason_next(r));
    return out;
}

static void what_decides_stands_first(void **state)
{
    (void)state;
    char leak[32], rear[32];
    const char *const bad[] = {
        "Converter oxygen storage: BAD\n",
        "Decided by: delay at target 1.31 s (1.10 to 1.46) (bad below 2.0 s)\n",
        "What to do next\n",
        step(OXL_R_LEAK_CHECK_FIRST, leak),
        "Why\n",
        "The converter stored little oxygen.\n",
        "Could also be",
        "Figures\n",
        NULL};
    const char *const held[] = {"Converter oxygen storage: INCONCLUSIVE\n",
                                "Do this next: ",
                                step(OXL_R_REAR_NOT_SEEN_LEAN, rear),
                                "Measured: delay at target at least 8.50 s",
                                ", run 1\n",
                                "Why\n",
                                NULL};
    struct oxl_buf b = {0};
    tell(0);
    as_text(1, &b);
    must_follow(b.data, bad);
    assert_null(strstr(b.data, "verdict \""));
    oxl_buf_free(&b);
    tell(1);
    as_text(1, &b);
    must_follow(b.data, held);
    oxl_buf_free(&b);
}

/* No figure is named where nobody says which one decided; nothing measured is said. */
static void an_unknown_lead_is_left_out(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    tell(0);
    first.result.lead.figure = OXL_LEAD_NONE;
    as_text(1, &b);
    assert_null(strstr(b.data, "Decided by"));
    oxl_buf_free(&b);
    first.result.lead = (struct oxl_lead){OXL_LEAD_OXYGEN, {NAN, NAN, NAN}, 138, 428, 0};
    as_text(1, &b);
    assert_null(strstr(b.data, "Decided by"));
    oxl_buf_free(&b);
    first.result.lead.figure = OXL_LEAD_NONE;
    first.result.conclusion = OXL_CONCLUSION_NONE;
    first.result.valid_runs = 0;
    as_text(1, &b);
    assert_non_null(strstr(b.data, "\nNothing was measured\n"));
    oxl_buf_free(&b);
}

/* What the verdict says stands before why a run does not count. What the result left out of a run
 * that counts stands nowhere. */
static void the_verdicts_own_reason_is_the_first(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    char sentence[300];
    const char *const good[] = {"Converter oxygen storage: GOOD\n",
                                "Why\n---\n-  The converter stored plenty", sentence, " (run 3)\n",
                                NULL};
    tell(0);
    snprintf(sentence, sizeof sentence, "-  %.30s", oxl_reason_sentence(OXL_R_PART_EMPTIED));
    first.result.verdict = OXL_VERDICT_GOOD;
    first.result.conclusion = OXL_CONCLUSION_GOOD;
    first.result.reasons = OXL_REASON_BIT(OXL_R_GOOD_STORAGE);
    first.runs[2].reasons |= OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    as_text(1, &b);
    must_follow(b.data, good);
    oxl_buf_free(&b);
    first.runs[0].reasons |= OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    first.runs[2].reasons = 0;
    as_text(1, &b);
    assert_null(strstr(b.data, sentence));
    oxl_buf_free(&b);
}

/* Runs 1 and 2 of the record: the third does not count, and a deeper or a held one has no seconds
 * to compare. */
static void the_spread_names_its_runs(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    tell(0);
    as_text(1, &b);
    assert_non_null(strstr(b.data, "2 of 3; the delays of runs 1 and 2 lie within 0.02 s\n"));
    oxl_buf_free(&b);
    first.runs[2].valid = true;
    first.runs[2].deeper = true;
    first.result.valid_runs = 3;
    as_text(1, &b);
    assert_non_null(strstr(b.data, "3 of 3; the delays of runs 1 and 2 lie within 0.02 s\n"));
    oxl_buf_free(&b);
    first.result.spread_runs = 3; /* not those that one would think of */
    as_text(1, &b);
    assert_non_null(strstr(b.data, "3 of 3; the delays of 3 of them lie within 0.02 s\n"));
    oxl_buf_free(&b);
    first.result.spread_runs = 0;
    as_text(1, &b);
    assert_non_null(strstr(b.data, "3 of 3\n"));
    oxl_buf_free(&b);
}

/* The same span reads the same on the page and wherever the one formatter is asked. */
static void an_open_estimate_is_withheld_everywhere(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    tell(0);
    first.result.o2_mg = first.runs[0].o2_mg = (struct oxl_span){642, 541, INFINITY};
    as_text(1, &b);
    assert_non_null(strstr(b.data, "Oxygen stored    at least 541 mg\n"));
    assert_non_null(strstr(b.data, " at least 541 "));
    assert_null(strstr(b.data, "642"));
    oxl_buf_free(&b);
    as_html(1, &b);
    assert_null(strstr(b.data, "642"));
    oxl_buf_free(&b);
}

/* A run that the judge takes for a bound is one in the table, at its plot, and in the words. */
static void a_part_emptied_run_is_a_bound(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    tell(0);
    as_text(1, &b);
    assert_non_null(strstr(b.data, "1.26 (1.16..1.38)"));
    oxl_buf_free(&b);
    first.runs[0].reasons |= OXL_REASON_BIT(OXL_R_PART_EMPTIED);
    as_text(1, &b);
    assert_non_null(strstr(b.data, " at least 1.16 "));
    assert_non_null(strstr(b.data, " at least 70 "));
    assert_null(strstr(b.data, "1.26 (1.16"));
    oxl_buf_free(&b);
    oxl_page_make(&page, told, 1, OXL_DETAIL_FULL);
    size_t plots = 0;
    for (size_t i = 0; i < page.blocks_n; i++)
        plots += strcmp(oxl_page_str(&page, page.blocks[i].text), "Run 1: at least 1.16 s") == 0;
    assert_int_equal(plots, 1);
    oxl_page_free(&page);
}

/* Each test of two leads with what decided it, as a page of its own does. */
static void each_of_two_leads_with_what_decided(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    tell(0);
    second = first;
    strcpy(second.sha256, "another");
    second.result.conclusion = OXL_CONCLUSION_NONE;
    second.result.lead = (struct oxl_lead){OXL_LEAD_OXYGEN, {NAN, 281, INFINITY}, 138, 428, 2};
    as_text(2, &b);
    squeeze(b.data);
    must_hold(b.data, "BAD, decided by: delay at target 1.31 s (1.10 to 1.46) (bad below 2.0 s)",
              "text");
    must_hold(b.data,
              "INCONCLUSIVE, measured: stored oxygen at least 281 mg (bad below 138, good above "
              "428 mg), run 2",
              "text");
    must_hold(b.data, "runs; the ECU refreshes front, rear and trims every 0.1 s", "text");
    oxl_buf_free(&b);
}

/* No id of the program's own stands among the words, and none says a thing twice. */
static void checks_are_named_in_words(void **state)
{
    static const char *const rows[][3] = {
        {"sensors-bank-1", "bank 1: front wide-range", "pass  oxygen sensors of bank 1: front"},
        {"ready-o2_sensor", "oxygen sensor monitor complete", "pass  oxygen sensor monitor comp"},
        {"unit-7E8", "gives no name", "pass  ECU 7E8: gives no name"},
        {"stored-P0420", "Catalyst efficiency", "pass  stored P0420: Catalyst efficiency"},
        {"leak-check-1", "rear +0.10 V", "pass  leak check 1: rear +0.10 V"},
        {"rear-proof", "rich at 2.5 s", "pass  rear sensor: rich at 2.5 s"},
        {"trim-room", "total trim +2.3 %", "pass  total trim +2.3 %"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct oxl_check c = {.grade = OXL_GRADE_PASS};
        char name_and_text[200];
        snprintf(c.id, sizeof c.id, "%s", rows[i][0]);
        snprintf(c.found, sizeof c.found, "%s", rows[i][1]);
        oxl_page_make(&page, told, 1, OXL_DETAIL_WHOLE);
        oxl_part_check(&page, &c);
        const struct oxl_block *b = &page.blocks[page.blocks_n - 1];
        snprintf(name_and_text, sizeof name_and_text, "%s  %s", oxl_page_str(&page, b->name),
                 oxl_page_str(&page, b->text));
        assert_ptr_equal(strstr(name_and_text, rows[i][2]), name_and_text);
        oxl_page_free(&page);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_has_every_part),
        cmocka_unit_test(html_has_every_part),
        cmocka_unit_test(pdf_has_every_part),
        cmocka_unit_test(no_detail_drops_a_part),
        cmocka_unit_test(other_causes_are_on_the_page),
        cmocka_unit_test(what_decides_stands_first),
        cmocka_unit_test(an_unknown_lead_is_left_out),
        cmocka_unit_test(the_verdicts_own_reason_is_the_first),
        cmocka_unit_test(the_spread_names_its_runs),
        cmocka_unit_test(an_open_estimate_is_withheld_everywhere),
        cmocka_unit_test(a_part_emptied_run_is_a_bound),
        cmocka_unit_test(each_of_two_leads_with_what_decided),
        cmocka_unit_test(checks_are_named_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

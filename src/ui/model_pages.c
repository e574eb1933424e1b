/* Which page is shown, and what takes it away: a key, a hand that is needed, ten seconds. */
#include "headline.h"
#include "model.h"

void oxl_model_page(struct oxl_model *m, enum oxl_page page)
{
    m->page = page;
    m->quizzing = m->quizzing || page == OXL_PAGE_QUIZ;
    m->checks_held = false;
    m->screenful = m->furthest = 0;
}

enum oxl_page oxl_model_current_page(const struct oxl_model *m)
{
    return m->page;
}

void oxl_model_turn(struct oxl_model *m, int screenfuls)
{
    m->screenful += screenfuls;
    /* The cautions do not wrap around backwards: the last part would be shown before the others. */
    if (m->page == OXL_PAGE_CAUTIONS && m->screenful < 0)
        m->screenful = 0;
    m->furthest = m->screenful > m->furthest ? m->screenful : m->furthest;
}

bool oxl_model_page_key(struct oxl_model *m, int key)
{
    enum oxl_page home = m->quizzing ? OXL_PAGE_QUIZ : OXL_PAGE_TEST, now = m->page;
    enum oxl_page want = key == '?'                   ? OXL_PAGE_HELP
                         : key == 'c' && !m->quizzing ? OXL_PAGE_CHECKS
                                                      : home;
    if (key < 0)
        return false;
    m->caution_unseen = false;
    if (key == OXL_TERM_UP || key == OXL_TERM_DOWN)
        oxl_model_turn(m, key == OXL_TERM_UP ? -1 : 1);
    else if (want != home || now != home)
        oxl_model_page(m, want == now ? home : want);
    else
        return false;
    return true;
}

/* ---- the pre-check stays until it was seen ----------------------------------------------------
 */
static const int64_t seen_us = 10000000;

double oxl_model_checks_left_s(const struct oxl_model *m)
{
    bool held = m->page == OXL_PAGE_CHECKS && m->checks_held && m->caution_unseen;
    return held ? (double)(m->caution_us + seen_us - m->around.now_us) / 1e6 : 0;
}

void oxl_model_hold_checks(struct oxl_model *m)
{
    if (m->caution_unseen && m->page == OXL_PAGE_TEST && m->config.mode != OXL_UI_REPLAY &&
        m->around.now_us < m->caution_us + seen_us) {
        oxl_model_page(m, OXL_PAGE_CHECKS);
        m->checks_held = true;
    }
}

void oxl_model_let_checks_go(struct oxl_model *m, bool hand)
{
    if (m->checks_held && (hand || oxl_model_checks_left_s(m) <= 0))
        oxl_model_page(m, OXL_PAGE_TEST);
}

/* Whatever is shown gives way to an instruction that needs a hand. The cautions are read before
 * the test; a quiz is of a recording, and its other pages hold the answers. */
void oxl_model_give_way(struct oxl_model *m, enum oxl_advice a)
{
    bool before = m->page == OXL_PAGE_CAUTIONS && m->state == OXL_STATE_PRECHECK;
    if (m->page != OXL_PAGE_TEST && !before && !m->quizzing && oxl_headline_asks_a_hand(a))
        oxl_model_page(m, OXL_PAGE_TEST);
}

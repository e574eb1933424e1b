#include "help_inspect.h"

#include <string.h>

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct bench *b = ctx;
    oxl_sim_write(b->sim, bytes, n, 0, t_us);
    for (size_t i = 0; i < n && b->sent_n + 1 < sizeof b->sent; i++)
        b->sent[b->sent_n++] = bytes[i] == '\r' ? '\n' : bytes[i];
    if (bytes[n - 1] != '\r' && b->sent_n + 1 < sizeof b->sent)
        b->sent[b->sent_n++] = '~';
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    (void)ctx, (void)baud, (void)t_us;
}

static void on_reopen(void *ctx, int64_t t_us)
{
    (void)ctx, (void)t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct bench *b = ctx;
    b->checks += ev->kind == OXL_EV_CHECK;
}

static void feed(struct bench *b, enum oxl_input_kind kind, const char *bytes, size_t n)
{
    struct oxl_input in = {.kind = kind, .t_us = b->now_us, .bytes = bytes, .n = n};
    oxl_inspect_step(b->core, &in);
}

/* The port goes and comes with the adapter. */
static void follow_plug(struct bench *b)
{
    bool in = oxl_sim_plugged(b->sim, b->now_us);
    if (in == !b->out)
        return;
    b->out = !in;
    feed(b, in ? OXL_IN_LINK_UP : OXL_IN_LINK_DOWN, NULL, 0);
}

const struct oxl_inspection *inspect_with(struct bench *b, const char *ini,
                                          const struct oxl_session_config *config, uint64_t seed)
{
    struct oxl_scenario *scenario;
    struct oxl_error err = {OXL_OK, ""};
    if (oxl_scenario_parse(ini, "test.ini", &scenario, &err) != OXL_OK)
        fail_msg("%s", err.text);
    memset(b, 0, sizeof *b);
    b->sim = oxl_sim_new(scenario, seed, OXL_TECH_BY_HAND);
    oxl_scenario_free(scenario);
    const struct oxl_session_out out = {b, on_send, on_speed, on_reopen, on_event};
    b->core = oxl_inspect_new(config, &out);
    assert_non_null(b->core);
    feed(b, OXL_IN_LINK_UP, NULL, 0);
    while (!oxl_inspect_over(b->core) && b->now_us < 300000000) {
        char buf[512];
        int64_t sim_us = oxl_sim_due_us(b->sim), due_us = oxl_inspect_due_us(b->core);
        int64_t next_us = sim_us < due_us ? sim_us : due_us;
        if (next_us > b->now_us)
            b->now_us = next_us;
        follow_plug(b);
        size_t n = oxl_sim_read(b->sim, buf, sizeof buf, b->now_us);
        if (n)
            feed(b, OXL_IN_RX, buf, n);
        feed(b, OXL_IN_TICK, NULL, 0);
    }
    assert_true(oxl_inspect_over(b->core));
    return oxl_inspect_found(b->core);
}

const struct oxl_inspection *inspect_seed(struct bench *b, const char *ini, unsigned bank,
                                          uint64_t seed)
{
    struct oxl_session_config config = {.bank = bank};
    oxl_profile_defaults(&config.profile);
    return inspect_with(b, ini, &config, seed);
}

const struct oxl_inspection *inspect_bank(struct bench *b, const char *ini, unsigned bank)
{
    return inspect_seed(b, ini, bank, 1);
}

const struct oxl_inspection *inspect(struct bench *b, const char *ini)
{
    return inspect_bank(b, ini, 1);
}

enum oxl_status outcome(const struct bench *b)
{
    const char *text;
    return oxl_inspect_outcome(b->core, &text);
}

/* A line that loses its first characters must not begin with the service that clears codes: such a
 * text is sent without its CR until the echo has proved it. */
static void harmless(const char *line)
{
    if (strstr(line + 1, "04"))
        assert_non_null(strchr(line, '~'));
}

void done(struct bench *b)
{
    char *rest = b->sent;
    for (char *line; (line = strtok_r(NULL, "\n", &rest));) {
        const char *word = line + strspn(line, " ");
        if (strncmp(word, "AT", 2) == 0)
            continue;
        assert_non_null(strstr("01 02 03 05 06 07 09 0A", (char[]){word[0], word[1], 0}));
        harmless(line);
    }
    oxl_inspect_free(b->core);
    oxl_sim_free(b->sim);
}

const struct oxl_check *check_of(const struct oxl_inspection *v, const char *id)
{
    for (size_t i = 0; i < v->checks_n; i++)
        if (strcmp(v->checks[i].id, id) == 0)
            return &v->checks[i];
    fail_msg("no line \"%s\"", id);
    return NULL;
}

void graded(const struct oxl_inspection *v, const char *id, enum oxl_grade grade)
{
    const struct oxl_check *c = check_of(v, id);
    if (c->grade != grade)
        fail_msg("%s is %s: %s", id, oxl_grade_name(c->grade), c->found);
    /* Whoever reads a caution or a stop is told what to do. */
    assert_true(c->found[0]);
    if (grade >= OXL_GRADE_CAUTION)
        assert_true(strlen(c->advice) > 8);
}

const struct oxl_monitor_result *result_of(const struct oxl_inspection *v, unsigned monitor,
                                           unsigned test, unsigned component)
{
    for (size_t i = 0; i < v->onboard.results_n; i++) {
        const struct oxl_monitor_result *r = &v->onboard.results[i];
        if (r->monitor == monitor && r->test == test && r->component == component)
            return r;
    }
    return NULL;
}

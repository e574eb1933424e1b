#include "core.h"

struct oxl_session_config oxl_core_as_recorded(const struct oxl_record_header *h)
{
    return (struct oxl_session_config){.profile = h->profile,
                                       .profile_given = h->profile_given,
                                       .bank = h->bank,
                                       .runs = h->runs,
                                       .speed_baud = h->speed_baud,
                                       .has_speed = h->has_speed,
                                       .no_identity = h->mask_vin,
                                       .schedule = h->schedule,
                                       .procedure = h->procedure,
                                       .imported = h->imported};
}

static void no_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    (void)ctx, (void)bytes, (void)n, (void)t_us;
}

static void no_speed(void *ctx, unsigned baud, int64_t t_us)
{
    (void)ctx, (void)baud, (void)t_us;
}

static void no_reopen(void *ctx, int64_t t_us)
{
    (void)ctx, (void)t_us;
}

struct oxl_session_out oxl_core_without_link(void *ctx,
                                             void (*event)(void *ctx, const struct oxl_event *ev))
{
    return (struct oxl_session_out){ctx, no_send, no_speed, no_reopen, event};
}

enum oxl_status oxl_core_open(struct oxl_core *c, bool inspection,
                              const struct oxl_session_config *config,
                              const struct oxl_session_out *out, struct oxl_error *err)
{
    if (inspection)
        c->inspect = oxl_inspect_new(config, out);
    else
        c->session = oxl_session_new(config, out);
    return c->inspect || c->session ? OXL_OK : oxl_fail(err, OXL_ERR_NOMEM, "no memory");
}

void oxl_core_close(struct oxl_core *c)
{
    oxl_session_free(c->session);
    oxl_inspect_free(c->inspect);
    *c = (struct oxl_core){NULL, NULL};
}

bool oxl_core_step(const struct oxl_core *c, const struct oxl_input *in)
{
    return c->inspect ? oxl_inspect_step(c->inspect, in) : oxl_session_step(c->session, in);
}

int64_t oxl_core_due_us(const struct oxl_core *c)
{
    return c->inspect ? oxl_inspect_due_us(c->inspect) : oxl_session_due_us(c->session);
}

bool oxl_core_over(const struct oxl_core *c)
{
    return c->inspect ? oxl_inspect_over(c->inspect) : oxl_session_over(c->session);
}

enum oxl_status oxl_core_outcome(const struct oxl_core *c, const char **text)
{
    return c->inspect ? oxl_inspect_outcome(c->inspect, text)
                      : oxl_session_outcome(c->session, text);
}

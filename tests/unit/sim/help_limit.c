#include "help_limit.h"

#include <math.h>

#include "sim/adapter.h"

/* Mean of max(0, L + U) with U uniform in [-J, J]. */
static double mean_latency_us(const struct oxl_adapter_settings *s)
{
    if (s->jitter_ms <= s->latency_ms)
        return 1000 * s->latency_ms;
    double top = s->latency_ms + s->jitter_ms;
    return 1000 * top * top / (4 * s->jitter_ms);
}

static double mean_answer_us(const struct oxl_adapter *a)
{
    double min, max;
    oxl_ad_answer_range_ms(a, &min, &max);
    return 500 * (min + max);
}

/* Characters of one reply line on CAN, headers shown and spaces off, with its CR. */
static unsigned can_line_chars(const struct oxl_adapter *a)
{
    return oxl_ad_is_can29(a->set.protocol) ? 8 + 16 + 1 : 3 + 16 + 1;
}

/* Counted from the end of the first frame. */
struct reply {
    double last_frame_us; /* until the last frame has ended */
    double said_us;       /* until the last character has left, when nothing more is waited for */
};

/* Each line waits for its frame and for the line before it. The last two characters are the
 * prompt's. Off CAN a reply is one frame. */
static struct reply reply_of(const struct oxl_adapter *a, unsigned reply_chars)
{
    const double char_us = (double)oxl_ad_char_ns(a) / 1000;
    unsigned line = can_line_chars(a);
    unsigned lines = reply_chars > 2 ? (reply_chars - 2) / line : 0;
    if (!oxl_ad_is_can(a->set.protocol) || lines <= 1)
        return (struct reply){0, reply_chars * char_us};
    double frame_us = 0, free_us = 0;
    for (unsigned i = 0; i < lines; i++) {
        if (i > 0)
            frame_us += (double)oxl_ad_bus_next_frame_us(a->set.protocol, i == 1);
        free_us = fmax(free_us, frame_us) + line * char_us;
    }
    return (struct reply){frame_us, free_us + (reply_chars - lines * line) * char_us};
}

/* Payload bytes of a reply off CAN, from its characters: header, checksum, two CR, prompt. */
static size_t payload_bytes(unsigned reply_chars)
{
    unsigned bytes = reply_chars > 3 ? (reply_chars - 3) / 2 : 0;
    return bytes > 4 ? bytes - 4 : 0;
}

/* From the end of the first frame until the prompt. Without the reply count every frame starts the
 * adapter's wait anew, so it counts from the end of the last; the line is mostly free by then. An
 * adaptive wait has no closed form: what it has learned up to now stands for it. */
static double until_prompt_us(const struct oxl_adapter *a, struct reply reply, double answer_us)
{
    if (a->set.reply_count)
        return reply.said_us;
    double min, max;
    oxl_ad_answer_range_ms(a, &min, &max);
    double longest_ms =
        a->learned_ms > 0 ? a->learned_ms : max + (answer_us - mean_answer_us(a)) / 1000;
    double prompt_us = 2 * (double)oxl_ad_char_ns(a) / 1000;
    double wait_us = (double)oxl_ad_wait_us(a, longest_ms);
    return fmax(reply.said_us, reply.last_frame_us + wait_us + prompt_us);
}

double limit_hz(const struct oxl_adapter *a, unsigned request_chars, unsigned reply_chars)
{
    const unsigned p = a->set.protocol;
    const double char_us = (double)oxl_ad_char_ns(a) / 1000;
    /* CR and an odd count digit are not payload. */
    size_t request_bytes = request_chars > 1 ? (request_chars - 1) / 2 : 0;
    double answer_us =
        mean_answer_us(a) + (double)oxl_ad_bus_message_us(p, payload_bytes(reply_chars));
    double bus_us = (double)oxl_ad_bus_request_us(p, request_bytes) + answer_us;
    double between_us = until_prompt_us(a, reply_of(a, reply_chars), answer_us) +
                        request_chars * char_us + mean_latency_us(&a->set);
    between_us = fmax(between_us, (double)oxl_ad_bus_gap_us(p));
    return 1e6 / (bus_us + between_us);
}

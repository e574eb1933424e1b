/* Any text as a scenario: it is refused with a sentence that names the line, or the vehicle that it
 * describes runs, answers and never gives a value that is no number. */
#include <math.h>

#include "help_fuzz.h"
#include "oxylag/sim.h"

static void ask(struct oxl_sim *sim, const char *request, int64_t t_us)
{
    char reply[64];
    size_t total = 0, n;
    oxl_sim_write(sim, request, strlen(request), 0, t_us);
    int64_t until_us = t_us + 1000000, at_us = t_us;
    for (int steps = 0; at_us < until_us; steps++) {
        CHECK(steps < 100000);
        while ((n = oxl_sim_read(sim, reply, sizeof reply, at_us)) > 0)
            total += n;
        int64_t due_us = oxl_sim_due_us(sim);
        CHECK(due_us > at_us);
        at_us = due_us < until_us ? due_us : until_us;
    }
    CHECK(total < 100000);
}

static void run(const struct oxl_scenario *scenario)
{
    struct oxl_sim *sim = oxl_sim_new(scenario, 1, OXL_TECH_ALONE);
    struct oxl_truth truth;
    char line[1024];
    CHECK(sim);
    ask(sim, "ATZ\r", 0);
    ask(sim, "0100\r", 1000000);
    ask(sim, "010C\r", 3000000);
    ask(sim, "0124\r", 4000000);
    oxl_sim_run(sim, 8000000);
    for (size_t i = 0; i < oxl_sim_truth_count(sim); i++)
        if (oxl_sim_truth(sim, i, &truth))
            CHECK(oxl_sim_truth_json(&truth, line, sizeof line) > 0);
    CHECK(oxl_sim_truth_header(sim, line, sizeof line) > 0);
    oxl_sim_free(sim);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct oxl_scenario *scenario = NULL;
    struct oxl_error err = {.status = OXL_OK};
    char *text = text_of(data, size);
    if (oxl_scenario_parse(text, "fuzz.ini", &scenario, &err) == OXL_OK)
        run(scenario);
    else
        CHECK(!scenario && err.status == OXL_ERR_FORMAT && strncmp(err.text, "fuzz.ini:", 9) == 0);
    oxl_scenario_free(scenario);
    free(text);
    return 0;
}

/* What can be practised without a vehicle. */
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "home.h"
#include "oxylag/sim.h"

enum { SIMULATED, LESSONS, CLASS, CHOICES };
static const struct oxl_choice choices[CHOICES] = {
    [SIMULATED] = {"Simulated vehicle", "the guided test, as on a vehicle", "oxylag demo"},
    [LESSONS] = {"Lessons", "twelve recorded tests in order, each with a quiz", "oxylag lessons"},
    [CLASS] = {"Class table", "what each trainee reached", "oxylag lessons --class"},
};

static const char *const list_keys[][2] = {
    {"up/down", "move"}, {"Enter", "take it"}, {"Esc", "back"}, {NULL, NULL}};

void oxl_home_practise_menu(struct oxl_list *l)
{
    oxl_home_choices(l, choices, CHOICES);
}

/* ---- simulated vehicles ---------------------------------------------------------------------- */
static const char *scenario_cell(const void *ctx, size_t row, size_t column)
{
    (void)ctx;
    return column ? oxl_scenario_builtin_title(row) : oxl_scenario_builtin_name(row);
}

void oxl_home_scenarios(struct oxl_list *l)
{
    *l = (struct oxl_list){.columns = {{"", 20}, {"", 0}},
                           .columns_n = 2,
                           .rows_n = oxl_scenario_builtin_count(),
                           .cell = scenario_cell,
                           .filters = true};
    for (size_t i = 0; i < l->rows_n; i++)
        if (strcmp(oxl_scenario_builtin_name(i), "good") == 0)
            l->selected = i;
}

/* True: home from there. */
static bool simulated(struct oxl_home *h)
{
    struct oxl_list l;
    char command[160];
    oxl_home_scenarios(&l);
    struct oxl_screen s = {.title = "PRACTISE",
                           .sentence = "Pick a simulated vehicle; type a word to find one.",
                           .list = &l,
                           .command = command,
                           .note_ink = OXL_INK_TEXT,
                           .keys = list_keys};
    for (;;) {
        s.note = oxl_list_has(&l) ? oxl_scenario_builtin_title(l.selected) : "";
        snprintf(command, sizeof command, "oxylag demo --scenario %s",
                 oxl_list_has(&l) ? oxl_scenario_builtin_name(l.selected) : "..");
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        if (did == OXL_PANEL_BACK)
            return false;
        if (did != OXL_PANEL_OPEN)
            continue;
        snprintf(h->form.scenario, sizeof h->form.scenario, "%s",
                 oxl_scenario_builtin_name(l.selected));
        if (oxl_home_go(h, OXL_CMD_DEMO))
            return true;
    }
}

/* ---- the choice ------------------------------------------------------------------------------ */
void oxl_home_practise(struct oxl_home *h)
{
    static const char *const keys[][2] = {{"up/down", "move"},
                                          {"Enter", "take it"},
                                          {"1-3", "at once"},
                                          {"Esc", "back"},
                                          {NULL, NULL}};
    struct oxl_list l;
    oxl_home_practise_menu(&l);
    struct oxl_screen s = {.title = "PRACTISE",
                           .sentence = "Neither vehicle, gas nor adapter is needed.",
                           .list = &l,
                           .keys = keys};
    for (bool home = false; !home && h->panel.term && !oxl_signal_seen();) {
        s.command = choices[l.selected].command;
        s.note = h->note;
        s.note_ink = h->note_ink;
        enum oxl_panel_did did = oxl_panel_step(&h->panel, &s);
        home = did == OXL_PANEL_BACK;
        if (did != OXL_PANEL_OPEN)
            continue;
        h->note[0] = '\0';
        if (l.selected == SIMULATED)
            home = simulated(h);
        else if (l.selected == LESSONS)
            oxl_home_lessons(h);
        else
            oxl_home_class(h);
    }
}

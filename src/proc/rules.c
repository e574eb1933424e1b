#include "proc.h"

/* Ten seconds are two short sentences and a key, by judgement; the first procedure had twice that.
 */
static const struct oxl_rules table[] = {
    [OXL_PROCEDURE_1] = {.leak_offer_s = 20},
    [OXL_PROCEDURE_2] = {.until_decided = true, .leak_offer_s = 10},
    [OXL_PROCEDURE] = {.until_decided = true,
                       .watches_level = true,
                       .proves_rear = true,
                       .leak_offer_s = 10},
};

const struct oxl_rules *oxl_rules_of(enum oxl_procedure procedure)
{
    return &table[procedure ? procedure : OXL_PROCEDURE];
}

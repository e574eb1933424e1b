#ifndef OXL_SIM_SCENARIO_H
#define OXL_SIM_SCENARIO_H

#include "sim/parts.h"
#include "sim/plant_settings.h"
#include "sim/technician.h"

struct oxl_scenario {
    char name[40], title[120];
    struct oxl_ecu_settings ecu;
    struct oxl_adapter_settings adapter;
    struct oxl_plant_settings plant;
    struct oxl_tech_settings technician;
};

#endif

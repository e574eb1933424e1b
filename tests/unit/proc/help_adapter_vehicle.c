/* The vehicle behind it. */
#include "unit/poll/help_vehicle.c"

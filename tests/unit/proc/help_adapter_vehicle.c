/* The vehicle behind it. */
#include "unit/poll/help_vehicle.c" /* NOLINT(bugprone-suspicious-include): one source, two rooms */

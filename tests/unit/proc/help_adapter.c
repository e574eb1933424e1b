/* The scripted adapter of the room poll, for what in this room asks a whole vehicle. */
#include "unit/poll/help_adapter.c"

/* Memory of the JSON library, which goes on when it is refused (jansson 2.14): a character is
 * missing then, or an assertion ends the program. So its allocations pass through here; a refused
 * one is served from a reserve, and is remembered. */
#ifndef OXL_APP_JSON_MEMORY_H
#define OXL_APP_JSON_MEMORY_H

#include <stdbool.h>

/* From now on; what was refused before is forgotten. Nothing that the library gave may be kept over
 * this. */
void oxl_json_watch(void);
/* What it read or wrote since may lack something. */
bool oxl_json_starved(void);

#endif

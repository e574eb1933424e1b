/* An inspection as a page of text, 80 columns. */
#ifndef OXL_APP_INSPECT_PAGE_H
#define OXL_APP_INSPECT_PAGE_H

#include "oxylag/inspect.h"
#include "oxylag/report.h"

void oxl_inspect_page(const struct oxl_inspection *v, const char *port, bool mask_vin,
                      struct oxl_buf *out);

#endif

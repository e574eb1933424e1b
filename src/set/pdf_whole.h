/* Is a PDF what it says it is? */
#ifndef OXYLAG_SET_PDF_WHOLE_H
#define OXYLAG_SET_PDF_WHOLE_H

#include <stdbool.h>
#include <stddef.h>

/* True when the file ends in order and every object of its cross-reference table (ISO 32000-1
 * section 7.5.4, in the plain form that the drawing library writes) begins where the table says.
 * Looks at the frame only, not into the objects. */
bool oxl_pdf_is_whole(const char *data, size_t n);

#endif

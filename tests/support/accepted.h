/* Text that a person has read once, kept in a file under tests: what is made now must be the same.
 * After a change on purpose: run the test with OXL_ACCEPT=1, which writes the file anew, and read
 * the difference. docs/testing.md */
#ifndef ACCEPTED_H
#define ACCEPTED_H

/* Fails with the lines that differ, or when there is no such file. */
void accepted_compare(const char *path, const char *text);

#endif

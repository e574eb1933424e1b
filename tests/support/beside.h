/* Cases that wait in real time, side by side: together they take as long as the longest of them. */
#ifndef BESIDE_H
#define BESIDE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Runs each case in a process of its own, with its setup and teardown, and prints what they said in
 * their order. For main's return: how many failed. */
int run_beside(const struct CMUnitTest *tests, size_t n);

#endif

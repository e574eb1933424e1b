/* The words that an adapter says instead of, in front of or behind data. All functions take
 * compact text: upper case, no blanks (oxl_line_compact). Common practice, no source. */
#ifndef OXYLAG_WIRE_WORDS_H
#define OXYLAG_WIRE_WORDS_H

#include <stdbool.h>
#include <stddef.h>

#include "oxylag/wire.h"

/* The word that the whole text is, or NONE. */
enum oxl_word oxl_words_whole(const char *s);

/* A word in front: returns how many characters it takes (0: none). *word is NONE when there is
 * nothing to announce (the OK of a BUS INIT that was announced before). */
size_t oxl_words_lead(const char *s, enum oxl_word before, enum oxl_word *word);

/* An unfinished line that is exactly a leading word with its three dots: it can be announced
 * while the adapter still works. NONE when it is not. */
enum oxl_word oxl_words_progress(const char *s);

/* A word behind something: *prefix is the length of what stands before it. NONE when there is
 * none. What stands before such a word was spoilt or cut off. */
enum oxl_word oxl_words_behind(const char *s, size_t len, size_t *prefix);

#endif

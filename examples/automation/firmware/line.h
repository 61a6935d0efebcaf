/*
 * The serial line: words in, short answers out, 38400 baud, 8 data bits, no parity, 1 stop bit.
 */
#ifndef LINE_H
#define LINE_H

#include <stdbool.h>
#include <stdint.h>

#define LINE_WORDS 4

void line_start(void);

/*
 * Look for a complete line. Gives its words, at most LINE_WORDS, and how many there were; 0 while there is none. The
 * words stand until the next call. Lines that are too long or have too many words are answered `no`.
 */
uint8_t line_words(char *words[LINE_WORDS]);

void line_say(const char *text);

/* Read a whole number; false when the word is none or it does not fit. */
bool line_number(const char *word, int16_t *number);

#endif

/* Sick: words that are no instruction, once in about 4 ms. The signal stays clean. */
#include "clean.h"
#include <util/delay.h>

void astray(void) __attribute__((noinline));
void astray(void) { __asm__ volatile(".word 0x0001\n .word 0x00ff" ::: "memory"); }

int main(void)
{
    start_signal();
    sei();
    for (;;) {
        _delay_ms(4);
        astray();
    }
}

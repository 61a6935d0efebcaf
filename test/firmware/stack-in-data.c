/* Sick: calls go so deep that the stack overwrites the program's data. The signal stays clean. */
#include "clean.h"

volatile uint8_t table[1600];

uint16_t descend(uint8_t depth) __attribute__((noinline));
uint16_t descend(uint8_t depth)
{
    volatile uint8_t frame[40];
    for (uint8_t i = 0; i < sizeof frame; i++) frame[i] = depth;
    return depth == 0 ? frame[7] : descend(depth - 1) + frame[3];
}

int main(void)
{
    start_signal();
    sei();
    for (;;) table[0] = descend(12);
}

/*
 * A signal made by hardware alone: Timer 1 toggles PB1 in CTC mode, its interrupt loads the next half-bit. It stays
 * exact whatever the rest of the program does, as long as the interrupt comes within a half-bit: so only the
 * firmware's health can tell that the program is sick.
 */
#ifndef CLEAN_H
#define CLEAN_H
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <stdint.h>

#define ONE (58UL * (F_CPU / 1000000UL) - 1)
#define ZERO (100UL * (F_CPU / 1000000UL) - 1)

/* Idle packet: preamble of 16 ones, 0xFF, 0x00, 0xFF, each behind a zero, and the one that ends the packet. */
static const uint8_t line[] PROGMEM = {0xff, 0xff, 0x7f, 0x80, 0x1f, 0xf0};
#define LINE_BITS 44

/* GPIOR0 holds twice the bit, plus the half: no variable in RAM, which a sick program may overwrite. */
ISR(TIMER1_COMPA_vect)
{
    uint8_t state = GPIOR0 + 1;
    GPIOR0 = state;
    if (state & 1) return;
    uint8_t bit = state >> 1;
    if (bit >= LINE_BITS) GPIOR0 = bit = 0;
    OCR1A = (pgm_read_byte(&line[bit >> 3]) & (0x80 >> (bit & 7))) ? ONE : ZERO;
}

/* Does nothing when the signal is running: a restart of the program leaves the timer as it is. */
static inline void start_signal(void)
{
    if (TCCR1B) return;
    DDRB |= 1 << PB1;
    OCR1A = ONE;
    TCCR1A = 1 << COM1A0;
    TIMSK1 = 1 << OCIE1A;
    TCCR1B = 1 << WGM12 | 1 << CS10;
}
#endif

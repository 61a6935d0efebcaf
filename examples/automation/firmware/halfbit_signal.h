/*
 * The track signal of output "main" on PB2 of an ATmega328P at 16 MHz.
 * Written by `halfbit timers DESIGN --c FILE`. Change the design and write it again rather than edit it.
 *
 * How: Timer 1, fast PWM, bit period in OCR1A (mode 15), edge at half of it by OCR1B; both double-buffered.
 * Registers from data sheets DS40001906C, 8271H.
 * Clock: 16 MHz divided by 8; ceramic resonator, 1.1 % with temperature and ageing.
 * Half-bits:
 *   one: 116 ticks of 500 ns = 58 us; with the clock's tolerance 57.369 to 58.645 us; limits 55 to 61 us
 *     (S-9.1 2020 Table 1, confirmed)
 *   zero: 200 ticks of 500 ns = 100 us; with the clock's tolerance 98.91 to 101.11 us; limits 95 to 9900 us
 *     (S-9.1 2020 Table 1, confirmed)
 *   a zero can be stretched to halves of 5.934 ms
 *
 * Deadline: the load must be done 115.5 us after the start of the bit that asks for it; with about 7.94 us
 *   (assumed) for entry and work the interrupt may start 108 us late.
 * Missed: the old bit repeats: one wrong bit, caught by the error byte, and one packet lost; for a few cycles
 *   between the two writes, one half of a bit can get the length of another bit.
 * Double-buffered: what is loaded now goes out as the next bit.
 * Load: 8620.7 interrupts per second at most, about 5.2 % of the controller (assumed length of the interrupt;
 *   `halfbit simulate` measures it).
 * Takes: pin PB2; Timer 1; free PWM on PB1; servo output of the common libraries (common practice, no source).
 */
#ifndef HALFBIT_SIGNAL_H
#define HALFBIT_SIGNAL_H

#include <avr/io.h>
#include <stdbool.h>
#include <stdint.h>

#if !defined(__AVR_ATmega328P__)
#error "halfbit_signal: pins and registers are those of the ATmega328P"
#endif
#ifndef F_CPU
#error "F_CPU is not set: give the clock in Hz to the compiler, for example -DF_CPU=16000000UL"
#endif
#ifdef __cplusplus
#define HALFBIT_ASSERT static_assert
#else
#define HALFBIT_ASSERT _Static_assert
#endif
HALFBIT_ASSERT(F_CPU == 16000000UL, "the counts below are for 16 MHz; write the header again for another clock");

#define HALFBIT_VECTOR TIMER1_OVF_vect /* your ISR(HALFBIT_VECTOR) calls halfbit_load_bit */
#define HALFBIT_LOADS_BITS 1 /* 1: one interrupt per bit, 0: one per half-bit */
#define HALFBIT_PREAMBLE 16 /* ones before a packet, from the design */
#define HALFBIT_OCR1B_ONE 115u /* edge of OC1B: half-bit in ticks, minus one */
#define HALFBIT_OCR1B_ZERO 199u
#define HALFBIT_OCR1A_ONE 231u /* top: whole bit in ticks, minus one */
#define HALFBIT_OCR1A_ZERO 399u

/* Load the bit after the one that is going out. Call it first thing in ISR(HALFBIT_VECTOR). */
static inline __attribute__((always_inline)) void halfbit_load_bit(bool one) {
  OCR1B = one ? HALFBIT_OCR1B_ONE : HALFBIT_OCR1B_ZERO;
  OCR1A = one ? HALFBIT_OCR1A_ONE : HALFBIT_OCR1A_ZERO;
}

/* Set up pins and timer and start with ones, in one source file. Until the first edge PB2 is low; before this call,
 * and in reset, nothing drives them. The first edge comes within three ticks of the timer: call sei() next. */
static inline void halfbit_start(void) {
  TCCR1B = 0; /* stopped, and in a mode in which the compare registers take values at once */
  TCCR1A = 0;
  PORTB &= (uint8_t)~(1 << PB2);
  DDRB |= (1 << PB2);
  OCR1B = HALFBIT_OCR1B_ONE;
  OCR1A = HALFBIT_OCR1A_ONE;
  TCNT1 = HALFBIT_OCR1A_ONE - 2; /* just before the first bit, which sets the output */
  TCCR1A = (1 << COM1B1) | (1 << WGM11) | (1 << WGM10); /* 0x23: high from the start of a bit to the middle of it */
  TIFR1 = (1 << TOV1); /* forget what came before */
  TIMSK1 = (1 << TOIE1); /* interrupt at the start of every bit */
  TCCR1B = (1 << WGM13) | (1 << WGM12) | (1 << CS11); /* 0x1A: waveform mode 15, clock divided by 8; written last, it starts the counter */
}

/* Stop at the end of a low half, with all pins of the signal low. Waits for it, about 400 us at most. */
static inline void halfbit_stop(void) {
  if (TCCR1B == 0) return;
  TIFR1 = (1 << OCF1B);
  while (!(TIFR1 & (1 << OCF1B))) continue; /* the middle of a bit: PB2 is low */
  TIMSK1 &= (uint8_t)~(1 << TOIE1);
  TCCR1A &= (uint8_t)~((1 << COM1B1) | (1 << COM1B0)); /* PB2 stays low */
  TIFR1 = (1 << TOV1);
  while (!(TIFR1 & (1 << TOV1))) continue; /* the end of the half or bit */
  TCCR1B = 0;
  TCCR1A = 0; /* the pins belong to the port again */
  PORTB &= (uint8_t)~(1 << PB2);
}

#endif /* HALFBIT_SIGNAL_H */

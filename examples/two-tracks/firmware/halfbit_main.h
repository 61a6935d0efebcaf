/*
 * The track signal of output "main" on PB6 and, with the opposite level, PB7 of an ATmega2560 at 16 MHz.
 * Written by `halfbit timers DESIGN --c FILE`. Change the design and write it again rather than edit it.
 *
 * How: Timer 1, fast PWM, bit period in OCR1A (mode 15), edge at half of it by OCR1B; both double-buffered.
 * Registers from data sheet of the ATmega2560, from memory.
 * Clock: 16 MHz divided by 8; quartz crystal, 150 ppm with temperature and ageing.
 * Half-bits:
 *   one: 116 ticks of 500 ns = 58 us; with the clock's tolerance 57.991 to 58.009 us; limits 55 to 61 us
 *     (S-9.1 2020 Table 1, confirmed)
 *   zero: 200 ticks of 500 ns = 100 us; with the clock's tolerance 99.99 to 100.02 us; limits 95 to 9900 us
 *     (S-9.1 2020 Table 1, confirmed)
 *   a zero can be stretched to halves of 5.999 ms
 *
 * Deadline: the load must be done 115.5 us after the start of the bit that asks for it; with about 8 us
 *   (assumed) for entry and work the interrupt may start 108 us late.
 * Missed: the old bit repeats: one wrong bit, caught by the error byte, and one packet lost; for a few cycles
 *   between the two writes, one half of a bit can get the length of another bit.
 * Double-buffered: what is loaded now goes out as the next bit.
 * Load: 8620.7 interrupts per second at most, about 5.3 % of the controller (assumed length of the interrupt;
 *   `halfbit simulate` measures it).
 * Takes: pins PB6 and PB7; Timer 1; free PWM on PB5.
 */
#ifndef HALFBIT_MAIN_SIGNAL_H
#define HALFBIT_MAIN_SIGNAL_H

#include <avr/io.h>
#include <stdbool.h>
#include <stdint.h>

#if !defined(__AVR_ATmega2560__)
#error "halfbit_main_signal: pins and registers are those of the ATmega2560"
#endif
#ifndef F_CPU
#error "F_CPU is not set: give the clock in Hz to the compiler, for example -DF_CPU=16000000UL"
#endif
#ifdef __cplusplus
#define HALFBIT_MAIN_ASSERT static_assert
#else
#define HALFBIT_MAIN_ASSERT _Static_assert
#endif
HALFBIT_MAIN_ASSERT(F_CPU == 16000000UL, "the counts below are for 16 MHz; write the header again for another clock");

#define HALFBIT_MAIN_VECTOR TIMER1_OVF_vect /* your ISR(HALFBIT_MAIN_VECTOR) calls halfbit_main_load_bit */
#define HALFBIT_MAIN_LOADS_BITS 1 /* 1: one interrupt per bit, 0: one per half-bit */
#define HALFBIT_MAIN_PREAMBLE 16 /* ones before a packet, from the design */
#define HALFBIT_MAIN_OCR1B_ONE 115u /* edge of OC1B: half-bit in ticks, minus one */
#define HALFBIT_MAIN_OCR1B_ZERO 199u
#define HALFBIT_MAIN_OCR1C_ONE 115u /* edge of OC1C: half-bit in ticks, minus one */
#define HALFBIT_MAIN_OCR1C_ZERO 199u
#define HALFBIT_MAIN_OCR1A_ONE 231u /* top: whole bit in ticks, minus one */
#define HALFBIT_MAIN_OCR1A_ZERO 399u

/* Load the bit after the one that is going out. Call it first thing in ISR(HALFBIT_MAIN_VECTOR). */
static inline __attribute__((always_inline)) void halfbit_main_load_bit(bool one) {
  OCR1B = one ? HALFBIT_MAIN_OCR1B_ONE : HALFBIT_MAIN_OCR1B_ZERO;
  OCR1C = one ? HALFBIT_MAIN_OCR1C_ONE : HALFBIT_MAIN_OCR1C_ZERO;
  OCR1A = one ? HALFBIT_MAIN_OCR1A_ONE : HALFBIT_MAIN_OCR1A_ZERO;
}

/* Set up pins and timer and start with ones, in one source file. Until the first edge PB6 and PB7 are low; before this call,
 * and in reset, nothing drives them. The first edge comes within three ticks of the timer: call sei() next. */
static inline void halfbit_main_start(void) {
  TCCR1B = 0; /* stopped, and in a mode in which the compare registers take values at once */
  TCCR1A = 0;
  PORTB &= (uint8_t)~((1 << PB6) | (1 << PB7));
  DDRB |= (1 << PB6) | (1 << PB7);
  OCR1B = HALFBIT_MAIN_OCR1B_ONE;
  OCR1C = HALFBIT_MAIN_OCR1C_ONE;
  OCR1A = HALFBIT_MAIN_OCR1A_ONE;
  TCNT1 = HALFBIT_MAIN_OCR1A_ONE - 2; /* just before the first bit, which sets the output */
  TCCR1A = (1 << COM1B1) | (1 << COM1C1) | (1 << COM1C0) | (1 << WGM11) | (1 << WGM10); /* 0x2F: high from the start of a bit to the middle of it */
  TIFR1 = (1 << TOV1); /* forget what came before */
  TIMSK1 = (1 << TOIE1); /* interrupt at the start of every bit */
  TCCR1B = (1 << WGM13) | (1 << WGM12) | (1 << CS11); /* 0x1A: waveform mode 15, clock divided by 8; written last, it starts the counter */
}

/* Stop at the end of a low half, with all pins of the signal low. Waits for it, about 400 us at most. */
static inline void halfbit_main_stop(void) {
  if (TCCR1B == 0) return;
  TIFR1 = (1 << OCF1B);
  while (!(TIFR1 & (1 << OCF1B))) continue; /* the middle of a bit: PB6 is low */
  TIMSK1 &= (uint8_t)~(1 << TOIE1);
  TCCR1A &= (uint8_t)~((1 << COM1B1) | (1 << COM1B0)); /* PB6 stays low */
  TIFR1 = (1 << TOV1);
  while (!(TIFR1 & (1 << TOV1))) continue; /* the end of the half or bit */
  TCCR1B = 0;
  TCCR1A = 0; /* the pins belong to the port again */
  PORTB &= (uint8_t)~((1 << PB6) | (1 << PB7));
}

#endif /* HALFBIT_MAIN_SIGNAL_H */

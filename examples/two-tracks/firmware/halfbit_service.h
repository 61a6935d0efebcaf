/*
 * The track signal of output "service" on PE4 and, with the opposite level, PE5 of an ATmega2560 at 16 MHz.
 * Written by `halfbit timers DESIGN --c FILE`. Change the design and write it again rather than edit it.
 *
 * How: Timer 3, fast PWM, bit period in OCR3A (mode 15), edge at half of it by OCR3B; both double-buffered.
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
 * Takes: pins PE4 and PE5; Timer 3; free PWM on PE3.
 */
#ifndef HALFBIT_SERVICE_SIGNAL_H
#define HALFBIT_SERVICE_SIGNAL_H

#include <avr/io.h>
#include <stdbool.h>
#include <stdint.h>

#if !defined(__AVR_ATmega2560__)
#error "halfbit_service_signal: pins and registers are those of the ATmega2560"
#endif
#ifndef F_CPU
#error "F_CPU is not set: give the clock in Hz to the compiler, for example -DF_CPU=16000000UL"
#endif
#ifdef __cplusplus
#define HALFBIT_SERVICE_ASSERT static_assert
#else
#define HALFBIT_SERVICE_ASSERT _Static_assert
#endif
HALFBIT_SERVICE_ASSERT(F_CPU == 16000000UL, "the counts below are for 16 MHz; write the header again for another clock");

#define HALFBIT_SERVICE_VECTOR TIMER3_OVF_vect /* your ISR(HALFBIT_SERVICE_VECTOR) calls halfbit_service_load_bit */
#define HALFBIT_SERVICE_LOADS_BITS 1 /* 1: one interrupt per bit, 0: one per half-bit */
#define HALFBIT_SERVICE_PREAMBLE 22 /* ones before a packet, from the design */
#define HALFBIT_SERVICE_OCR3B_ONE 115u /* edge of OC3B: half-bit in ticks, minus one */
#define HALFBIT_SERVICE_OCR3B_ZERO 199u
#define HALFBIT_SERVICE_OCR3C_ONE 115u /* edge of OC3C: half-bit in ticks, minus one */
#define HALFBIT_SERVICE_OCR3C_ZERO 199u
#define HALFBIT_SERVICE_OCR3A_ONE 231u /* top: whole bit in ticks, minus one */
#define HALFBIT_SERVICE_OCR3A_ZERO 399u

/* Load the bit after the one that is going out. Call it first thing in ISR(HALFBIT_SERVICE_VECTOR). */
static inline __attribute__((always_inline)) void halfbit_service_load_bit(bool one) {
  OCR3B = one ? HALFBIT_SERVICE_OCR3B_ONE : HALFBIT_SERVICE_OCR3B_ZERO;
  OCR3C = one ? HALFBIT_SERVICE_OCR3C_ONE : HALFBIT_SERVICE_OCR3C_ZERO;
  OCR3A = one ? HALFBIT_SERVICE_OCR3A_ONE : HALFBIT_SERVICE_OCR3A_ZERO;
}

/* Set up pins and timer and start with ones, in one source file. Until the first edge PE4 and PE5 are low; before this call,
 * and in reset, nothing drives them. The first edge comes within three ticks of the timer: call sei() next. */
static inline void halfbit_service_start(void) {
  TCCR3B = 0; /* stopped, and in a mode in which the compare registers take values at once */
  TCCR3A = 0;
  PORTE &= (uint8_t)~((1 << PE4) | (1 << PE5));
  DDRE |= (1 << PE4) | (1 << PE5);
  OCR3B = HALFBIT_SERVICE_OCR3B_ONE;
  OCR3C = HALFBIT_SERVICE_OCR3C_ONE;
  OCR3A = HALFBIT_SERVICE_OCR3A_ONE;
  TCNT3 = HALFBIT_SERVICE_OCR3A_ONE - 2; /* just before the first bit, which sets the output */
  TCCR3A = (1 << COM3B1) | (1 << COM3C1) | (1 << COM3C0) | (1 << WGM31) | (1 << WGM30); /* 0x2F: high from the start of a bit to the middle of it */
  TIFR3 = (1 << TOV3); /* forget what came before */
  TIMSK3 = (1 << TOIE3); /* interrupt at the start of every bit */
  TCCR3B = (1 << WGM33) | (1 << WGM32) | (1 << CS31); /* 0x1A: waveform mode 15, clock divided by 8; written last, it starts the counter */
}

/* Stop at the end of a low half, with all pins of the signal low. Waits for it, about 400 us at most. */
static inline void halfbit_service_stop(void) {
  if (TCCR3B == 0) return;
  TIFR3 = (1 << OCF3B);
  while (!(TIFR3 & (1 << OCF3B))) continue; /* the middle of a bit: PE4 is low */
  TIMSK3 &= (uint8_t)~(1 << TOIE3);
  TCCR3A &= (uint8_t)~((1 << COM3B1) | (1 << COM3B0)); /* PE4 stays low */
  TIFR3 = (1 << TOV3);
  while (!(TIFR3 & (1 << TOV3))) continue; /* the end of the half or bit */
  TCCR3B = 0;
  TCCR3A = 0; /* the pins belong to the port again */
  PORTE &= (uint8_t)~((1 << PE4) | (1 << PE5));
}

#endif /* HALFBIT_SERVICE_SIGNAL_H */

/*
 * FLAWED ON PURPOSE: what a first firmware often looks like. Each fault is marked; the README tells how it shows.
 * Do not build on this one: take the firmware of the exhibition.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdbool.h>
#include <stdint.h>
#include <util/delay.h>

/* FAULT 1: the counts are for 20 MHz, the crystal on this board has 17.734475 MHz: every half is 12.8 % too long. */
#define ONE 144  /* 145 ticks of 0.4 us: 58 us, at 20 MHz */
#define ZERO 249 /* 250 ticks of 0.4 us: 100 us, at 20 MHz */

/* FAULT 2: ten ones before a packet, eleven with the end bit before them; fourteen are the least to send, and a decoder
   may want twelve. */
#define PREAMBLE 10

static const uint8_t packets[][4] = {
    {3, 0x03, 0x62, 0x61},  /* locomotive 3 forward, step 1 of 28 */
    {3, 0xFF, 0x00, 0xFF},  /* idle */
    {3, 0x2A, 0x6A, 0x40},  /* locomotive 42 forward, step 17 */
    {3, 0xFF, 0x00, 0xFF},  /* idle */
    {3, 0x03, 0x30, 0x33},  /* FAULT 3: 0011 0000 is no instruction of any standard */
    {3, 0xFF, 0x00, 0xFF},  /* idle */
    {3, 0x2A, 0x90, 0xBB},  /* FAULT 4: the error byte must be 0xBA */
    {3, 0xFF, 0x00, 0xFF},  /* idle */
};
#define PACKETS (sizeof packets / sizeof packets[0])

static uint8_t packet;
static uint8_t ones = PREAMBLE;
static uint8_t at; /* byte that comes next */
static uint8_t now;
static uint8_t mask;
static bool second; /* the second half of a bit goes out */

static bool next_bit(void) {
  if (ones) {
    ones--;
    return true;
  }
  if (mask) {
    bool one = now & mask;
    mask >>= 1;
    return one;
  }
  if (at < packets[packet][0]) {
    now = packets[packet][++at];
    mask = 0x80;
    return false;
  }
  at = 0;
  ones = PREAMBLE;
  packet = packet + 1u < PACKETS ? packet + 1 : 0;
  return true;
}

/* The compare register is not buffered: this must be done before the counter has passed the new value. */
ISR(TIMER1_COMPA_vect) {
  second = !second;
  if (second) return;
  OCR1A = next_bit() ? ONE : ZERO;
}

/*
 * FAULT 5: a sensor is read bit by bit with interrupts off, for longer than a half-bit. When the write comes late and
 * the new value lies below the counter, the counter runs to its end first: one pulse of 65536 ticks.
 */
static void read_sensor(void) {
  cli();
  for (uint8_t i = 0; i < 4; i++) {
    PORTD ^= (1 << PD4);
    _delay_us(28);
  }
  sei();
}

int main(void) {
  DDRB = (1 << PB1);
  DDRD = (1 << PD4);
  OCR1A = ONE;
  TCCR1A = (1 << COM1A0);
  TIMSK1 = (1 << OCIE1A);
  TCCR1B = (1 << WGM12) | (1 << CS11);
  sei();
  for (;;) {
    _delay_ms(23);
    read_sensor();
  }
}

/*
 * A command station for one main track: speed and functions for up to twelve locomotives over a serial line.
 *
 *   go ADDRESS SPEED          speed -126 … 126, negative in reverse
 *   key ADDRESS FUNCTION on   or off; function 0 is the light, up to 12
 *   forget ADDRESS            not refreshed any more
 *   halt                      emergency stop for all
 *   power on                  or off; off also after a short
 *
 * Each line is answered `ok` or `no`. A short is told as `short`.
 */
#include "halfbit_signal.h"
#include "line.h"
#include "turns.h"
#include "sender.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <string.h>

/* Enable input of the driver. Low from reset on (a resistor to ground holds it while the pin is still an input). */
#define ENABLE PB0

static struct sender track;

/* The timer has begun a bit and will want the next one when this bit ends: see the deadline in halfbit_signal.h. */
ISR(HALFBIT_VECTOR) {
  halfbit_load_bit(sender_next(&track));
}

/*
 * Current: 0.1 ohm in the ground lead of the main driver, on ADC0 against the internal 1.1 V, so one count is about
 * 10.7 mA. This trips the main district long before the driver's own protection would; yard and branch have breakers.
 */
#define TRIP_COUNTS 326 /* about 3.5 A, below what the driver carries for long with its cooling */
#define TRIP_READINGS 20 /* in a row, one each 104 us: 2 ms, so that capacitors in cars may charge */

static void sense_start(void) {
  ADMUX = (1 << REFS1) | (1 << REFS0);
  ADCSRB = 0;
  ADCSRA = (1 << ADEN) | (1 << ADSC) | (1 << ADATE) | (1 << ADPS2) | (1 << ADPS1) | (1 << ADPS0);
}

static void sense_poll(void) {
  static uint8_t over;
  if (!(ADCSRA & (1 << ADIF))) return;
  ADCSRA |= (1 << ADIF);
  over = ADC > TRIP_COUNTS ? over + 1 : 0;
  if (over < TRIP_READINGS) return;
  over = 0;
  PORTB &= ~(1 << ENABLE);
  line_say("short\n");
}

static bool is(const char *word, const char *wanted) {
  return strcmp(word, wanted) == 0;
}

static bool obey(char *words[], uint8_t count) {
  int16_t address;
  int16_t value;
  if (count == 1 && is(words[0], "halt")) {
    turns_halt();
    return true;
  }
  if (count == 2 && is(words[0], "power")) {
    if (is(words[1], "on")) PORTB |= (1 << ENABLE);
    else if (is(words[1], "off")) PORTB &= ~(1 << ENABLE);
    else return false;
    return true;
  }
  if (count < 2 || !line_number(words[1], &address) || address < 0) return false;
  if (count == 2 && is(words[0], "forget")) return turns_forget(address);
  if (count < 3 || !line_number(words[2], &value)) return false;
  if (count == 3 && is(words[0], "go")) return turns_drive(address, value);
  if (count == 4 && is(words[0], "key") && value >= 0 && value <= 12) {
    if (is(words[3], "on")) return turns_key(address, value, true);
    if (is(words[3], "off")) return turns_key(address, value, false);
  }
  return false;
}

/* Keep both buffers filled. */
static void feed(void) {
  for (struct packet *buffer; (buffer = sender_buffer(&track)) != NULL;) {
    turns_next(buffer);
    sender_commit(&track);
  }
}

int main(void) {
  /* A round takes a few ms at most. Where the loop hangs nothing watches the current: begin anew, with every train stopped. */
  wdt_enable(WDTO_250MS);
  line_start();
  sense_start();
  turns_start();
  sender_start(&track, HALFBIT_PREAMBLE);
  feed();
  halfbit_start();
  /* Track power comes only when the signal is there: a decoder may take bare direct current for analog running. */
  PORTB &= ~(1 << ENABLE);
  DDRB |= (1 << ENABLE);
  PORTB |= (1 << ENABLE);
  sei();
  for (;;) {
    wdt_reset();
    feed();
    sense_poll();
    char *words[LINE_WORDS];
    uint8_t count = line_words(words);
    if (count) line_say(obey(words, count) ? "ok\n" : "no\n");
  }
}

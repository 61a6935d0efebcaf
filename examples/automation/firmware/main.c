/*
 * A command station for an oval of six blocks: speed and functions for up to twelve locomotives over a serial line, and
 * what the current of each block tells about who is in it.
 *
 *   go ADDRESS SPEED          speed -126 … 126, negative in reverse
 *   key ADDRESS FUNCTION on   or off; function 0 is the light, up to 12
 *   forget ADDRESS            not refreshed any more
 *   halt                      emergency stop for all
 *   power on                  or off; a block that had a short is on again too
 *
 * Each line is answered `ok` or `no`. By itself it says `block 2 taken`, `block 2 free` and `block 2 short`.
 */
#include "halfbit_signal.h"
#include "line.h"
#include "sender.h"
#include "turns.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <string.h>

#define BLOCKS 6
/* Enable inputs of the drivers: PD2 for the first block, PD7 for the last. Resistors to ground hold them low in reset. */
#define ENABLE(block) (1 << (2 + (block)))
#define ALL_ENABLES 0xFC

static struct sender track;

/*
 * What is said goes out byte by byte between other things: a byte takes 0.26 ms, and the current must be read meanwhile. A text
 * that does not fit any more is left out as a whole.
 */
#define SAID 128 /* a power of two */
static char said[SAID];
static uint8_t said_head;
static uint8_t said_tail;

static void say(const char *text) {
  if (strlen(text) + (uint8_t)(said_head - said_tail) >= SAID) return;
  for (; *text; text++) said[said_head++ & (SAID - 1)] = *text;
}

static void say_on(void) {
  if (said_head != said_tail && (UCSR0A & (1 << UDRE0))) UDR0 = said[said_tail++ & (SAID - 1)];
}

/* The timer has begun a bit and will want the next one when this bit ends: see the deadline in halfbit_signal.h. */
ISR(HALFBIT_VECTOR) {
  halfbit_load_bit(sender_next(&track));
}

/*
 * Current: the mirror output of each driver, 450 uA per ampere, over 1.5 kOhm on ADC0 to ADC5, against the internal 1.1 V:
 * one count is 1.6 mA. The six are read in turn, each once in about 0.7 ms.
 */
#define TRIP_COUNTS 850    /* about 1.35 A: three trains that all start would draw less */
#define TRIP_READINGS 5    /* in a row: 3.5 ms, so that capacitors may charge */
#define TAKEN_COUNTS 8     /* about 13 mA: a decoder at rest, or the lamps of the last coach */
#define TAKEN_READINGS 4   /* in a row: 3 ms */
#define FREE_READINGS 1000 /* in a row: 0.7 s, longer than a wheel is without contact */

static struct block {
  uint8_t over;
  uint8_t above;
  uint16_t below;
  bool taken;
} blocks[BLOCKS];
static uint8_t channel;

static void sense_start(void) {
  ADMUX = (1 << REFS1) | (1 << REFS0);
  ADCSRA = (1 << ADEN) | (1 << ADSC) | (1 << ADPS2) | (1 << ADPS1) | (1 << ADPS0);
}

static void tell(const char *what) {
  char text[20] = "block 0 ";
  text[6] = (char)('1' + channel);
  say(strcat(text, what));
}

static void sense_poll(void) {
  if (ADCSRA & (1 << ADSC)) return;
  uint16_t reading = ADC;
  struct block *b = &blocks[channel];
  b->over = reading > TRIP_COUNTS ? b->over + 1 : 0;
  if (b->over >= TRIP_READINGS) {
    b->over = 0;
    PORTD &= ~ENABLE(channel);
    tell("short\n");
  }
  /* A block without power tells nothing: who was in it is still there. */
  if (PORTD & ENABLE(channel)) {
    if (reading >= TAKEN_COUNTS) {
      b->below = 0;
      if (!b->taken && ++b->above >= TAKEN_READINGS) {
        b->taken = true;
        tell("taken\n");
      }
    } else {
      b->above = 0;
      if (b->taken && ++b->below >= FREE_READINGS) {
        b->taken = false;
        tell("free\n");
      }
    }
  }
  if (++channel == BLOCKS) channel = 0;
  ADMUX = (1 << REFS1) | (1 << REFS0) | channel;
  ADCSRA |= (1 << ADSC);
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
    if (is(words[1], "on")) PORTD |= ALL_ENABLES;
    else if (is(words[1], "off")) PORTD &= ~ALL_ENABLES;
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
  PORTD &= ~ALL_ENABLES;
  DDRD |= ALL_ENABLES;
  PORTD |= ALL_ENABLES;
  sei();
  for (;;) {
    wdt_reset();
    feed();
    sense_poll();
    char *words[LINE_WORDS];
    uint8_t count = line_words(words);
    if (count) say(obey(words, count) ? "ok\n" : "no\n");
    say_on();
  }
}

/*
 * A command station with a main track and a service track, each on a timer of its own, over one serial line.
 *
 *   go ADDRESS SPEED          speed -126 … 126, negative in reverse
 *   key ADDRESS FUNCTION on   or off; function 0 is the light, up to 12
 *   forget ADDRESS            not refreshed any more
 *   halt                      emergency stop for all
 *   service on                or off: power on the service track
 *   write CV VALUE            direct mode, on the service track
 *   verify CV VALUE
 *
 * Each line is answered `ok` or `no`; `write` and `verify` are answered `taken`, and when they have ended `yes` (the
 * decoder acknowledged) or `silent`. More than 220 mA on the service track for 97 ms is told as `overload`.
 */
#include "halfbit_main.h"
#include "halfbit_service.h"
#include "line.h"
#include "turns.h"
#include "sender.h"
#include "service.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <string.h>

/* Enable inputs of the two drivers, held low by resistors until the firmware runs. */
#define MAIN_ENABLE PH6
#define SERVICE_ENABLE PE3

static struct sender main_track;
static struct sender service_track;
static bool service_is_on;

/* Both interrupts may fall due at once; one then waits for the other, far less than the 108 us that it may. */
ISR(HALFBIT_MAIN_VECTOR) {
  halfbit_main_load_bit(sender_next(&main_track));
}

ISR(HALFBIT_SERVICE_VECTOR) {
  halfbit_service_load_bit(sender_next(&service_track));
}

/* 1 ohm in the service driver's ground leg, on ADC1 against the internal 1.1 V: 1.07 mA per count. */
static void sense_start(void) {
  ADMUX = (1 << REFS1) | (1 << MUX0);
  ADCSRB = 0;
  ADCSRA = (1 << ADEN) | (1 << ADSC) | (1 << ADATE) | (1 << ADPS2) | (1 << ADPS1) | (1 << ADPS0);
}

static void sense_poll(void) {
  if (!(ADCSRA & (1 << ADIF))) return;
  ADCSRA |= (1 << ADIF);
  uint16_t counts = ADC;
  if (service_is_on) service_current(counts + counts / 14, service_track.gone);
}

/* Keep both buffers of each track filled. */
static void feed_main(void) {
  for (struct packet *buffer; (buffer = sender_buffer(&main_track)) != NULL;) {
    turns_next(buffer);
    sender_commit(&main_track);
  }
}

static void feed_service(void) {
  for (struct packet *buffer; (buffer = sender_buffer(&service_track)) != NULL;) {
    service_next(buffer);
    sender_commit(&service_track);
  }
}

static void service_on(void) {
  if (service_is_on) return;
  service_is_on = true;
  service_open();
  sender_start(&service_track, HALFBIT_SERVICE_PREAMBLE);
  feed_service();
  halfbit_service_start();
  PORTE |= (1 << SERVICE_ENABLE);
}

static void service_off(bool at_once) {
  if (!service_is_on) return;
  service_is_on = false;
  if (at_once) {
    PORTE &= ~(1 << SERVICE_ENABLE);
  } else {
    /* Not inside a packet. Meanwhile the main track has two packets in hand, which take longer than this one. */
    uint8_t gone = service_track.gone;
    while (service_track.gone == gone) continue;
    /* Its end bit is loaded by now, not sent. The signal goes on for 26 us after it (S-9.2:2004 note 3): one more one. */
    const volatile uint8_t *ones = &service_track.ones;
    while (*ones > HALFBIT_SERVICE_PREAMBLE - 2) continue;
  }
  halfbit_service_stop();
  PORTE &= ~(1 << SERVICE_ENABLE);
}

static bool is(const char *word, const char *wanted) {
  return strcmp(word, wanted) == 0;
}

static bool on_or_off(const char *word, bool *on) {
  *on = is(word, "on");
  return *on || is(word, "off");
}

static const char *obey(char *words[], uint8_t count) {
  int16_t first;
  int16_t second;
  bool on;
  if (count == 1 && is(words[0], "halt")) {
    turns_halt();
    return "ok\n";
  }
  if (count == 2 && is(words[0], "service") && on_or_off(words[1], &on)) {
    if (on) service_on();
    else service_off(false);
    return "ok\n";
  }
  if (count < 2 || !line_number(words[1], &first) || first < 0) return "no\n";
  if (count == 2 && is(words[0], "forget")) return turns_forget(first) ? "ok\n" : "no\n";
  if (count < 3 || !line_number(words[2], &second)) return "no\n";
  if (count == 3 && is(words[0], "go")) return turns_drive(first, second) ? "ok\n" : "no\n";
  if (count == 4 && is(words[0], "key") && second >= 0 && on_or_off(words[3], &on))
    return second <= 12 && turns_key(first, second, on) ? "ok\n" : "no\n";
  if (count != 3 || !service_is_on || second < 0 || second > 255) return "no\n";
  if (is(words[0], "write")) return service_write(first, second) ? "taken\n" : "no\n";
  if (is(words[0], "verify")) return service_verify(first, second) ? "taken\n" : "no\n";
  return "no\n";
}

static void service_poll(void) {
  if (!service_is_on) return;
  feed_service();
  switch (service_result()) {
    case SERVICE_ANSWERED:
      line_say("yes\n");
      break;
    case SERVICE_SILENT:
      line_say("silent\n");
      break;
    case SERVICE_OVERLOAD:
      service_off(true);
      line_say("overload\n");
      break;
    default:
      break;
  }
}

int main(void) {
  /* A round takes a few ms at most. Where the loop hangs nothing watches the current: begin anew, with every train stopped. */
  wdt_enable(WDTO_250MS);
  line_start();
  sense_start();
  turns_start();
  sender_start(&main_track, HALFBIT_MAIN_PREAMBLE);
  feed_main();
  halfbit_main_start();
  PORTH &= ~(1 << MAIN_ENABLE);
  DDRH |= (1 << MAIN_ENABLE);
  PORTE &= ~(1 << SERVICE_ENABLE);
  DDRE |= (1 << SERVICE_ENABLE);
  PORTH |= (1 << MAIN_ENABLE);
  sei();
  for (;;) {
    wdt_reset();
    feed_main();
    sense_poll();
    service_poll();
    char *words[LINE_WORDS];
    uint8_t count = line_words(words);
    if (count) line_say(obey(words, count));
  }
}

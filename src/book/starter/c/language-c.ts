/** The serial line and its language: `serial.h`, `serial.c`, `language.h`, `language.c`. */
import { place } from '../places.js'

export const SERIAL_H = `/*
 * The serial line: lines in, lines out, 8 data bits, no parity, 1 stop bit. Nothing here waits: what is said goes into
 * a ring and leaves it byte by byte from the main loop, so that talking never holds up the trip.
 */
#ifndef SERIAL_H
#define SERIAL_H

#include <stdbool.h>
#include <stdint.h>

/* Longest command with its end. */
#define SERIAL_LINE 48

void serial_start(void);

/* Send the next byte if the line is free. Call it in every round of the main loop. */
void serial_poll(void);

/* A complete line without its end, or NULL. It is good until the next call. A line that is too long comes as "". */
char *serial_line(void);

/* Room for so many more characters? What does not fit is dropped, so ask before a long text. */
bool serial_has_room(uint8_t characters);

/* Say a text that lies in flash (PSTR), a word of your own, a number. None of them ends the line. */
void say(const char *text);
void say_word(const char *word);
void say_number(uint16_t number);
void say_end(void);

#endif
`

/** `serial.c`: port registers are those of the classic AVR family. */
export function serialC(input: { port: number; receiveVector: string; doubled: boolean }): string {
  const n = input.port
  return String.raw`#include "serial.h"

#include "figures.h"
#include "text.h"

#include <avr/interrupt.h>
#include <avr/io.h>

/* Powers of two, so that an index runs round by a mask. */
#define IN 64
#define OUT 128

static volatile uint8_t in[IN];
static volatile uint8_t in_head; /* the interrupt writes here */
static uint8_t in_tail;

static char out[OUT];
static uint8_t out_head;
static uint8_t out_tail;

static char line[SERIAL_LINE];
static uint8_t length;
static bool too_long;

void serial_start(void) {
  UBRR${n} = SERIAL_DIVIDER;
  UCSR${n}A = ${input.doubled ? `(1 << U2X${n})` : '0'};
  UCSR${n}C = (1 << UCSZ${n}1) | (1 << UCSZ${n}0);
  UCSR${n}B = (1 << RXCIE${n}) | (1 << RXEN${n}) | (1 << TXEN${n});
}

/* As short as it can be: while it runs, the signal's interrupt waits. */
ISR(${input.receiveVector}) {
  uint8_t byte = UDR${n};
  uint8_t next = (in_head + 1) & (IN - 1);
  in[in_head] = byte;
  /* A full ring loses its newest byte; the command is then not understood, and says so. */
  if (next != in_tail) in_head = next;
}

void serial_poll(void) {
  if (out_tail == out_head || !(UCSR${n}A & (1 << UDRE${n}))) return;
  UDR${n} = out[out_tail];
  out_tail = (out_tail + 1) & (OUT - 1);
}

bool serial_has_room(uint8_t characters) {
  uint8_t used = (out_head - out_tail) & (OUT - 1);
  return characters < OUT - used;
}

static void put(char c) {
  if (!serial_has_room(1)) return;
  out[out_head] = c;
  out_head = (out_head + 1) & (OUT - 1);
}

void say(const char *text) {
  for (char c; (c = pgm_read_byte(text)) != 0; text++) put(c);
}

void say_word(const char *word) {
  while (*word) put(*word++);
}

void say_number(uint16_t number) {
  char digits[5];
  uint8_t count = 0;
  do {
    digits[count++] = '0' + number % 10;
    number /= 10;
  } while (number > 0);
  while (count > 0) put(digits[--count]);
}

void say_end(void) {
  put('\n');
}

/* The line is complete: make it a text, and begin the next. */
static char *complete(void) {
  line[too_long ? 0 : length] = 0;
  length = 0;
  too_long = false;
  return line;
}

char *serial_line(void) {
  while (in_tail != in_head) {
    char c = in[in_tail];
    in_tail = (in_tail + 1) & (IN - 1);
    if (c == '\n') return complete();
    if (c == '\r') continue;
    if (length < SERIAL_LINE - 1) line[length++] = c;
    else too_long = true;
  }
  return 0;
}
`
}

export const LANGUAGE_H = `/*
 * What can be said to the station, one command a line, in words; every command is answered with a line.
 */
#ifndef LANGUAGE_H
#define LANGUAGE_H

/* Look for a command and do it. Call it in every round of the main loop. */
void language_poll(void);

#endif
`

export interface LanguageInput {
  power: boolean
  service: boolean
}

const SERVICE_COMMANDS = `
static bool variable_in_range(uint16_t variable) {
  return variable >= 1 && variable <= 1024;
}

/* May an operation begin? Says why not. */
static bool service_ready(uint16_t variable, uint16_t value) {
  if (!variable_in_range(variable) || value > 255) say(PSTR("out of range"));
  else if (!station_service_is_on()) say(PSTR("service is off"));
  else if (service_is_busy()) say(PSTR("busy"));
  else return true;
  return false;
}

/* write VALUE to variable NUMBER */
static void do_write(void) {
  uint16_t value = 0, variable = 0;
  if (!number_at(1, &value) || !number_at(4, &variable)) not_understood();
  else if (service_ready(variable, value)) {
    service_write(variable, value);
    say(PSTR("started"));
  }
}

/* verify variable NUMBER is VALUE */
static void do_verify(void) {
  uint16_t value = 0, variable = 0;
  if (!number_at(2, &variable) || !number_at(4, &value)) not_understood();
  else if (service_ready(variable, value)) {
    service_verify(variable, value);
    say(PSTR("started"));
  }
}

/* read variable NUMBER */
static void do_read(void) {
  uint16_t variable = 0;
  if (!number_at(2, &variable)) not_understood();
  else if (service_ready(variable, 0)) {
    service_read(variable);
    say(PSTR("started"));
  }
}

/* service on, service off */
static void do_service(void) {
  bool on = false;
  if (!one_of_two(1, PSTR("on"), PSTR("off"), &on)) {
    not_understood();
    return;
  }
  station_service(on);
  say(PSTR("done"));
}
`

const POWER_COMMANDS = `
/* power on, power off */
static void do_power(void) {
  bool on = false;
  if (!one_of_two(1, PSTR("on"), PSTR("off"), &on)) {
    not_understood();
    return;
  }
  station_power(on);
  say(PSTR("done"));
}
`

export function languageC({ power, service }: LanguageInput): string {
  const rows: [string, number, string][] = [
    ['drive', 5, 'do_drive'],
    ['function', 5, 'do_function'],
    ['stop', 2, 'do_stop'],
    ['forget', 2, 'do_forget'],
    ['turnout', 3, 'do_turnout'],
    ...(power ? ([['power', 2, 'do_power']] as [string, number, string][]) : []),
    ...(service
      ? ([
          ['service', 2, 'do_service'],
          ['write', 5, 'do_write'],
          ['verify', 5, 'do_verify'],
          ['read', 3, 'do_read'],
        ] as [string, number, string][])
      : []),
    ['status', 1, 'do_status'],
  ]
  return `#include "language.h"

#include "figures.h"
#include "turns.h"
#include "serial.h"
${service ? '#include "service.h"\n' : ''}#include "station.h"
#include "text.h"

#include <stdbool.h>
#include <string.h>

/* The longest command has five words. */
#define WORDS 6

static char *words[WORDS];
static uint8_t count;

/* Cut the line into words, in place. */
static void split(char *line) {
  count = 0;
  while (count < WORDS) {
    while (*line == ' ') line++;
    if (*line == 0) return;
    words[count++] = line;
    while (*line != ' ' && *line != 0) line++;
    if (*line == ' ') *line++ = 0;
  }
}

/* The text lies in flash (PSTR). */
static bool is(uint8_t at, const char *text) {
  return at < count && strcmp_P(words[at], text) == 0;
}

static bool one_of_two(uint8_t at, const char *yes, const char *no, bool *found) {
  *found = is(at, yes);
  return *found || is(at, no);
}

static bool number_at(uint8_t at, uint16_t *number) {
  if (at >= count) return false;
  uint16_t n = 0;
  for (const char *c = words[at]; *c; c++) {
    if (*c < '0' || *c > '9' || n > 6552) return false;
    n = n * 10 + (*c - '0');
  }
  *number = n;
  return true;
}

static void not_understood(void) {
  say(PSTR("not understood"));
}

static void answer(enum turns_answer a) {
  switch (a) {
    case ANSWER_DONE: say(PSTR("done")); break;
    case ANSWER_FULL: say(PSTR("no place left")); break;
    case ANSWER_UNKNOWN: say(PSTR("not known")); break;
    default: say(PSTR("out of range")); break;
  }
}

/* drive ADDRESS at STEP forward, or backward */
static void do_drive(void) {
  uint16_t address = 0, step = 0;
  bool forward = false;
  bool understood = number_at(1, &address) && is(2, PSTR("at")) && number_at(3, &step) &&
                    one_of_two(4, PSTR("forward"), PSTR("backward"), &forward);
  if (!understood) not_understood();
  else answer(step > 126 ? ANSWER_RANGE : turns_drive(address, step, forward));
}

/* function NUMBER of ADDRESS on, or off */
static void do_function(void) {
  uint16_t address = 0, function = 0;
  bool on = false;
  bool understood = number_at(1, &function) && is(2, PSTR("of")) && number_at(3, &address) &&
                    one_of_two(4, PSTR("on"), PSTR("off"), &on);
  if (!understood) not_understood();
  else answer(function > FUNCTION_HIGHEST ? ANSWER_RANGE : turns_function(address, function, on));
}

/* stop everything, stop ADDRESS */
static void do_stop(void) {
  uint16_t address = 0;
  if (is(1, PSTR("everything"))) {
    turns_stop_everything();
    answer(ANSWER_DONE);
  } else if (number_at(1, &address)) answer(turns_stop(address));
  else not_understood();
}

/* turnout NUMBER straight, or diverging */
static void do_turnout(void) {
  uint16_t number = 0;
  bool straight = false;
  if (!number_at(1, &number) || !one_of_two(2, PSTR("straight"), PSTR("diverging"), &straight)) not_understood();
  else answer(turns_turnout(number, straight));
}

/* forget ADDRESS */
static void do_forget(void) {
  uint16_t address = 0;
  if (number_at(1, &address)) answer(turns_forget(address));
  else not_understood();
}
${power ? POWER_COMMANDS : ''}${service ? SERVICE_COMMANDS : ''}
/* status */
static void do_status(void) {
  say_number(turns_count());
  say(PSTR(" of "));
  say_number(POLICY_LOCOS);
  say(PSTR(" places taken"));
${power ? `  say(station_power_is_on() ? PSTR(", power is on") : PSTR(", power is off"));\n` : ''}${service ? `  say(station_service_is_on() ? PSTR(", service is on") : PSTR(", service is off"));\n` : ''}}

${place(
  'words',
  `/* Your own commands. Answer with say() and return true, or return false where it is none of them. */
static bool do_yours(void) {
  return false;
}
`,
)}
static void obey(void) {
${rows
  .map(
    ([word, size, call], i) =>
      `  ${i > 0 ? 'else ' : ''}if (count == ${size} && is(0, PSTR("${word}"))) ${call}();`,
  )
  .join('\n')}
  else if (!do_yours()) not_understood();
}

void language_poll(void) {
  char *line = serial_line();
  if (!line) return;
  split(line);
  /* Somebody may press return just to see whether the station answers. */
  if (count == 0) not_understood();
  else obey();
  say_end();
}
`
}

/** `power.h`, `power.c`: the drivers' inputs and current monitoring. Registers of the classic AVR family. */
import { cComment } from '../c-text.js'
import type { Sensing, SwitchPlan } from '../plan.js'

/** There is a cut-out, in which readings of the operations track say nothing. */
export interface Quiet {
  quiet: boolean
}

export function powerH({ quiet }: Quiet): string {
  return `/*
 * Switches of the drivers, and the watch that opens them when too much flows. The watch runs in the interrupt of the
 * converter: neither a long text on the serial line nor code of your own can hold it up.
 */
#ifndef POWER_H
#define POWER_H

#include <stdbool.h>
#include <stdint.h>

struct trip {
  const char *district; /* in flash */
  uint8_t switched;     /* the switch that was opened */
  bool stays_off;       /* until somebody switches it on */
};

/* Everything off; begin to watch. */
void power_start(void);

void power_on(uint8_t s);
void power_off(uint8_t s);
bool power_is_on(uint8_t s);

/* Does it belong to the operations track, rather than to the service track? */
bool power_is_track(uint8_t s);

/* Try again what was tripped. Call it in every round of the main loop. */
void power_poll(void);

/* Was something tripped since the last question? */
bool power_trip(struct trip *trip);
${
  quiet
    ? `
/* The cut-out is going on: nothing flows on the operations track. Written by the signal's interrupt. */
extern volatile bool power_quiet;
`
    : ''
}
#endif
`
}

const port = (pin: string) => pin[1]!

/** `PORTB |= …;` for the pins of a switch, each to the level that it takes when the driver is on, or off. */
function writes(s: SwitchPlan, on: boolean): string[] {
  const lines: string[] = []
  for (const high of [true, false]) {
    const pins = s.pins.filter((p) => (p.high === on) === high)
    const ports = new Map<string, string[]>()
    for (const { pin } of pins) ports.set(port(pin), [...(ports.get(port(pin)) ?? []), `(1 << ${pin})`])
    for (const [letter, bits] of ports)
      lines.push(
        high
          ? `PORT${letter} |= ${bits.join(' | ')};`
          : `PORT${letter} &= (uint8_t)~${bits.length > 1 ? `(${bits.join(' | ')})` : bits[0]};`,
      )
  }
  return lines
}

/** `DDRB |= …;` for the pins of all switches. */
function directions(switches: readonly SwitchPlan[]): string[] {
  const ports = new Map<string, Set<string>>()
  for (const { pin } of switches.flatMap((s) => s.pins)) {
    const bits = ports.get(port(pin)) ?? new Set()
    ports.set(port(pin), bits.add(`(1 << ${pin})`))
  }
  return [...ports].map(([letter, bits]) => `  DDR${letter} |= ${[...bits].join(' | ')};`)
}

function outputs(switches: readonly SwitchPlan[]): string {
  const cases = switches.map(
    (s) => `    case SWITCH_${s.id}: /* ${cComment(s.says)} */
      if (closed) {
${writes(s, true)
  .map((l) => `        ${l}`)
  .join('\n')}
      } else {
${writes(s, false)
  .map((l) => `        ${l}`)
  .join('\n')}
      }
      break;`,
  )
  return `/* With interrupts off: the watch writes the same ports. */
static inline __attribute__((always_inline)) void outputs(uint8_t s, bool closed) {
  switch (s) {
${cases.join('\n')}
    default:
      break;
  }
}
`
}

const RETRIES = `
static uint16_t now(void) {
  uint16_t n;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) n = readings;
  return n;
}

/* After a brief short the track should come back by itself; a lasting one must not be fed again and again. */
void power_poll(void) {
  for (uint8_t s = 0; s < SWITCHES; s++) {
    uint16_t passed = now() - since[s];
    if (waits[s] && passed >= RETRY_READINGS) {
      waits[s] = false;
      since[s] = now();
      close_switch(s);
    } else if (tries[s] > 0 && !waits[s] && closed[s] && passed >= RETRY_READINGS) tries[s] = 0;
  }
}

bool power_trip(struct trip *trip) {
  for (uint8_t s = 0; s < SWITCHES; s++) {
    if (tripped[s] == 0) continue;
    trip->district = limits[tripped[s] - 1].district;
    tripped[s] = 0;
    trip->switched = s;
    trip->stays_off = !power_is_track(s) || tries[s] >= RETRIES;
    waits[s] = !trip->stays_off;
    since[s] = now();
    if (waits[s]) tries[s]++;
    return true;
  }
  return false;
}
`

/** The watch: table, interrupt, and what comes after a trip. */
function watch(sensing: Sensing, { quiet }: Quiet): { table: string; interrupt: string; start: string } {
  const { senses, highMux, prescaleBits, service } = sensing
  const many = senses.length > 1
  const fields = [
    '  const char *district; /* in flash */',
    '  uint8_t switched;',
    '  uint16_t low, high;   /* counts: outside of them too much flows */',
    '  uint16_t in_a_row;    /* readings that trip */',
    '  uint8_t every;        /* of the readings: the design asks for fewer than the converter makes */',
    '  uint16_t blanking;    /* readings after switching on that do not count */',
    ...(quiet
      ? ['  uint16_t cutout_most; /* up to which readings in a cut-out count; 0: it has none */']
      : []),
    ...(many ? ['  uint8_t admux;'] : []),
    ...(many && highMux ? ['  uint8_t adcsrb;'] : []),
  ]
  const names = senses.map((s, i) => `static const char district_${i}[] PROGMEM = "${s.cText}";`).join('\n')
  const rows = senses.map(
    (s, i) =>
      `  [SENSE_${s.id}] = {district_${i}, SWITCH_${s.switchId}, ${s.id}_TRIP_LOW, ${s.id}_TRIP_HIGH, ${s.id}_TRIP_READINGS, ${s.id}_READ_EVERY,\n    ${s.id}_BLANKING${quiet ? `, ${s.id}_CUTOUT_MOST` : ''}${many ? `, ${s.id}_ADMUX` : ''}${many && highMux ? `, ${s.id}_ADCSRB` : ''}},`,
  )
  const first = senses[0]!
  const turn = many
    ? `
/*
 * The converter runs freely, so when a reading is there the next one is under way already, and what is selected now
 * counts for the one after that.
 */
static inline __attribute__((always_inline)) uint8_t take_turn(void) {
  static uint8_t running, selected;
  uint8_t done = running;
  running = selected;
  selected = selected + 1 < SENSES ? selected + 1 : 0;
  ADMUX = limits[selected].admux;
${highMux ? '  ADCSRB = limits[selected].adcsrb;\n' : ''}  return done;
}
`
    : ''
  const pause = quiet ? cutoutPause() : { function: '', check: '' }
  const look = service ? `  if (w == SENSE_${service}) detector_reading(&detector, counts);\n` : ''
  return {
    table: `${names}

/* What each sense may read. The figures are in figures.h, with where they come from. */
struct limit {
${fields.join('\n')}
};

static const struct limit limits[SENSES] = {
${rows.join('\n')}
};

struct watch {
  uint8_t skipped;
  uint16_t over;
  uint16_t blank;
};
static struct watch watches[SENSES];

static volatile uint16_t readings;         /* of all senses: the clock of the retries */
static volatile uint8_t tripped[SWITCHES]; /* number of the sense that opened it, from 1; the main loop clears it */
static bool waits[SWITCHES];               /* it will be tried again */
static uint8_t tries[SWITCHES];
static uint16_t since[SWITCHES];
`,
    interrupt: `${turn}${pause.function}
static inline __attribute__((always_inline)) void check(uint8_t w, uint16_t counts) {
  const struct limit *l = &limits[w];
  struct watch *state = &watches[w];
  if (state->blank > 0) {
    state->blank--;
    return;
  }
  bool over = counts > l->high || counts < l->low;
${pause.check}  state->over = over ? state->over + 1 : 0;
  if (state->over < l->in_a_row) return;
  state->over = 0;
  if (!closed[l->switched]) return;
  outputs(l->switched, false);
  closed[l->switched] = false;
  tripped[l->switched] = w + 1;
}

/* One reading. It has no loop, so its time is bounded, and the signal's interrupt never waits for long. */
ISR(ADC_vect) {
  uint16_t counts = ADC;
  readings++;
${quiet ? '  follow_cutout();\n' : ''}  uint8_t w = ${many ? 'take_turn()' : `SENSE_${first.id}`};
  if (++watches[w].skipped < limits[w].every) return;
  watches[w].skipped = 0;
  check(w, counts);
${look}}
`,
    start: `  ADMUX = ${first.id}_ADMUX;
  ADCSRB = ${highMux ? `${first.id}_ADCSRB` : '0'}; /* it runs freely */
  ADCSRA = (1 << ADEN) | (1 << ADSC) | (1 << ADATE) | (1 << ADIE)${prescaleBits.map((b) => ` | (1 << ${b})`).join('')};
`,
  }
}

/** Readings that fall into a cut-out go on with what was read before it. */
function cutoutPause(): { function: string; check: string } {
  return {
    function: `
volatile bool power_quiet;

/* Was this reading taken in a cut-out, or so soon after it that it does not show yet what flows? */
static bool in_cutout;
static inline __attribute__((always_inline)) void follow_cutout(void) {
  static uint8_t left;
  if (power_quiet) left = CUTOUT_READINGS;
  in_cutout = power_quiet || left > 0;
  if (!power_quiet && left > 0) left--;
}
`,
    check: `  if (!over && in_cutout && l->cutout_most > 0) {
    /* What was too much before the cut-out is taken to go on in it, so that a trip takes no longer. */
    if (state->over == 0 || state->over >= l->cutout_most) return;
    over = true;
  }
`,
  }
}

export function powerC(switches: readonly SwitchPlan[], sensing: Sensing | undefined, q: Quiet): string {
  const w = sensing && watch(sensing, q)
  const blanks = w
    ? `    for (uint8_t i = 0; i < SENSES; i++)
      if (limits[i].switched == s) watches[i].blank = limits[i].blanking;
`
    : ''
  const forgets = w ? '  waits[s] = false;\n  tries[s] = 0;\n' : ''
  return `#include "power.h"

${sensing?.service ? '#include "detector.h"\n' : ''}#include "figures.h"
#include "text.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

static volatile bool closed[SWITCHES];

${outputs(switches)}
${w ? `${w.table}${sensing?.service ? '\nstruct detector detector;\n' : ''}` : ''}${w?.interrupt ?? ''}
static void close_switch(uint8_t s) {
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
${blanks}    outputs(s, true);
    closed[s] = true;
  }
}

void power_on(uint8_t s) {
${forgets}  close_switch(s);
}

void power_off(uint8_t s) {
${forgets}  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    outputs(s, false);
    closed[s] = false;
  }
}

bool power_is_on(uint8_t s) {
  return closed[s];
}

bool power_is_track(uint8_t s) {
  return ${switches.some((s) => s.service) ? 's != SWITCH_SERVICE' : 's < SWITCHES'};
}
${w ? RETRIES : ''}
/* The levels come before the directions, so that no input of a driver sees a pulse. */
void power_start(void) {
  for (uint8_t s = 0; s < SWITCHES; s++) power_off(s);
${directions(switches).join('\n')}
${w?.start ?? ''}}
`
}

/** `station.h`, `main.c`: how the parts are put together. */
import { place } from '../places.js'

export interface MainInput {
  power: boolean
  service: boolean
  /** Something is watched: trips have to be told. */
  watched: boolean
  /** The interrupt loads whole bits, rather than halves. */
  bits: { track: boolean; service: boolean }
  /** The operations track has a cut-out after each packet. */
  cutout: boolean
  /** What flows on it is watched, and must not be in the cut-out. */
  quiet: boolean
}

export const STATION_H = `/*
 * What the language can ask of the station as a whole.
 */
#ifndef STATION_H
#define STATION_H

#include <stdbool.h>

void station_power(bool on);
bool station_power_is_on(void);

void station_service(bool on);
bool station_service_is_on(void);

#endif
`

/** The same with a cut-out: what is loaded in one interrupt begins with the next. */
function cutoutInterrupt(quiet: boolean): string {
  return `ISR(TRACK_SIGNAL_VECTOR) {
${quiet ? '  static bool loaded;\n  power_quiet = loaded;\n  loaded' : '  bool loaded'} = sender_cutout(&track, TRACK_CUTOUT_ONES);
  if (loaded) track_signal_load_cutout();
  else track_signal_load_bit(sender_next(&track));
}
`
}

/** Body of a signal's interrupt. */
function signalInterrupt(role: 'track' | 'service', bits: boolean): string {
  const upper = role.toUpperCase()
  if (bits)
    return `ISR(${upper}_SIGNAL_VECTOR) {
  ${role}_signal_load_bit(sender_next(&${role}));
}
`
  return `ISR(${upper}_SIGNAL_VECTOR) {
  /* A bit is two halves alike: it is worked out for the first and loaded again for the second. */
  static bool one, second;
  ${role}_signal_edge();
  if (!second) one = sender_next(&${role});
  second = !second;
  ${role}_signal_load_half(one);
}
`
}

const SERVICE_TRACK = String.raw`
/* The service track is off, runs, or is about to end at the next preamble. */
enum service_state { SERVICE_OFF, SERVICE_ON, SERVICE_ENDING };
static enum service_state service_state;

static void feed_service(void) {
  for (struct packet *slot; (slot = sender_slot(&service)) != NULL;) {
    service_next(slot);
    sender_commit(&service);
  }
}

static void service_begin(void) {
  service_state = SERVICE_ON;
  service_open();
  sender_start(&service, SERVICE_PREAMBLE);
  feed_service();
  service_signal_start();
  await_signal(&service);
  power_on(SWITCH_SERVICE);
}

static void service_end(void) {
  power_off(SWITCH_SERVICE);
  service_signal_stop();
  service_state = SERVICE_OFF;
}

void station_service(bool on) {
  if (on && service_state == SERVICE_OFF) service_begin();
  else if (!on && service_state == SERVICE_ON) service_state = SERVICE_ENDING;
  else if (on) service_state = SERVICE_ON;
}

bool station_service_is_on(void) {
  return service_state == SERVICE_ON;
}

static void tell_service(void) {
  switch (service_poll(service.gone)) {
    case SERVICE_ACKNOWLEDGED:
      say(PSTR("acknowledged\n"));
      break;
    case SERVICE_NO_ACKNOWLEDGEMENT:
      say(PSTR("no acknowledgement\n"));
      break;
    case SERVICE_READ:
      say(PSTR("variable "));
      say_number(service_variable());
      say(PSTR(" is "));
      say_number(service_value());
      say_end();
      break;
    default:
      break;
  }
}

static void poll_service(void) {
  if (service_state == SERVICE_OFF) return;
  feed_service();
  tell_service();
  /* Not inside a packet, and not before its end bit has been followed by another one (S-9.2:2004 note 3). */
  if (service_state != SERVICE_ENDING) return;
  uint8_t ones = service.ones;
  if (ones > 0 && ones <= SERVICE_PREAMBLE - 2) service_end();
}
`

const AWAIT = `
/* Power comes only with the signal: a decoder may take bare direct current for analog running. Waits for a bit at most. */
static void await_signal(const struct sender *s) {
  while (s->ones == 0) continue;
}
`

const POWER = `
void station_power(bool on) {
  for (uint8_t s = 0; s < SWITCHES; s++) {
    if (!power_is_track(s)) continue;
    if (on) power_on(s);
    else power_off(s);
  }
}

bool station_power_is_on(void) {
  for (uint8_t s = 0; s < SWITCHES; s++)
    if (power_is_track(s) && !power_is_on(s)) return false;
  return true;
}
`

const TRIPS = (service: boolean) => String.raw`
/* Something was switched off because too much flowed. */
static void tell_trips(void) {
  struct trip trip;
  if (!power_trip(&trip)) return;
  say(PSTR("short on "));
  say(trip.district);
  say(trip.stays_off ? PSTR(", off\n") : PSTR(", off for a while\n"));
${service ? '  if (trip.switched == SWITCH_SERVICE && service_state != SERVICE_OFF) service_end();\n' : ''}${place('after a short').replace(/^/gm, '  ').trimEnd()}
}
`

export function mainC({ power, service, watched, bits, cutout, quiet }: MainInput): string {
  return `/*
 * The station: signal, turns, power and language put together. The README tells what each file is for.
 *
 * Three kinds of interrupts run, none of them long: the signal's, which loads the next bit; the converter's, which
 * watches the current; and the serial port's, which keeps a byte. Everything else is done in rounds by the main loop,
 * and nothing in it waits.
 */
#include "figures.h"
#include "language.h"
${power || watched ? '#include "power.h"\n' : ''}#include "turns.h"
#include "sender.h"
#include "serial.h"
${service ? '#include "service.h"\n' : ''}#include "signal.h"
#include "station.h"
#include "text.h"

#include <avr/interrupt.h>

${place('declarations')}
static struct sender track;
${service ? 'static struct sender service;\n' : ''}
/* The next bit is asked for: figures.h tells by when it must be loaded. */
${cutout ? cutoutInterrupt(quiet) : signalInterrupt('track', bits.track)}${service ? `\n${signalInterrupt('service', bits.service)}` : ''}
/* Keep both slots filled. */
static void feed_track(void) {
  for (struct packet *slot; (slot = sender_slot(&track)) != NULL;) {
    turns_next(slot);
    sender_commit(&track);
  }
}
${power || service ? AWAIT : ''}${power ? POWER : ''}${service ? SERVICE_TRACK : ''}${watched ? TRIPS(service) : ''}
int main(void) {
${power || watched ? '  power_start(); /* first: everything is off until there is a signal */\n' : ''}  serial_start();
  turns_start();
  sender_start(&track, TRACK_PREAMBLE);
  feed_track();
  track_signal_start();
  sei();
${power ? '  await_signal(&track);\n  station_power(true);\n' : ''}  ${place('at start')
    .replace(/\n(?=.)/g, '\n  ')
    .trimEnd()}
  for (;;) {
    feed_track();
${service ? '    poll_service();\n' : ''}${watched ? '    power_poll();\n    tell_trips();\n' : ''}    language_poll();
    serial_poll();
    /* Keep it short: a round of more than 5 ms lets idle packets in. */
    ${place('every round')
      .replace(/\n(?=.)/g, '\n    ')
      .trimEnd()}
  }
}
`
}

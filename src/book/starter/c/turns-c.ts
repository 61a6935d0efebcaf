/** `turns.h` and `turns.c`: the locomotives and which packet comes next. Chip-independent. */
import { place } from '../places.js'
import { TELL_TURNOUT, THROW_TURNOUT, TURNOUT_STATE } from './turnout-c.js'

export const TURNS_H = `/*
 * The locomotives that the station knows, what each was told last, and which packet goes out next. All of it belongs to
 * the main loop; no interrupt touches it.
 */
#ifndef TURNS_H
#define TURNS_H

#include "packet.h"

enum turns_answer { ANSWER_DONE, ANSWER_FULL, ANSWER_UNKNOWN, ANSWER_RANGE };

/* Begin with resets and idles: decoders forget what they were told before (RP-9.2.4 A). */
void turns_start(void);

/* Speed step 0 to 126. */
enum turns_answer turns_drive(uint16_t address, uint8_t step, bool forward);
enum turns_answer turns_function(uint16_t address, uint8_t function, bool on);
/* Emergency stop for one, and for everyone. */
enum turns_answer turns_stop(uint16_t address);
void turns_stop_everything(void);
/* It is no longer refreshed, and its place is free. */
enum turns_answer turns_forget(uint16_t address);
/* Turnouts, 1 to TURNOUT_HIGHEST, one after the other: the output of each is switched on for a while, then off. */
enum turns_answer turns_turnout(uint16_t number, bool straight);

uint8_t turns_count(void);

/* Write the next packet. */
void turns_next(struct packet *p);

#endif
`

const PICK_CHANGES = `/* Changes that no decoder has heard yet come first, then their repeats, then the refresh. */
static bool next_of_all(struct packet *p) {
  return tell_fresh(p) || tell_repeat(p) || tell_refresh(p, ANY);
}
`

const PICK_CYCLE = `/* Every locomotive in turn; a change waits until its turn comes. */
static bool next_of_all(struct packet *p) {
  return tell_refresh(p, ANY);
}
`

const PICK_WEIGHTED = `/* The four kinds of packets share the track by weight while all have something to send. */
enum kind { CHANGES, MOVING_SPEEDS, STANDING_SPEEDS, FUNCTIONS, KINDS };
static const uint8_t weights[KINDS] = {
  POLICY_WEIGHT_CHANGES, POLICY_WEIGHT_MOVING, POLICY_WEIGHT_STANDING, POLICY_WEIGHT_FUNCTIONS
};
static int16_t credits[KINDS];

static bool tell_kind(uint8_t kind, struct packet *p) {
  switch (kind) {
    case CHANGES: return tell_fresh(p) || tell_repeat(p);
    case MOVING_SPEEDS: return tell_refresh(p, MOVING);
    case STANDING_SPEEDS: return tell_refresh(p, STANDING);
    default: return tell_refresh(p, ONLY_FUNCTIONS);
  }
}

static uint8_t richest(uint8_t tried) {
  uint8_t best = KINDS;
  for (uint8_t k = 0; k < KINDS; k++)
    if (!(tried & (1 << k)) && (best == KINDS || credits[k] > credits[best])) best = k;
  return best;
}

/* Each kind earns its weight; the richest that has something to send pays what all have earned. */
static bool next_of_all(struct packet *p) {
  int16_t earned = 0;
  for (uint8_t k = 0; k < KINDS; k++) {
    credits[k] += weights[k];
    earned += weights[k];
  }
  for (uint8_t tried = 0; tried != (1 << KINDS) - 1;) {
    uint8_t k = richest(tried);
    if (tell_kind(k, p)) {
      credits[k] -= earned;
      return true;
    }
    /* It had nothing to send, and silence earns nothing. */
    credits[k] -= weights[k];
    earned -= weights[k];
    tried |= 1 << k;
  }
  return false;
}
`

/** What only changes ahead of the cycle need. */
const TELL_CHANGES = `
/* A change that has not been sent yet. */
static bool tell_fresh(struct packet *p) {
#if POLICY_STOPS_FIRST
  for (uint8_t i = 0; i < POLICY_LOCOS; i++) {
    struct loco *l = &locos[i];
    if ((l->fresh & 1) && l->step == 0 && may_hear(l)) {
      l->fresh &= ~1u;
      return tell(l, SPEED, p);
    }
  }
#endif
  for (uint8_t i = 0; i < POLICY_LOCOS; i++) {
    change_place = after(change_place);
    struct loco *l = &locos[change_place];
    if (l->fresh == 0 || !may_hear(l)) continue;
    uint8_t item = lowest(l->fresh);
    l->fresh &= ~(1u << item);
    return tell(l, item, p);
  }
  return false;
}

/* A change once more: a dirty rail may have swallowed the first packet. */
static bool tell_repeat(struct packet *p) {
  for (uint8_t i = 0; i < POLICY_LOCOS; i++) {
    repeat_place = after(repeat_place);
    struct loco *l = &locos[repeat_place];
    if (l->again == 0 || !may_hear(l)) continue;
    uint8_t item = lowest(l->again);
    l->repeats[item]--;
    if (l->repeats[item] == 0) l->again &= ~(1u << item);
    return tell(l, item, p);
  }
  return false;
}
`

export interface TurnsInput {
  order: 'changes' | 'cycle' | 'weighted'
}

export function turnsC({ order }: TurnsInput): string {
  const changes = order !== 'cycle'
  const pick = order === 'changes' ? PICK_CHANGES : order === 'cycle' ? PICK_CYCLE : PICK_WEIGHTED
  const kinds = order === 'weighted' ? 'ANY, MOVING, STANDING, ONLY_FUNCTIONS' : 'ANY'
  return `#include "turns.h"

#include "figures.h"

/* What a locomotive is told: item 0 is its speed, the others are groups of functions. */
#define SPEED 0
#define ITEMS POLICY_ITEMS

struct loco {
  uint16_t address; /* 0: a free place */
  uint8_t step;
  bool forward; /* kept at step 0 too */
  bool stopped; /* by an emergency stop; until the next speed */
  uint8_t turn; /* where its refresh has got to in the table */
  uint8_t told_at; /* number of the packet that it was told last */
  uint16_t used; /* items that were ever commanded, a bit each: others are not sent */
${
  changes
    ? `  uint16_t fresh; /* items changed and not sent yet */
  uint16_t again; /* items with repeats to come */
  uint8_t repeats[ITEMS];
`
    : ''
}  uint8_t groups[ITEMS]; /* functions as they go into the packet; [0] is not used */
};

static struct loco locos[POLICY_LOCOS];
static uint8_t refresh_place; /* whose turn the refresh has reached */
${changes ? `static uint8_t change_place;  /* where the search for changes goes on */\nstatic uint8_t repeat_place;  /* and that for repeats */\n` : ''}static uint8_t packets;       /* sent so far; runs from 255 to 0 */

${TURNOUT_STATE}static uint8_t resets;
static uint8_t idles;
static uint8_t stops;

static const uint8_t table[] = {POLICY_TABLE};

void turns_start(void) {
  resets = START_RESETS;
  idles = START_IDLES;
}

static struct loco *find(uint16_t address) {
  for (uint8_t i = 0; i < POLICY_LOCOS; i++)
    if (locos[i].address == address) return &locos[i];
  return 0;
}

static struct loco *find_or_add(uint16_t address) {
  struct loco *l = find(address);
  if (l) return l;
  l = find(0);
  if (!l) return 0;
  *l = (struct loco){.address = address, .forward = true};
  /* Long enough ago for it to be told at once. */
  l->told_at = packets - GAP_PACKETS - 1;
  return l;
}

static bool in_range(uint16_t address) {
  return address >= 1 && address <= ADDRESS_HIGHEST;
}

/* An item has a new value. */
static void changed(struct loco *l, uint8_t item) {
  l->used |= 1u << item;
${
  changes
    ? `  l->fresh |= 1u << item;
  l->repeats[item] = item == SPEED ? POLICY_REPEATS_SPEED : POLICY_REPEATS_FUNCTIONS;
  if (l->repeats[item] > 0) l->again |= 1u << item;
`
    : ''
}}

enum turns_answer turns_drive(uint16_t address, uint8_t step, bool forward) {
  if (!in_range(address) || step > 126) return ANSWER_RANGE;
  struct loco *l = find_or_add(address);
  if (!l) return ANSWER_FULL;
  l->step = step;
  l->forward = forward;
  l->stopped = false;
  changed(l, SPEED);
  return ANSWER_DONE;
}

/* Functions of each group: the first one, and how many (S-9.2.1:2012 C; from F29 on RCN-212). */
static const uint8_t first_of[] = {0, 0, 5, 9, 13, 21, 29, 37, 45, 53, 61};

static uint8_t group_of(uint8_t function) {
  uint8_t group = 1;
  while (group + 1 < ITEMS && function >= first_of[group + 1]) group++;
  return group;
}

/* In the first group the light, F0, is bit 4, and F1 to F4 are bits 0 to 3. */
static uint8_t bit_of(uint8_t group, uint8_t function) {
  if (group > 1) return 1 << (function - first_of[group]);
  return function == 0 ? 0x10 : 1 << (function - 1);
}

enum turns_answer turns_function(uint16_t address, uint8_t function, bool on) {
  if (!in_range(address) || function > FUNCTION_HIGHEST) return ANSWER_RANGE;
  struct loco *l = find_or_add(address);
  if (!l) return ANSWER_FULL;
  uint8_t group = group_of(function);
  uint8_t bit = bit_of(group, function);
  l->groups[group] = on ? l->groups[group] | bit : l->groups[group] & ~bit;
  changed(l, group);
  return ANSWER_DONE;
}

enum turns_answer turns_stop(uint16_t address) {
  if (!in_range(address)) return ANSWER_RANGE;
  struct loco *l = find_or_add(address);
  if (!l) return ANSWER_FULL;
  l->step = 0;
  l->stopped = true;
  changed(l, SPEED);
  return ANSWER_DONE;
}

void turns_stop_everything(void) {
  stops = STOP_PACKETS;
  for (uint8_t i = 0; i < POLICY_LOCOS; i++) {
    locos[i].step = 0;
    locos[i].stopped = true;
  }
}

enum turns_answer turns_forget(uint16_t address) {
  if (!in_range(address)) return ANSWER_RANGE;
  struct loco *l = find(address);
  if (!l) return ANSWER_UNKNOWN;
  l->address = 0;
  return ANSWER_DONE;
}

${THROW_TURNOUT}uint8_t turns_count(void) {
  uint8_t count = 0;
  for (uint8_t i = 0; i < POLICY_LOCOS; i++) count += locos[i].address != 0;
  return count;
}

/* 126 steps (S-9.2.1:2012 C): bit 7 forward, 0 stop, 1 emergency stop, step n as n + 1. */
static uint8_t speed_byte(const struct loco *l) {
  uint8_t code = l->stopped ? 1 : l->step == 0 ? 0 : l->step + 1;
  return (l->forward ? 0x80 : 0) | code;
}

static void add_functions(struct packet *p, uint8_t group, uint8_t bits) {
  /* The first three groups are one byte; the others have an instruction byte and eight functions. */
  static const uint8_t instructions[] = {0, 0x80, 0xB0, 0xA0, 0xDE, 0xDF, 0xD8, 0xD9, 0xDA, 0xDB, 0xDC};
  if (group <= 3) {
    packet_add(p, instructions[group] | bits);
    return;
  }
  packet_add(p, instructions[group]);
  packet_add(p, bits);
}

static bool tell(struct loco *l, uint8_t item, struct packet *p) {
  packet_begin(p);
  if (IS_LONG(l->address)) packet_add(p, 0xC0 | (uint8_t)(l->address >> 8));
  packet_add(p, (uint8_t)l->address);
  if (item == SPEED) {
    packet_add(p, 0x3F);
    packet_add(p, speed_byte(l));
  } else add_functions(p, item, l->groups[item]);
  packet_end(p);
  l->told_at = packets;
  return true;
}

/* Two packets to one address need time between them (S-9.2:2004 note 11): others, or idles, go out meanwhile. */
static bool may_hear(const struct loco *l) {
  return l->address != 0 && (uint8_t)(packets - l->told_at) > GAP_PACKETS;
}

${TELL_TURNOUT}static uint8_t after(uint8_t place) {
  return place + 1 < POLICY_LOCOS ? place + 1 : 0;
}
${
  changes
    ? `
static uint8_t lowest(uint16_t bits) {
  uint8_t item = 0;
  while (!(bits & (1u << item))) item++;
  return item;
}
${TELL_CHANGES}`
    : ''
}
enum which { ${kinds} };

static bool wanted(const struct loco *l, uint8_t item, enum which which) {
  if (!(l->used & (1u << item))) return false;
${
  order === 'weighted'
    ? `  switch (which) {
    case MOVING: return item == SPEED && l->step > 0;
    case STANDING: return item == SPEED && l->step == 0;
    case ONLY_FUNCTIONS: return item != SPEED;
    default: return true;
  }
`
    : `  (void)which;
  return true;
`
}}

/* The next entry of the table that this locomotive uses. */
static bool tell_turn(struct loco *l, enum which which, struct packet *p) {
  for (uint8_t i = 0; i < sizeof table; i++) {
    uint8_t item = table[l->turn];
    l->turn = l->turn + 1u < sizeof table ? l->turn + 1 : 0;
    if (wanted(l, item, which)) return tell(l, item, p);
  }
  return false;
}

/* Decoders stop when they hear nothing for a while, so everyone is told again and again. */
static bool tell_refresh(struct packet *p, enum which which) {
  for (uint8_t i = 0; i < POLICY_LOCOS; i++) {
    refresh_place = after(refresh_place);
    struct loco *l = &locos[refresh_place];
    if (may_hear(l) && tell_turn(l, which, p)) return true;
  }
  return false;
}

${pick}
/* Asked before the turns. Write a packet to p and return true, or leave p alone and return false. */
${place(
  'packets',
  `static bool next_of_yours(struct packet *p) {
  (void)p;
  return false;
}
`,
)}
void turns_next(struct packet *p) {
  packets++;
  if (resets > 0) {
    resets--;
    packet_reset(p);
  } else if (idles > 0) {
    idles--;
    packet_idle(p);
  } else if (stops > 0) {
    stops--;
    packet_stop_everything(p);
  } else if (!next_of_yours(p) && !tell_turnout(p) && !next_of_all(p)) packet_idle(p);
}
`
}

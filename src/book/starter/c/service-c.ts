/** Service mode: `detector.h`, `service.h`, `service.c`. Chip-independent. */

export const DETECTOR_H = `/*
 * Tells an acknowledgement from the current that flows anyway: a rise of the smoothed current above what flowed before
 * the instruction, for so many samples. It runs inside the interrupt of the converter, so that no pulse is missed while
 * the main loop is busy; the main loop only says when to look.
 */
#ifndef DETECTOR_H
#define DETECTOR_H

#include "figures.h"

#include <stdbool.h>
#include <stdint.h>

enum detector_phase { DETECTOR_IDLE, DETECTOR_BASE, DETECTOR_WATCH };

struct detector {
  volatile uint8_t phase;
  /* Set while watching; the main loop clears it before. */
  volatile bool seen;
  /* All below belongs to the interrupt. */
  uint16_t smooth; /* the current, times ACK_SCALE */
  uint16_t base;
  uint16_t sum;
  uint8_t summed;
#if ACK_OF > ACK_SAMPLES
  uint32_t history; /* which of the last samples were higher, a bit each */
#endif
  uint8_t higher;
};

extern struct detector detector;

static inline __attribute__((always_inline)) void detector_count(struct detector *d, bool higher) {
#if ACK_OF > ACK_SAMPLES
  if (d->history & ((uint32_t)1 << (ACK_OF - 1))) d->higher--;
  d->history = (d->history << 1) | higher;
  if (higher) d->higher++;
#else
  d->higher = higher ? d->higher + 1 : 0;
#endif
  if (d->higher < ACK_SAMPLES) return;
  d->seen = true;
#if ACK_OF <= ACK_SAMPLES
  d->higher = ACK_SAMPLES;
#endif
}

/* One reading of the service track's current, in counts. For the interrupt only. */
static inline __attribute__((always_inline)) void detector_reading(struct detector *d, uint16_t counts) {
  d->sum += counts;
  if (++d->summed < ACK_AVERAGE) return;
  d->smooth += d->sum - (d->smooth >> ACK_SHIFT);
  d->sum = 0;
  d->summed = 0;
  if (d->phase == DETECTOR_WATCH) {
    detector_count(d, d->smooth >= d->base + ACK_RISE);
    return;
  }
  d->base = d->smooth;
  d->higher = 0;
#if ACK_OF > ACK_SAMPLES
  d->history = 0;
#endif
}

#endif
`

export const SERVICE_H = `/*
 * Service mode, direct mode (S-9.2.3:2012 E): writes, verifies and reads one configuration variable (CV) on a track of
 * its own, with the packets, the order and the counts of the standard. Belongs to the main loop.
 */
#ifndef SERVICE_H
#define SERVICE_H

#include "packet.h"

enum service_result {
  SERVICE_NOTHING,        /* nothing has ended since the last question */
  SERVICE_ACKNOWLEDGED,
  SERVICE_NO_ACKNOWLEDGEMENT,
  SERVICE_READ,           /* service_value and service_variable tell what */
};

/* A session begins with the power-on cycle. */
void service_open(void);

bool service_is_busy(void);

/* Variables 1 to 1024; only while nothing else is under way. */
void service_write(uint16_t variable, uint8_t value);
void service_verify(uint16_t variable, uint8_t value);
void service_read(uint16_t variable);

/* Write the next packet. */
void service_next(struct packet *p);

/* See how far the operation is; gone is the sender's count of packets that have left. */
enum service_result service_poll(uint8_t gone);

uint16_t service_variable(void);
uint8_t service_value(void);

#endif
`

export const SERVICE_C = `#include "service.h"

#include "detector.h"
#include "figures.h"

/* Where the packets of one instruction have got to. */
enum step { POWER_ON, READY, RESETS, INSTRUCTIONS, RECOVERY };
/* What they are for. */
enum task { NO_TASK, WRITE, VERIFY, READ_BITS, READ_CHECK };

#define BITS 8

static enum step step;
static uint8_t left;   /* packets still to be handed over in this step */
static uint8_t handed; /* packets handed to the sender; runs from 255 to 0 */
static struct packet instruction;

static enum task task;
static uint16_t variable;
static uint8_t value;
static uint8_t bit; /* of a read: the one that is asked for, from 7 down */

static uint8_t first; /* number of the first instruction packet */
static uint8_t end;   /* number of the packet after the last one */

void service_open(void) {
  step = POWER_ON;
  left = SERVICE_POWER_ON_PACKETS;
  handed = 0;
  task = NO_TASK;
  detector.phase = DETECTOR_IDLE;
}

bool service_is_busy(void) {
  return task != NO_TASK || step == POWER_ON;
}

uint16_t service_variable(void) {
  return variable;
}

uint8_t service_value(void) {
  return value;
}

/* 0111CCVV VVVVVVVV DDDDDDDD: CC is 01 for verify, 11 for write, 10 for a bit; V is the variable's number minus one. */
static void instruct(uint8_t code, uint8_t data) {
  uint16_t field = variable - 1;
  packet_begin(&instruction);
  packet_add(&instruction, 0x70 | (code << 2) | (uint8_t)(field >> 8));
  packet_add(&instruction, (uint8_t)field);
  packet_add(&instruction, data);
  packet_end(&instruction);
  detector.phase = DETECTOR_BASE;
  detector.seen = false;
  step = RESETS;
  left = SERVICE_RESETS;
}

static void begin(enum task wanted, uint16_t number) {
  task = wanted;
  variable = number;
}

void service_write(uint16_t number, uint8_t wanted) {
  begin(WRITE, number);
  value = wanted;
  instruct(3, wanted);
}

void service_verify(uint16_t number, uint8_t wanted) {
  begin(VERIFY, number);
  value = wanted;
  instruct(1, wanted);
}

/* Is this bit a one? 1110DBBB: verify, the value D, the bit's number. */
static void ask_bit(void) {
  instruct(2, 0xE0 | 0x08 | bit);
}

void service_read(uint16_t number) {
  begin(READ_BITS, number);
  value = 0;
  bit = BITS - 1;
  ask_bit();
}

/* What follows a step that has handed over its last packet. */
static void advance(void) {
  switch (step) {
    case POWER_ON:
      step = READY;
      break;
    case RESETS:
      step = INSTRUCTIONS;
      left = SERVICE_INSTRUCTIONS;
      first = handed;
      break;
    case INSTRUCTIONS:
      step = RECOVERY;
      left = SERVICE_RECOVERY;
      break;
    default:
      step = READY;
      end = handed;
      break;
  }
}

void service_next(struct packet *p) {
  while (step != READY && left == 0) advance();
  /* A write goes on through its recovery time; a verify is followed by resets. */
  bool instructs = step == INSTRUCTIONS || (step == RECOVERY && task == WRITE);
  if (instructs) *p = instruction;
  else packet_reset(p); /* also while nothing is asked: 20 ms without a packet would end service mode */
  if (left > 0) left--;
  handed++;
}

/* Has the packet with this number left? The numbers run round, the sender holds far fewer. */
static bool has_gone(uint8_t number, uint8_t gone) {
  return (int8_t)(gone - number) > 0;
}

static enum service_result ended(bool acknowledged) {
  enum task was = task;
  task = NO_TASK;
  detector.phase = DETECTOR_IDLE;
  if (!acknowledged) return SERVICE_NO_ACKNOWLEDGEMENT;
  return was == READ_CHECK ? SERVICE_READ : SERVICE_ACKNOWLEDGED;
}

/* One bit of a read has been answered, or not: the next one, and at last a check of them all together. */
static void next_bit(bool acknowledged) {
  if (acknowledged) value |= 1 << bit;
  if (bit > 0) {
    bit--;
    ask_bit();
    return;
  }
  task = READ_CHECK;
  instruct(1, value);
}

enum service_result service_poll(uint8_t gone) {
  if (task == NO_TASK || step == RESETS || step == POWER_ON) return SERVICE_NOTHING;
  /* A decoder acts on the second of two alike packets: what flows up to then is the base. */
  if (detector.phase == DETECTOR_BASE && has_gone(first + 1, gone)) detector.phase = DETECTOR_WATCH;
  if (step != READY || !has_gone(end - 1, gone)) return SERVICE_NOTHING;
  bool acknowledged = detector.seen;
  if (task != READ_BITS) return ended(acknowledged);
  next_bit(acknowledged);
  return SERVICE_NOTHING;
}
`

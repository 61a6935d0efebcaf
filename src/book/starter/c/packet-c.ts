/** `packet.h` of the starter firmware: the bytes of a packet. Chip-independent. */
export const PACKET_H = `#ifndef PACKET_H
#define PACKET_H

#include <stdbool.h>
#include <stdint.h>

/* Longest packet sent here: a long address, a function instruction of two bytes, and the error byte. */
#define PACKET_MOST 6

struct packet {
  uint8_t count;
  uint8_t bytes[PACKET_MOST];
};

static inline void packet_begin(struct packet *p) {
  p->count = 0;
}

static inline void packet_add(struct packet *p, uint8_t byte) {
  /* One place is kept for the error byte. */
  if (p->count < PACKET_MOST - 1) p->bytes[p->count++] = byte;
}

/* The error byte is the exclusive-or of all others (S-9.2:2004 B). */
static inline void packet_end(struct packet *p) {
  uint8_t error = 0;
  for (uint8_t i = 0; i < p->count; i++) error ^= p->bytes[i];
  p->bytes[p->count++] = error;
}

static inline void packet_of_two(struct packet *p, uint8_t first, uint8_t second) {
  packet_begin(p);
  packet_add(p, first);
  packet_add(p, second);
  packet_end(p);
}

static inline void packet_idle(struct packet *p) {
  packet_of_two(p, 0xFF, 0x00);
}

static inline void packet_reset(struct packet *p) {
  packet_of_two(p, 0x00, 0x00);
}

/* Emergency stop for every decoder, whatever its direction (S-9.2:2004 B, broadcast). */
static inline void packet_stop_everything(struct packet *p) {
  packet_of_two(p, 0x00, 0x71);
}

#endif
`

/** What a sender keeps, and does at the end of a packet, where a cut-out follows it. */
const CUTOUT = {
  field: '  bool cut;     /* a packet has just ended: the cut-out comes next */\n',
  start: '  s->cut = false;\n  s->next = NULL;\n',
  take: '  s->cut = s->next != NULL; /* the very first end bit ends no packet */\n',
  next: `
/*
 * Does the cut-out come next, in place of the first ones of the preamble? Ask before sender_next. For the interrupt only.
 */
static inline __attribute__((always_inline)) bool sender_cutout(struct sender *s, uint8_t hidden_ones) {
  if (!s->cut) return false;
  s->cut = false;
  s->ones -= hidden_ones;
  return true;
}
`,
}
const NO_CUTOUT: typeof CUTOUT = { field: '', start: '', take: '', next: '' }

/** `sender.h`: packets to bits, for the interrupt. Chip-independent. */
export function senderH({ cutout }: { cutout: boolean }): string {
  const c = cutout ? CUTOUT : NO_CUTOUT
  return `/*
 * From packets to bits. The main loop fills two slots; the signal's interrupt takes one bit at a time.
 *
 * Everything the interrupt calls is inline: a real call would make the compiler save every register that the called
 * function might change. When the main loop is late, an idle packet fills the time, so the rails never fall silent:
 * decoders get their power from the signal (S-9.2:2004 C).
 */
#ifndef SENDER_H
#define SENDER_H

#include "packet.h"

#include <stddef.h>

#define SENDER_SLOTS 2

struct sender {
  struct packet slots[SENDER_SLOTS];
  /* Set by the main loop, cleared by the interrupt. One byte each, so neither side has to turn interrupts off. */
  volatile bool full[SENDER_SLOTS];
  /* Packets from slots that have been sent; runs from 255 to 0. */
  volatile uint8_t gone;
  /* Preamble ones that are still to be sent. */
  volatile uint8_t ones;
  uint8_t filling; /* slot that the main loop fills next */
  uint8_t going;   /* slot that the interrupt sends, or sends next */
  bool idling;     /* the packet on the rails is an idle packet that no slot holds */
  uint8_t preamble;
  uint8_t left; /* bytes still to be sent */
  const uint8_t *next;
  uint8_t now;  /* the byte on the rails */
  uint8_t mask; /* its next bit; 0 between bytes */
${c.field}};

static const uint8_t sender_idle[] = {0xFF, 0x00, 0xFF};

/* Before the signal starts, and before the slots are filled. */
static inline void sender_start(struct sender *s, uint8_t preamble) {
  for (uint8_t i = 0; i < SENDER_SLOTS; i++) s->full[i] = false;
  s->gone = 0;
  s->ones = 0;
  s->filling = 0;
  s->going = 0;
  s->idling = true;
  s->preamble = preamble;
  s->left = 0;
  s->mask = 0;
${c.start}}

/* One packet has ended: take the next. For the interrupt only. */
static inline __attribute__((always_inline)) void sender_take(struct sender *s) {
  if (!s->idling) {
    s->full[s->going] = false;
    s->gone++;
    s->going ^= 1;
  }
${c.take}  s->idling = !s->full[s->going];
  s->next = s->idling ? sender_idle : s->slots[s->going].bytes;
  s->left = s->idling ? sizeof sender_idle : s->slots[s->going].count;
  s->ones = s->preamble;
}

/* The next bit. For the interrupt only. */
static inline __attribute__((always_inline)) bool sender_next(struct sender *s) {
  if (s->ones != 0) {
    s->ones--;
    return true;
  }
  if (s->mask != 0) {
    bool one = (s->now & s->mask) != 0;
    s->mask >>= 1;
    return one;
  }
  if (s->left != 0) {
    s->left--;
    s->now = *s->next++;
    s->mask = 0x80;
    return false; /* the zero before every byte */
  }
  sender_take(s);
  return true; /* the one that ends the packet; it is not counted as preamble */
}
${c.next}
/* A slot to write a packet to, or NULL while both are full. For the main loop. */
static inline struct packet *sender_slot(struct sender *s) {
  return s->full[s->filling] ? NULL : &s->slots[s->filling];
}

/* The slot that sender_slot gave last is complete. */
static inline void sender_commit(struct sender *s) {
  /* The bytes must be in memory before the interrupt may look at them. */
  __asm__ volatile("" ::: "memory");
  s->full[s->filling] = true;
  s->filling ^= 1;
}

#endif
`
}

/** `text.h`: texts that stay in flash where the chip keeps them apart. */
export const TEXT_H = `/*
 * Texts that are never changed. An AVR would copy them to its small RAM at start; pgmspace.h leaves them in flash. A
 * chip with one address space needs none of this.
 */
#ifndef TEXT_H
#define TEXT_H

#ifdef __AVR__
#include <avr/pgmspace.h>
#else
#define PROGMEM
#define PSTR(text) (text)
#define pgm_read_byte(address) (*(const unsigned char *)(address))
#define strcmp_P strcmp
#endif

#endif
`

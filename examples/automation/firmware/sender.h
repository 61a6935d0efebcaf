/*
 * The sender: takes packets from two buffers and gives one bit at a time to the interrupt that loads the timer.
 *
 * Everything here is inline because the interrupt calls it: a call would make the compiler save every register that
 * the call could change. The main loop fills one buffer while the other goes out; if it is late, the sender fills the
 * time with idle packets, so the track always carries a whole packet (S-9.2:2004 C: power lies in the signal).
 */
#ifndef SENDER_H
#define SENDER_H

#include "packet.h"

#include <stddef.h>

#define SENDER_BUFFERS 2

struct sender {
  struct packet buffers[SENDER_BUFFERS];
  /* Set by the main loop, cleared by the interrupt: one byte each, so that neither needs interrupts off. */
  volatile bool full[SENDER_BUFFERS];
  /* Packets from buffers that have gone out, counted round. */
  volatile uint8_t gone;
  uint8_t filling; /* buffer that the main loop fills next */
  uint8_t going;   /* buffer that the interrupt sends, or sends next */
  bool idling;     /* an idle packet of the sender's own is going out */
  uint8_t preamble;
  /* Where the packet that goes out stands. */
  uint8_t ones; /* preamble ones still to send */
  uint8_t left; /* bytes still to send */
  const uint8_t *next;
  uint8_t now; /* byte going out, */
  uint8_t mask; /* and the bit of it that comes next; 0 between bytes */
};

static const uint8_t sender_idle[] = {0xFF, 0x00, 0xFF};

static inline void sender_take(struct sender *s) {
  if (!s->idling) {
    s->full[s->going] = false;
    s->gone++;
    s->going ^= 1;
  }
  s->idling = !s->full[s->going];
  s->next = s->idling ? sender_idle : s->buffers[s->going].bytes;
  s->left = s->idling ? sizeof sender_idle : s->buffers[s->going].count;
  s->ones = s->preamble;
}

/* Before the signal starts. Fill the buffers next: what they hold when the interrupt asks first goes out first. */
static inline void sender_start(struct sender *s, uint8_t preamble) {
  for (uint8_t i = 0; i < SENDER_BUFFERS; i++) s->full[i] = false;
  s->filling = 0;
  s->going = 0;
  s->gone = 0;
  s->idling = true;
  s->preamble = preamble;
  s->ones = 0;
  s->left = 0;
  s->mask = 0;
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

/* A buffer to write a packet to, or NULL while both are taken. For the main loop. */
static inline struct packet *sender_buffer(struct sender *s) {
  return s->full[s->filling] ? NULL : &s->buffers[s->filling];
}

/* The buffer given last is complete. */
static inline void sender_commit(struct sender *s) {
  /* The bytes must be in memory before the interrupt may look at them. */
  __asm__ volatile("" ::: "memory");
  s->full[s->filling] = true;
  s->filling ^= 1;
}

#endif

/*
 * Packets: two to five bytes and the error byte, which is the exclusive-or of all others (S-9.2:2004 B).
 */
#ifndef PACKET_H
#define PACKET_H

#include <stdbool.h>
#include <stdint.h>

/* Longest packet of S-9.2.1:2012, error byte included. */
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

static inline void packet_end(struct packet *p) {
  uint8_t error = 0;
  for (uint8_t i = 0; i < p->count; i++) error ^= p->bytes[i];
  p->bytes[p->count++] = error;
}

/* Addresses 1 to 127 go in one byte, 128 to 10239 in two (S-9.2.1:2012 A). */
#define ADDRESS_HIGHEST 10239

static inline void packet_address(struct packet *p, uint16_t address) {
  if (address > 127) packet_add(p, 0xC0 | (uint8_t)(address >> 8));
  packet_add(p, (uint8_t)address);
}

static inline void packet_idle(struct packet *p) {
  packet_begin(p);
  packet_add(p, 0xFF);
  packet_add(p, 0x00);
  packet_end(p);
}

static inline void packet_reset(struct packet *p) {
  packet_begin(p);
  packet_add(p, 0x00);
  packet_add(p, 0x00);
  packet_end(p);
}

#endif

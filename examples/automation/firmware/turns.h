/*
 * Taking turns: which locomotives there are, what each should do, and whose packet goes next.
 */
#ifndef TURNS_H
#define TURNS_H

#include "packet.h"

#define TURNS_MOST 12

/* Twenty resets and ten idles come first, as a station without saved state must send (RP-9.2.4 A). */
void turns_start(void);

/* Speed −126 … 126, negative in reverse. False when all places are taken or the address is none. */
bool turns_drive(uint16_t address, int16_t speed);

/* Function 0 (light) … 12. */
bool turns_key(uint16_t address, uint8_t function, bool on);

/* Forget a locomotive; it is not refreshed any more. */
bool turns_forget(uint16_t address);

/* Emergency stop for all. */
void turns_halt(void);

/* Write the packet that is most due. Never two in a row for one address: a decoder may need 5 ms between packets to
   itself (S-9.2:2004 C), and any packet in between takes longer than that. */
void turns_next(struct packet *p);

#endif

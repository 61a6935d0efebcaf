/*
 * The roster: which locomotives there are, what each should do, and whose turn it is to be told.
 */
#ifndef ROSTER_H
#define ROSTER_H

#include "packet.h"

#define ROSTER_MOST 12

/* Twenty resets and ten idles come first, as a station without saved state must send (RP-9.2.4 A). */
void roster_start(void);

/* Speed −126 … 126, negative in reverse. False when the roster is full or the address is none. */
bool roster_drive(uint16_t address, int16_t speed);

/* Function 0 (light) … 12. */
bool roster_key(uint16_t address, uint8_t function, bool on);

/* Take a locomotive off the roster; it is not refreshed any more. */
bool roster_forget(uint16_t address);

/* Emergency stop for all. */
void roster_halt(void);

/* Write the packet that is most due. Never two in a row for one address: a decoder may need 5 ms between packets to
   itself (S-9.2:2004 C), and any packet in between takes longer than that. */
void roster_next(struct packet *p);

#endif

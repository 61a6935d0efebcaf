/*
 * Service mode in direct mode (S-9.2.3:2012 E): writes and verifies one configuration variable (CV) on a track of its
 * own, with the packets, the order and the counts that the standard lists, and watches for the acknowledgement.
 */
#ifndef SERVICE_H
#define SERVICE_H

#include "packet.h"

enum service_result {
  SERVICE_NONE,     /* nothing has ended since the last question */
  SERVICE_ANSWERED, /* the decoder acknowledged */
  SERVICE_SILENT,   /* the operation ended without an acknowledgement */
  SERVICE_OVERLOAD, /* too much for 100 ms: the track must be switched off now */
};

/* A session begins with twenty resets, the power-on cycle. */
void service_open(void);

/* CV 1 … 1024; false while an operation is under way. */
bool service_write(uint16_t cv, uint8_t value);
bool service_verify(uint16_t cv, uint8_t value);

/* Write the next packet; `gone` is how many packets have left the sender. */
void service_next(struct packet *p);

/* One reading of the track current, milliampere, every 104 us or so; `gone` as above. */
void service_current(uint16_t milliampere, uint8_t gone);

enum service_result service_result(void);

#endif

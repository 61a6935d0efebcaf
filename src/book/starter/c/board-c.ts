/** `board.h` for chips that are calculated only: what the builder has to write. */
export function boardH({ service }: { service: boolean }): string {
  return `/*
 * What is left for you to write for this chip, since nothing here can run or measure it. Nothing of it is shown until
 * you have written it and a capture has been judged.
 *
 * 1. The signal. An interrupt, or a list that hardware plays, asks for the next bit: sender_next(&track) of sender.h.
 *    figures.h has the counts of both half-bits. The main loop keeps both slots filled:
 *      for (struct packet *slot; (slot = sender_slot(&track)) != NULL;) { turns_next(slot); sender_commit(&track); }
 *    Start with turns_start(), sender_start(&track, TRACK_PREAMBLE), and full slots; then the signal; then the driver.
 *
 * 2. The watch over the current. It must not depend on the main loop: an interrupt reads each sense and switches its
 *    driver off after the readings in a row that figures.h names. Until it is there, NOTHING SWITCHES OFF A SHORT
 *    unless figures.h says that something else does.
 *
 * 3. The serial line: every function of serial.h.
 *
 * 4. The station as a whole: every function of station.h.
${
  service
    ? ` *
 * 5. The service track: detector_reading(&detector, counts) of detector.h for each reading of its current, service_next()
 *    for its packets, service_poll(service.gone) for what has come of it; and the one "struct detector detector;".
`
    : ''
} */
#ifndef BOARD_H
#define BOARD_H

#include "figures.h"
#include "language.h"
#include "turns.h"
#include "sender.h"
#include "serial.h"
${service ? '#include "detector.h"\n#include "service.h"\n' : ''}#include "station.h"

#endif
`
}

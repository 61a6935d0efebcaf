/* Sound: a clean signal, a second interrupt that is served, a main loop that reads its counter safely. */
#include "clean.h"
#include <util/atomic.h>

volatile uint16_t ticks;
volatile uint16_t shown;

ISR(TIMER0_COMPA_vect) { ticks++; }

int main(void)
{
    start_signal();
    OCR0A = 249;
    TCCR0A = 1 << WGM01;
    TCCR0B = 1 << CS01 | 1 << CS00;
    TIMSK0 = 1 << OCIE0A;
    sei();
    for (;;) {
        uint16_t now;
        ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = ticks; }
        shown = now;
    }
}

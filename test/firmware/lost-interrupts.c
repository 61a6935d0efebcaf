/* Sick: Timer 0 asks far more often than its handler can run. The signal's interrupt goes before it and stays in time. */
#include "clean.h"

volatile uint32_t seen;

ISR(TIMER0_COMPA_vect) { seen++; }

int main(void)
{
    start_signal();
    OCR0A = 15;
    TCCR0A = 1 << WGM01;
    TCCR0B = 1 << CS00;
    TIMSK0 = 1 << OCIE0A;
    sei();
    for (;;) ;
}

/* Sick: an interrupt is enabled that nothing serves, so the program starts again with each. The signal stays clean. */
#include "clean.h"

int main(void)
{
    start_signal();
    TCCR0B = 1 << CS02 | 1 << CS00;
    TIMSK0 = 1 << TOIE0;
    sei();
    for (;;) ;
}

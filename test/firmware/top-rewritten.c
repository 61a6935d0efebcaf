/*
 * Wrong: fast PWM with its top in ICR1, which is not buffered, rewritten in the middle of each bit for the next one. The
 * write acts at once, so the second half of a bit gets the length of the next bit.
 */
#include "clean.h"

ISR(TIMER1_COMPB_vect)
{
    uint8_t bit = GPIOR1 + 1;
    if (bit >= LINE_BITS) bit = 0;
    GPIOR1 = bit;
    uint8_t one = pgm_read_byte(&line[bit >> 3]) & (0x80 >> (bit & 7));
    ICR1 = one ? 2 * (ONE + 1) - 1 : 2 * (ZERO + 1) - 1;
    OCR1A = one ? ONE : ZERO;
}

int main(void)
{
    DDRB |= 1 << PB1;
    TCCR1A = 1 << COM1A1 | 1 << WGM11;
    TCCR1B = 1 << WGM13 | 1 << WGM12;
    ICR1 = 2 * (ONE + 1) - 1;
    OCR1A = ONE;
    OCR1B = 1000;
    TIMSK1 = 1 << OCIE1B;
    TCCR1B |= 1 << CS10;
    sei();
    for (;;) ;
}

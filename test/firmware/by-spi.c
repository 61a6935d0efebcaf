/*
 * A signal shifted out by the serial port as SPI master: one bit of its shift register is one half of 58 us, a zero's
 * half takes two. The transmitter is double buffered, so the halves follow one another without a gap. Pin PD1.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <stdint.h>

/* Idle packet: twenty ones as 10, zeros as 1100. */
static const uint8_t halves[] PROGMEM = {0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xca, 0xaa, 0xac,
                                         0xcc, 0xcc, 0xcc, 0xcc, 0xca, 0xaa, 0xaa};

ISR(USART_UDRE_vect)
{
    uint8_t at = GPIOR0;
    UDR0 = pgm_read_byte(&halves[at]);
    GPIOR0 = at + 1 < sizeof halves ? at + 1 : 0;
}

int main(void)
{
    UBRR0 = 0;
    DDRD = 1 << PD4 | 1 << PD1;
    UCSR0C = 1 << UMSEL01 | 1 << UMSEL00;
    UCSR0B = 1 << TXEN0 | 1 << UDRIE0;
    UBRR0 = 58UL * (F_CPU / 1000000UL) / 2 - 1;
    sei();
    for (;;) ;
}

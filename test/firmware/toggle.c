// Test firmware: hardware toggle on compare (OC1A, CTC), the interrupt loads the next half-bit. Sends an idle packet
// (FF 00 FF) and, with the serial port, whatever three bytes came in last; 928 and 1600 cycles per half at 16 MHz.
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdint.h>

#define ONE_HALF 928
#define ZERO_HALF 1600

static volatile uint8_t packet[3] = {0xff, 0x00, 0xff};
static volatile uint8_t serialSum;

static uint8_t sending[3];
static uint8_t bitsLeft = 16, byteIndex, bits, state;
static uint8_t second;

// The counter restarts with the compare that raised this interrupt; the value written is that of the running half.
ISR(TIMER1_COMPA_vect) {
  static uint16_t half = ONE_HALF - 1;
  if (second) {
    second = 0;
    OCR1A = half;
    return;
  }
  second = 1;
  uint8_t one = 1;
  switch (state) {
    case 0: // preamble
      if (--bitsLeft == 0) {
        state = 1;
        byteIndex = 0;
        for (uint8_t i = 0; i < 3; i++) sending[i] = packet[i];
      }
      break;
    case 1: // start bit of a byte
      one = 0;
      bits = 8;
      state = 2;
      break;
    case 2:
      one = (sending[byteIndex] & 0x80) != 0;
      sending[byteIndex] <<= 1;
      if (--bits == 0) state = ++byteIndex < 3 ? 1 : 3;
      break;
    default: // end bit
      state = 0;
      bitsLeft = 16;
  }
  half = one ? ONE_HALF - 1 : ZERO_HALF - 1;
  OCR1A = half;
}

#ifdef UDR0
#define RX_VECTOR USART_RX_vect
#ifndef USART_RX_vect
#undef RX_VECTOR
#define RX_VECTOR USART0_RX_vect
#endif
static volatile uint8_t ring[32], head, tail;
ISR(RX_VECTOR) {
  ring[head & 31] = UDR0;
  head++;
}
#endif

int main(void) {
#if defined(__AVR_ATmega328P__)
  DDRB = 1 << PB1;
#else
  DDRB = 1 << PB5;
#endif
  OCR1A = ONE_HALF - 1;
  TCCR1A = 1 << COM1A0;
  TIMSK1 = 1 << OCIE1A;
#ifdef UDR0
  UCSR0A = 1 << U2X0;
  UBRR0 = 16; // 115200 baud, 2.1 % fast
  UCSR0B = 1 << RXEN0 | 1 << RXCIE0 | 1 << TXEN0;
#endif
  TCCR1B = 1 << WGM12 | 1 << CS10;
  sei();
  for (;;) {
#ifdef UDR0
    while (tail != head) {
      uint8_t byte = ring[tail & 31];
      tail++;
      serialSum = serialSum * 31 + byte;
      UDR0 = serialSum;
    }
#endif
  }
}

#include "line.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <string.h>

#define BAUD 38400UL
/* Rounded to the nearest divider; at 16 MHz 25, which is 0.2 % fast. */
#define BAUD_DIVIDER ((F_CPU + BAUD * 8) / (BAUD * 16) - 1)

/* A power of two. The main loop looks at least once per packet (5 ms, 20 bytes), so 64 never fill. */
#define RING 64
static volatile uint8_t ring[RING];
static volatile uint8_t head; /* the interrupt writes here */
static uint8_t tail;          /* the main loop reads here */

static char text[48];
static uint8_t length;
static bool overlong;

void line_start(void) {
  UBRR0 = BAUD_DIVIDER;
  UCSR0C = (1 << UCSZ01) | (1 << UCSZ00);
  UCSR0B = (1 << RXCIE0) | (1 << RXEN0) | (1 << TXEN0);
}

/* Short on purpose: while it runs, the signal's interrupt waits. */
/* Name of the receive interrupt: controllers with one serial port leave the number out. */
#ifdef USART_RX_vect
#define RECEIVED USART_RX_vect
#else
#define RECEIVED USART0_RX_vect
#endif

ISR(RECEIVED) {
  uint8_t byte = UDR0;
  uint8_t next = (head + 1) & (RING - 1);
  ring[head] = byte;
  /* A full ring drops its newest byte; the line is then answered `no`. */
  if (next != tail) head = next;
}

void line_say(const char *text_out) {
  for (; *text_out; text_out++) {
    while (!(UCSR0A & (1 << UDRE0))) continue;
    UDR0 = *text_out;
  }
}

static uint8_t split(char *words[LINE_WORDS]) {
  uint8_t count = 0;
  char *rest = text;
  char *word;
  while ((word = strsep(&rest, " ")) != 0) {
    if (*word == 0) continue;
    if (count == LINE_WORDS) return LINE_WORDS + 1;
    words[count++] = word;
  }
  return count;
}

uint8_t line_words(char *words[LINE_WORDS]) {
  while (tail != head) {
    char c = ring[tail];
    tail = (tail + 1) & (RING - 1);
    if (c == '\r') continue;
    if (c != '\n') {
      if (length < sizeof text - 1) text[length++] = c;
      else overlong = true;
      continue;
    }
    text[length] = 0;
    bool good = !overlong;
    length = 0;
    overlong = false;
    uint8_t count = good ? split(words) : LINE_WORDS + 1;
    if (count > LINE_WORDS) line_say("no\n");
    else if (count > 0) return count;
  }
  return 0;
}

bool line_number(const char *word, int16_t *number) {
  bool negative = *word == '-';
  if (*word == '-' || *word == '+') word++;
  if (*word == 0) return false;
  int16_t n = 0;
  for (; *word; word++) {
    if (*word < '0' || *word > '9' || n > 3275) return false;
    n = n * 10 + (*word - '0');
  }
  *number = negative ? -n : n;
  return true;
}

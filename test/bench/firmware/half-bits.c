/*
 * The exhibition's station in another style: Timer 1 interrupts once per half-bit and the interrupt turns the pin itself, the
 * serial line is polled, and everything is in one file. Nothing of the example is in it but its commands.
 *
 * WATCHDOG: period of the watchdog (WDTO_15MS, ...); none where it is not defined.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Steps of 0.5 us. */
#define ONE 115
#define ZERO 199
#define LOCOS 12
#define ENABLE 0
#define OUTPUT 2

static struct loco {
  uint16_t address;
  int16_t speed;
  uint16_t functions;
  uint8_t backward;
} locos[LOCOS];
/* How often speed and three groups of functions are still to be sent at once. */
static uint8_t fresh[LOCOS][4];
static uint8_t resets = 24, idles = 12, halts, turn, who, last = 255;

static uint8_t going[6], going_count = 3;
static volatile uint8_t waiting[6], waiting_count;
static uint8_t at, bits, ones = 20;

static uint8_t next_bit(void) {
  if (ones) {
    ones--;
    return 1;
  }
  if (bits == 0) {
    if (at < going_count) {
      bits = 8;
      return 0;
    }
    if (waiting_count) {
      going_count = waiting_count;
      for (uint8_t i = 0; i < going_count; i++) going[i] = waiting[i];
      waiting_count = 0;
    } else {
      going[0] = going[2] = 0xFF;
      going[1] = 0;
      going_count = 3;
    }
    at = 0;
    ones = 16;
    return 1;
  }
  bits--;
  uint8_t bit = (going[at] >> bits) & 1;
  if (bits == 0) at++;
  return bit;
}

ISR(TIMER1_COMPA_vect) {
  static uint8_t second, bit = 1, following = 1;
  PINB = 1 << OUTPUT;
  if (!second) bit = following;
  OCR1A += bit ? ONE : ZERO;
  second ^= 1;
  if (second) following = next_bit();
}

static uint8_t packet[6], length;

static void begin(uint16_t address) {
  length = 0;
  if (address > 127) packet[length++] = 0xC0 | (address >> 8);
  packet[length++] = address;
}

static void send(void) {
  uint8_t error = 0;
  for (uint8_t i = 0; i < length; i++) error ^= packet[i];
  packet[length++] = error;
  for (uint8_t i = 0; i < length; i++) waiting[i] = packet[i];
  waiting_count = length;
}

static void send_two(uint8_t a, uint8_t b) {
  last = 255;
  length = 0;
  packet[length++] = a;
  packet[length++] = b;
  send();
}

static void tell(uint8_t i, uint8_t subject) {
  struct loco *l = &locos[i];
  uint8_t step = abs(l->speed);
  last = i;
  begin(l->address);
  if (subject == 0) {
    packet[length++] = 0x3F;
    packet[length++] = (l->backward ? 0 : 128) | (step ? step + 1 : 0);
  } else if (subject == 1) {
    packet[length++] = 0x80 | ((l->functions & 1) << 4) | ((l->functions >> 1) & 15);
  } else if (subject == 2) {
    packet[length++] = 0xB0 | ((l->functions >> 5) & 15);
  } else {
    packet[length++] = 0xA0 | ((l->functions >> 9) & 15);
  }
  send();
}

static void fill(void) {
  if (waiting_count) return;
  if (resets) {
    resets--;
    send_two(0, 0);
    return;
  }
  if (idles) {
    idles--;
    send_two(255, 0);
    return;
  }
  if (halts) {
    halts--;
    send_two(0, 0x71);
    return;
  }
  for (uint8_t i = 0; i < LOCOS; i++)
    for (uint8_t subject = 0; subject < 4; subject++)
      if (fresh[i][subject] && i != last) {
        fresh[i][subject]--;
        tell(i, subject);
        return;
      }
  for (uint8_t k = 0; k < LOCOS; k++) {
    who = who + 1 < LOCOS ? who + 1 : 0;
    if (who == 0) turn = turn + 1 < 6 ? turn + 1 : 0;
    if (!locos[who].address || who == last) continue;
    tell(who, turn & 1 ? (turn >> 1) + 1 : 0);
    return;
  }
  send_two(255, 0);
}

static void put(const char *text) {
  for (; *text; text++) {
    while (!(UCSR0A & (1 << UDRE0))) continue;
    UDR0 = *text;
  }
}

static uint8_t find(uint16_t address) {
  for (uint8_t i = 0; i < LOCOS; i++)
    if (locos[i].address == address) return i;
  for (uint8_t i = 0; i < LOCOS; i++)
    if (!locos[i].address) {
      locos[i] = (struct loco){.address = address};
      return i;
    }
  return 255;
}

static int16_t number(char **p) {
  int16_t value = 0;
  uint8_t negative = 0;
  while (**p == ' ') (*p)++;
  if (**p == '-') {
    negative = 1;
    (*p)++;
  }
  while (**p >= '0' && **p <= '9') value = value * 10 + *(*p)++ - '0';
  return negative ? -value : value;
}

static uint8_t obey(char *p) {
  uint8_t i;
  if (!strcmp(p, "halt")) {
    for (i = 0; i < LOCOS; i++) locos[i].speed = 0;
    halts = 6;
    return 1;
  }
  if (!strcmp(p, "power on")) {
    PORTB |= 1 << ENABLE;
    return 1;
  }
  if (!strcmp(p, "power off")) {
    PORTB &= ~(1 << ENABLE);
    return 1;
  }
  char kind = *p;
  while (*p && *p != ' ') p++;
  int16_t address = number(&p);
  if (address <= 0 || address > 10239) return 0;
  i = find(address);
  if (i == 255) return 0;
  if (kind == 'f') {
    locos[i].address = 0;
    return 1;
  }
  int16_t value = number(&p);
  if (kind == 'g' && value >= -126 && value <= 126) {
    if (value) locos[i].backward = value < 0;
    locos[i].speed = value;
    fresh[i][0] = 3;
    return 1;
  }
  if (kind != 'k' || value < 0 || value > 12) return 0;
  if (!strcmp(p, " on")) locos[i].functions |= 1 << value;
  else locos[i].functions &= ~(1 << value);
  fresh[i][value < 5 ? 1 : value < 9 ? 2 : 3] = 3;
  return 1;
}

static void listen(void) {
  static char line[40];
  static uint8_t count;
  if (!(UCSR0A & (1 << RXC0))) return;
  char c = UDR0;
  if (c != '\n') {
    if (count < sizeof line - 1) line[count++] = c;
    return;
  }
  line[count] = 0;
  put(count < sizeof line - 1 && obey(line) ? "ok\n" : "no\n");
  count = 0;
}

static void watch_current(void) {
  static uint8_t over;
  if (!(ADCSRA & (1 << ADIF))) return;
  ADCSRA |= 1 << ADIF;
  over = ADC > 326 ? over + 1 : 0;
  if (over < 20) return;
  over = 0;
  PORTB &= ~(1 << ENABLE);
  put("short\n");
}

int main(void) {
#ifdef WATCHDOG
  MCUSR = 0;
  wdt_enable(WATCHDOG);
#endif
  UBRR0 = 25;
  UCSR0C = 6;
  UCSR0B = (1 << RXEN0) | (1 << TXEN0);
  ADMUX = 0xC0;
  ADCSRA = (1 << ADEN) | (1 << ADSC) | (1 << ADATE) | 7;
  DDRB = (1 << ENABLE) | (1 << OUTPUT);
  TCCR1B = 2;
  OCR1A = TCNT1 + 200;
  TIFR1 = 1 << OCF1A;
  TIMSK1 = 1 << OCIE1A;
  sei();
  PORTB |= 1 << ENABLE;
  for (;;) {
#ifdef WATCHDOG
    wdt_reset();
#endif
    fill();
    watch_current();
    listen();
  }
}

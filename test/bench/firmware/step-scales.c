/*
 * Decoders of 14, 28 and 126 speed steps, functions to 68, addresses 128 and 10239, on an ATmega328P: Timer 2 turns the output
 * by itself, and the converter runs freely. Nothing of the examples is in it. One fault is planted by name:
 *
 * NOFL14        the headlight of 14 steps is sent in function group one only
 * ADCHFIRST     ADCH is read before ADCL, which locks the result
 * NO_ADC_CLOCK  the power reduction register has the converter off
 * DEEP_SLEEP    power-down sleep in the main loop, which stops the timers
 *
 * COMPARATOR is no fault: the analog comparator watches the current in place of the converter.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <avr/sleep.h>
#include <stdint.h>
#include <string.h>
#define N 10
enum { SPD, G0, G5, G9, G13, G21, G29, G37, G45, G53 };
struct loco { uint16_t a; uint8_t steps, spd, fwd, halt; uint8_t fn[9]; uint8_t fresh[11]; uint8_t turn; };
static struct loco L[N];
static volatile uint8_t pk[2][8], pl[2], full[2];
static uint8_t rd, wr;
/* bits */
static uint8_t half, bitv = 1, left = 24, mask, pos, cur, n, idle;
#define PRE 17
static uint8_t pre = PRE;
static const uint8_t IDLE[3] = {0xff, 0, 0xff};
static volatile uint16_t pkts;
static inline uint8_t nextbit(void) {
  if (left) { left--; return 1; }
  if (mask) { uint8_t b = (cur & mask) != 0; mask >>= 1; return b; }
  if (pos < n) { cur = idle ? IDLE[pos] : pk[rd][pos]; pos++; mask = 0x80; return 0; }
  if (!idle && n) { full[rd] = 0; rd ^= 1; }
  pkts++;
  if (full[rd]) { idle = 0; n = pl[rd]; } else { idle = 1; n = 3; }
  pos = 0; left = pre;
  return 1;
}
ISR(TIMER2_COMPA_vect) {
  if ((half ^= 1)) bitv = nextbit();
  OCR2A = bitv ? 115 : 199;
}
/* serial */
#define RB 64
static volatile uint8_t rb[RB], rh; static uint8_t rt;
ISR(USART_RX_vect) { uint8_t c = UDR0; uint8_t x = (rh + 1) % RB;
  if (x != rt)
  { rb[rh] = c; rh = x; } }
static void put(char c) { while (!(UCSR0A & 1 << UDRE0)); UDR0 = c; }
static void say(const char *s) { while (*s) put(*s++); }
/* trip */
#define LIM 232
#define READS 16
static volatile uint8_t over, trip;
#define OFF() (PORTD &= ~(1 << PD4))
#define ON() (PORTD |= 1 << PD4)
#ifndef COMPARATOR
ISR(ADC_vect, ISR_NOBLOCK) {
#ifdef ADCHFIRST
  uint16_t v = ADCH << 8; v |= ADCL;
#else
  uint16_t v = ADC;
#endif
  if (v > LIM) { if (++over >= READS) { OFF(); trip = 1; over = 0; } } else over = 0;
}
#endif
static uint8_t b[8], bn;
static void commit(void) { uint8_t x = 0; for (uint8_t i = 0; i < bn; i++) x ^= b[i];
  b[bn++] = x;
  for (uint8_t i = 0; i < bn; i++) pk[wr][i] = b[i]; pl[wr] = bn; full[wr] = 1; wr ^= 1; }
static uint8_t boot = 22, boot2 = 12, estop;
static uint16_t last;
static void adr(struct loco *l) { bn = 0;
  if (l->a > 127) b[bn++] = 0xC0 | l->a >> 8;
  b[bn++] = l->a; last = l->a; }
static void tell(struct loco *l, uint8_t k) {
  adr(l);
  uint8_t *f = l->fn;
#define BIT(i) ((f[(i) >> 3] >> ((i) & 7)) & 1)
#define BYTE(i) ((uint8_t)((f[(i) >> 3] >> ((i) & 7)) | ((i) & 7 ? f[((i) >> 3) + 1] << (8 - ((i) & 7)) : 0)))
  switch (k) {
    case SPD:
      if (l->steps == 128) { b[bn++] = 0x3f; b[bn++] = (l->fwd ? 0x80 : 0) | (l->halt ? 1 : l->spd ? l->spd + 1 : 0); }
      else if (l->steps == 28) { uint8_t s = l->spd ? (uint8_t)(((uint16_t)l->spd * 28 + 125) / 126) : 0;
        uint8_t c = l->halt ? 2 : s ? s + 3 : 0;
        b[bn++] = 0x40 | (l->fwd ? 0x20 : 0) | (c >> 1 & 15) | (c & 1 ? 16 : 0);
      } else { uint8_t s = l->spd ? (uint8_t)(((uint16_t)l->spd * 14 + 125) / 126) : 0;
        uint8_t c = l->halt ? 1 : s ? s + 1 : 0;
        b[bn++] = 0x40 | (l->fwd ? 0x20 : 0) | c
#ifndef NOFL14
          | (BIT(0) ? 16 : 0)
#endif
          ; }
      break;
    case G0: b[bn++] = 0x80 | (BIT(0) ? 16 : 0) | (f[0] >> 1 & 15); break;
    case G5: b[bn++] = 0xB0 | (BYTE(5) & 15); break;
    case G9: b[bn++] = 0xA0 | (BYTE(9) & 15); break;
    case G13: b[bn++] = 0xDE; b[bn++] = BYTE(13); break;
    case G21: b[bn++] = 0xDF; b[bn++] = BYTE(21); break;
    default: b[bn++] = 0xD8 + (k - G29); b[bn++] = BYTE(29 + 8 * (k - G29)); break;
  }
  commit();
}
static uint8_t need(struct loco *l, uint8_t k) {
  if (l->steps == 14 && k > G0) return 0;
  if (l->a == 3 && k > G9) return 0;
  if (l->a == 60 && k > G5) return 0;
  if (l->a == 128 && k > G21) return 0;
  return 1;
}
static uint8_t at;
static void fill(void) {
  if (full[wr]) return;
  if (boot) { boot--; bn = 2; b[0] = b[1] = 0; commit(); return; }
  if (boot2) { boot2--; bn = 2; b[0] = 255; b[1] = 0; commit(); return; }
  if (estop) { estop--; bn = 2; b[0] = 0; b[1] = 0x71; commit(); last = 0; return; }
  for (uint8_t i = 0; i < N; i++) if (L[i].a && L[i].a != last) for (uint8_t k = 0; k < 11; k++) if (L[i].fresh[k]) { L[i].fresh[k]--; tell(&L[i], k); return; }
  for (uint8_t i = 0; i < N; i++) { at = (at + 1) % N; struct loco *l = &L[at]; if (!l->a || l->a == last) continue;
    do l->turn = (l->turn + 1) % 22; while (!need(l, l->turn & 1 ? SPD : l->turn >> 1));
    tell(l, l->turn & 1 ? SPD : l->turn >> 1); return; }
  last = 0; bn = 2; b[0] = 255; b[1] = 0; commit();
}
static struct loco *get(uint16_t a, uint8_t make) {
  for (uint8_t i = 0; i < N; i++) if (L[i].a == a) return &L[i];
  if (make) for (uint8_t i = 0; i < N; i++) if (!L[i].a) { memset(&L[i], 0, sizeof L[i]); L[i].a = a; L[i].fwd = 1;
    L[i].steps = a == 60 ? 28 : a == 112 ? 14 : 128; return &L[i]; }
  return 0;
}
static uint32_t num(char **p) { uint32_t v = 0; if (**p < '0' || **p > '9') return 99999; while (**p >= '0' && **p <= '9') { v = v * 10 + *(*p)++ - '0'; if (v > 20000) v = 20000; } if (**p == ',') ++*p; return v; }
static uint8_t obey(char *p) {
  switch (*p++) {
    case 'X': for (uint8_t i = 0; i < N; i++) { L[i].spd = 0; L[i].halt = 1; } estop = 8; return 1;
    case 'P': if (*p == '1') { over = 0; trip = 0; ON(); } else OFF(); return 1;
    case 'K': { uint32_t a = num(&p); struct loco *l = a ? get(a, 0) : 0; if (!l) return 0; l->spd = 0; l->fresh[SPD] = 3; return 1; }
    case 'D': { uint32_t a = num(&p); struct loco *l = a ? get(a, 0) : 0; if (!l) return 0; l->a = 0; return 1; }
    case 'S': { uint32_t a = num(&p), s = num(&p); if (!a || a > 10239 || s > 126) return 0; struct loco *l = get(a, 1); if (!l) return 0;
      l->spd = s; l->fwd = *p == 'f'; l->halt = 0; l->fresh[SPD] = 3; return 1; }
    case 'F': { uint32_t a = num(&p), f = num(&p); if (!a || a > 10239 || f > 68) return 0; struct loco *l = get(a, 1); if (!l) return 0;
      if (*p == '1') l->fn[f >> 3] |= 1 << (f & 7); else l->fn[f >> 3] &= ~(1 << (f & 7));
      l->fresh[f < 5 ? G0 : f < 9 ? G5 : f < 13 ? G9 : f < 21 ? G13 : f < 29 ? G21 : G29 + (f - 29) / 8] = 3;
      if (f == 0 && l->steps == 14) l->fresh[SPD] = 3;
      return 1; }
  }
  return 0;
}
static char line[24]; static uint8_t len, ovf;
static void listen(void) {
  while (rt != rh) { char c = rb[rt]; rt = (rt + 1) % RB;
    if (c != '\n') { 
      if (len < sizeof line - 1) line[len++] = c; else ovf = 1;
      continue; }
    line[len] = 0; say(!ovf && obey(line) ? "+" : "-"); len = ovf = 0; }
}
int main(void) {
  MCUSR = 0; wdt_disable();
#ifdef NO_ADC_CLOCK
  PRR = 1 << PRADC;
#endif
  DDRB |= 1 << PB3; DDRD |= 1 << PD4;
  UBRR0 = 25; UCSR0C = 6; UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
  ADMUX = 0xC0; ADCSRA = 1 << ADEN | 1 << ADSC | 1 << ADATE | 1 << ADIE | 7;
  OCR2A = 199; 
  TCCR2A = 1 << COM2A0 | 1 << WGM21;
  TIMSK2 = 1 << OCIE2A; TCCR2B = 1 << CS21;
#ifdef COMPARATOR
  ADCSRA = 0; ADCSRB = 1 << ACME; ADMUX = 0; ACSR = 1 << ACBG;
#endif
  wdt_enable(WDTO_15MS);
  sei();
  while (pkts < 2) { fill(); wdt_reset(); }
  ON();
  for (;;) { wdt_reset(); fill(); listen(); if (trip) { trip = 0; say("!"); }
#ifdef COMPARATOR
    ACSR = 1 << ACBG; static uint16_t q; if (ACSR & 1 << ACO) q = 0; else if (++q > 150) { OFF(); trip = 1; q = 0; }
#endif
#ifdef DEEP_SLEEP
    set_sleep_mode(SLEEP_MODE_PWR_DOWN);
    sleep_mode();
#endif
  }
}

/*
 * Two districts, each with its trip and an enable of its own, on an ATmega32U4: Timer 3 turns the output by itself, what was sent
 * longest ago is sent next, and a trip tries again after a second. Nothing of the examples is in it. One fault is planted by name:
 *
 * TRIPS_LATE       a trip needs half as much current again
 * ONE_AT_A_TIME    a district is not watched while the other is off
 * WRONG_CHANNEL    each reading counts for the other district
 * LONG_ANSWERS     a command is answered with 60 spaces, waited for one by one
 * AFTER_BROWN_OUT  power without packets after a brown-out, and after no other restart
 * SIXTEEN_BITS     milliseconds have 16 bits
 * STOP_ONCE        an emergency stop is sent once, and speeds no more after it
 * STOPS_NOBODY     a stop of one locomotive is answered, and does nothing
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <stdint.h>
#include <string.h>
#define N 16
#define OUT PC6
struct unit { uint16_t addr; uint8_t step; uint8_t fwd; uint32_t fn; uint32_t sent[4]; uint8_t urgent[4]; };
static struct unit units[N];
static volatile uint32_t ticks; /* ms */
static uint8_t now_pkt[6], now_len; static volatile uint8_t next_pkt[6]; static volatile uint8_t next_len;
static volatile uint32_t pkts;
static uint8_t phase, cur = 1, idx, mask, ones = 22;
static uint8_t bit(void) {
  if (ones) { ones--; return 1; }
  if (!mask) {
    if (idx < now_len) { mask = 0x80; return 0; }
    if (next_len) { now_len = next_len; for (uint8_t i = 0; i < now_len; i++) now_pkt[i] = next_pkt[i]; next_len = 0; }
    else { now_pkt[0] = 0xFF; now_pkt[1] = 0; now_pkt[2] = 0xFF; now_len = 3; }
    idx = 0; ones = 17; return 1;
  }
  uint8_t b = (now_pkt[idx] & mask) ? 1 : 0;
  mask >>= 1; if (!mask) idx++;
  return b;
}
ISR(TIMER3_COMPA_vect) {
  if (phase) { cur = bit(); phase = 0; } else phase = 1;
  OCR3A = cur ? 115 : 199; /* the coming half */
}
ISR(TIMER0_COMPA_vect, ISR_NOBLOCK) { ticks++; }
static volatile uint8_t rx[64], rh; static uint8_t rt;
ISR(USART1_RX_vect) { rx[rh & 63] = UDR1; rh++; }
static uint32_t ms(void) { uint8_t s = SREG; cli(); uint32_t t = ticks; SREG = s; return t; }
static void putch(char c) { while (!(UCSR1A & (1 << UDRE1))); UDR1 = c; }
static uint8_t b[6], n;
static void go(void) { uint8_t x = 0; for (uint8_t i = 0; i < n; i++) x ^= b[i]; b[n++] = x;
  for (uint8_t i = 0; i < n; i++) next_pkt[i] = b[i]; next_len = n; }
static void addr(uint16_t a) { n = 0; if (a > 127) b[n++] = 0xC0 | (a >> 8); b[n++] = a & 255; }
static uint8_t boot = 26, estop;
static struct unit *lastu; static uint8_t halted;
static void fill(void) {
  if (next_len) return;
  if (boot) { boot--; n = 0; b[n++] = 0; b[n++] = 0; go(); return; }
  if (estop) { estop--; n = 0; b[n++] = 0; b[n++] = 0x71; go(); lastu = 0; return; }
  struct unit *best = 0; uint8_t what = 0; uint32_t t = ms(), age = 0;
  for (uint8_t i = 0; i < N; i++) if (units[i].addr && &units[i] != lastu) for (uint8_t k = 0; k < 4; k++) if (units[i].urgent[k]) { best = &units[i]; what = k; goto found; }
  for (uint8_t i = 0; i < N; i++) {
    struct unit *u = &units[i];
    if (!u->addr || u == lastu) continue;
    for (uint8_t k = 0; k < 4; k++) {
#ifdef SIXTEEN_BITS
      uint32_t a = (uint16_t)t - u->sent[k]; if (u->sent[k] > (uint16_t)t) a = 0;
#else
      uint32_t a = t - u->sent[k];
#endif
#ifdef STOP_ONCE
      if (k == 0 && halted) continue;
#endif
      if (k == 0) a *= 4;
      if (a >= age && (k < 1 || a > 150)) { age = a; best = u; what = k; } }
  }
  if (!best) { n = 0; b[n++] = 255; b[n++] = 0; go(); lastu = 0; return; }
found:
#ifdef SIXTEEN_BITS
  best->sent[what] = (uint16_t)t;
#else
  best->sent[what] = t;
#endif
  if (best->urgent[what]) best->urgent[what]--;
  addr(best->addr); lastu = best;
  uint32_t f = best->fn;
  if (what == 0) { uint8_t s = best->step; b[n++] = 0x3F;
    b[n++] = (best->fwd ? 0x80 : 0) | (s ? s + 1 : 0);
  }
  else if (what == 1) b[n++] = 0x80 | ((f & 1) << 4) | ((f >> 1) & 15);
  else if (what == 2) b[n++] = 0xB0 | ((f >> 5) & 15);
  else b[n++] = 0xA0 | ((f >> 9) & 15);
  go();
}
/* trip */
static uint8_t ch, over[2], off[2]; static uint32_t retry[2]; static uint8_t wanted;
#ifndef LIMIT
#define LIMIT 100 /* 0.25 V of 2.56 V: 2.5 A at 0.1 Ohm */
#endif
static void en(uint8_t d, uint8_t on) { if (on) PORTB |= 1 << (PB4 + d); else PORTB &= ~(1 << (PB4 + d)); }
static uint8_t busy;
static void sense(void) {
  if (!(ADCSRA & (1 << ADSC))) {
    uint16_t v = ADC;
#ifdef WRONG_CHANNEL
    uint8_t d = ch ^ 1;
#else
    uint8_t d = ch;
#endif
    ch ^= 1; ADMUX = 0xC0 | ch; ADCSRA |= 1 << ADSC;
#ifdef TRIPS_LATE
    if (v > 150) over[d]++; else over[d] = 0;
#else
    if (v > LIMIT) over[d]++; else over[d] = 0;
#endif
#ifdef ONE_AT_A_TIME
    if (off[d ^ 1]) over[d] = 0;
#endif
    if (over[d] >= 8 && !off[d] && wanted) { over[d] = 0; en(d, 0); off[d] = 1;
      retry[d] = ms() + 1000;
      putch('*'); putch('0' + d); }
  }
  for (uint8_t d = 0; d < 2; d++) if (off[d] && wanted && (int32_t)(ms() - retry[d]) >= 0) { off[d] = 0; over[d] = 0;
    en(d, 1); }
}
static struct unit *find(uint16_t a) {
  for (uint8_t i = 0; i < N; i++) if (units[i].addr == a) return &units[i];
  for (uint8_t i = 0; i < N; i++) if (!units[i].addr) { memset(&units[i], 0, sizeof units[i]); units[i].addr = a; units[i].fwd = 1; return &units[i]; }
  return 0;
}
static void reply(uint8_t ok) {
#ifdef LONG_ANSWERS
  for (uint8_t i = 0; i < 60; i++) putch(' ');
#endif
  putch(ok ? '.' : '?'); }
static uint32_t num(char **p, uint8_t *ok) { uint32_t v = 0; uint8_t any = 0; while (**p >= '0' && **p <= '9' && v < 100000) { v = v * 10 + *(*p)++ - '0'; any = 1; } if (!any || v >= 100000) *ok = 0; return v; }
static uint8_t obey(char *p) {
  uint8_t ok = 1; char k = *p++;
  if (k == '!') { for (uint8_t i = 0; i < N; i++) {
      units[i].step = 0;
  }
#ifdef STOP_ONCE
    estop = 1; halted = 1;
#else
    estop = 10;
#endif
    return 1; }
  if (k == 'p') { wanted = *p == '1'; for (uint8_t d = 0; d < 2; d++) { off[d] = 0; over[d] = 0;
      en(d, wanted); } return 1; }
  uint32_t a = num(&p, &ok); if (!ok || a == 0 || a > 9999) return 0;
  if (k == 's') {
#ifdef STOPS_NOBODY
    return 1;
#endif
    struct unit *u = find(a); if (!u) return 0; u->step = 0; u->urgent[0] = 4; return 1; }
  if (k == 'd') { struct unit *u = find(a); if (u) u->addr = 0; return 1; }
  if (*p++ != ':') return 0;
  if (k == 'v') {
    uint8_t fwd = *p++ == '+'; uint32_t v = num(&p, &ok); if (!ok || v > 126) return 0;
    struct unit *u = find(a); if (!u) return 0; u->step = v; halted = 0;
    u->fwd = fwd; u->urgent[0] = 3;
    return 1; }
  if (k == 'f') { uint32_t f = num(&p, &ok); if (!ok || f > 12 || *p++ != '=') return 0; struct unit *u = find(a); if (!u) return 0;
    if (*p == '1') u->fn |= 1UL << f; else u->fn &= ~(1UL << f);
    u->urgent[f < 5 ? 1 : f < 9 ? 2 : 3] = 3; return 1; }
  return 0;
}
static void listen(void) {
  static char line[24]; static uint8_t len;
  while (rt != rh) {
    char c = rx[rt & 63]; rt++;
    if (c != ';') { if (len < sizeof line - 1) line[len++] = c; busy = 1; continue; }
    line[len] = 0; reply(len < sizeof line - 1 && obey(line)); len = 0; busy = 0;
  }
}
int main(void) {
  uint8_t why = MCUSR; MCUSR = 0; wdt_disable(); (void)why;
  DDRC |= 1 << OUT; DDRB |= (1 << PB4) | (1 << PB5);
#ifdef AFTER_BROWN_OUT
  if (why & (1 << BORF)) { PORTB |= 1 << PB4; for (volatile uint32_t i = 0; i < 300000; i++); }
#endif
  TCCR0A = 2; TCCR0B = 3; OCR0A = 249; TIMSK0 = 1 << OCIE0A;
  UBRR1 = 16; UCSR1A = 2 ; UBRR1 = 34; UCSR1B = (1 << RXEN1) | (1 << TXEN1) | (1 << RXCIE1); UCSR1C = 6;
  ADMUX = 0xC0; ADCSRA = (1 << ADEN) | (1 << ADSC) | 7;
  TCCR3A = 1 << COM3A0; OCR3A = 199; TIMSK3 = 1 << OCIE3A; TCCR3B = (1 << WGM32) | 2;
#ifndef NOWDT
  wdt_enable(WDTO_15MS);
#endif
  sei();
  wanted = 1; en(0, 1); en(1, 1);
  for (;;) { wdt_reset(); fill(); sense(); listen(); }
}

/*
 * A main and a service track on an ATmega2560, polled, on Timers 4 and 5; the service track has power only while it works. Nothing
 * of the examples is in it. One fault is planted by name:
 *
 * BLOCKS    nothing else is obeyed while a CV is written
 * LOW_BITS  the two high bits of the number of a CV are lost
 * NO_TRIP   more than 250 mA on the service track are not looked for
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdint.h>
#include <string.h>
struct line { uint8_t phase, cur, idx, mask, ones, preamble, len, pkt[6]; volatile uint8_t nlen; uint8_t next[6]; volatile uint16_t begun; };
static struct line mainl = {.cur = 1, .ones = 20, .preamble = 16}, serv = {.cur = 1, .ones = 24, .preamble = 24};
static uint8_t step(struct line *l) {
  if (!l->phase) { l->phase = 1; return l->cur; }
  l->phase = 0;
  if (l->ones) { l->ones--; return l->cur = 1; }
  if (!l->mask) {
    if (l->idx < l->len) { l->mask = 0x80; return l->cur = 0; }
    if (l->nlen) { l->len = l->nlen; memcpy(l->pkt, l->next, 6); l->nlen = 0; }
    else if (l == &serv) { l->len = 3; l->pkt[0] = l->pkt[1] = l->pkt[2] = 0; }
    else { l->len = 3; l->pkt[0] = l->pkt[2] = 0xFF; l->pkt[1] = 0; }
    l->idx = 0; l->ones = l->preamble - 1; l->begun++; return l->cur = 1;
  }
  l->cur = (l->pkt[l->idx] & l->mask) != 0;
  l->mask >>= 1; if (!l->mask) l->idx++;
  return l->cur;
}
ISR(TIMER4_COMPA_vect) { OCR4A = step(&mainl) ? 115 : 199; }
ISR(TIMER5_COMPA_vect) { OCR5A = step(&serv) ? 115 : 199; }
static void hand(struct line *l, uint8_t *b, uint8_t n) { uint8_t x = 0; for (uint8_t i = 0; i < n; i++) { l->next[i] = b[i]; x ^= b[i]; } l->next[n] = x; l->nlen = n + 1; }
static struct { uint16_t a; int8_t v; uint8_t rev, f, hot, hotf, turn; } cab[8];
static uint8_t at = 9, boot = 30, stop, slot;
static void feed(void) {
  if (mainl.nlen) return;
  uint8_t b[5], n = 0;
  if (boot) { boot--; b[0] = b[1] = 0; hand(&mainl, b, 2); return; }
  if (stop && stop-- & 1) { b[0] = 0; b[1] = 0x71; hand(&mainl, b, 2); at = 9; return; }
  uint8_t i;
  for (i = 0; i < 8; i++) if (cab[i].a && i != at && (cab[i].hot || cab[i].hotf)) break;
  if (i == 8) { for (uint8_t k = 0; k < 8; k++) { slot = (slot + 1) & 7; if (cab[slot].a && slot != at) { i = slot; cab[i].turn ^= 1; break; } } }
  if (i == 8) { b[0] = 255; b[1] = 0; at = 9; hand(&mainl, b, 2); return; }
  at = i;
  if (cab[i].a > 127) b[n++] = 0xC0 | (cab[i].a >> 8);
  b[n++] = cab[i].a;
  if (cab[i].hot || (!cab[i].hotf && cab[i].turn)) { if (cab[i].hot) cab[i].hot--; b[n++] = 0x3F; b[n++] = (cab[i].rev ? 0 : 0x80) | (cab[i].v ? cab[i].v + 1 : 0); }
  else { if (cab[i].hotf) cab[i].hotf--; b[n++] = 0x80 | ((cab[i].f & 1) << 4) | (cab[i].f >> 1); }
  hand(&mainl, b, n);
}
static void put(const char *s) { for (; *s; s++) { while (!(UCSR0A & (1 << UDRE0))) {
  } UDR0 = *s; } }
/* programming */
static uint8_t phase, left, ins[3], ack, isw, above; static uint16_t over, seen; static uint16_t first; static uint32_t base8, cur8;
static void prog_start(uint8_t w, uint16_t cv, uint8_t v) {
  cv--; ins[0] = (w ? 0x7C : 0x74) | ((cv >> 8) & 3); ins[1] = cv; ins[2] = v;
#ifdef LOW_BITS
  ins[0] &= ~3;
#endif
  isw = w; phase = 1; left = 25; ack = 0; above = 0; over = 0; cur8 = 0;
  serv.ones = 24; serv.idx = serv.len = serv.mask = 0; serv.phase = 0; serv.cur = 1; serv.nlen = 0; serv.begun = 0; seen = 0; OCR5A = 115; TCNT5 = 0;
  TCCR5A = 1 << COM5A0; TCCR5B = (1 << WGM52) | 2; TIMSK5 = 1 << OCIE5A; PORTJ |= 1 << 1;
}
static void prog_end(const char *s) { PORTJ &= ~(1 << 1); TIMSK5 = 0; TCCR5B = 0; phase = 0; put(s); }
static void prog(void) {
  if (!phase) return;
  if (serv.nlen) return;
  uint8_t z[3] = {0, 0, 0};
  if (left) { left--; if (phase == 2 || (phase == 3 && isw)) hand(&serv, ins, 3); else hand(&serv, z, 2); return; }
  phase++;
  if (phase == 2) { left = 7; first = serv.begun; }
  else if (phase == 3) left = 8;
  else if (phase == 4) left = 2;
  else prog_end(ack ? "A\r" : "N\r");
}
static void amps(void) {
  if (!(ADCSRA & (1 << ADIF))) return;
  ADCSRA |= 1 << ADIF;
  uint16_t v = ADC; /* 1.07 mA each */
  if (!phase) return;
#ifndef NO_TRIP
  if (v > 220) { if (++over > 400) { prog_end("X\r"); return; } } else over = 0;
#endif
  cur8 += v - cur8 / 8;
  if (phase < 2 || serv.begun < first + 2) {
    base8 = cur8; return; }
  if (cur8 > base8 + 8 * 38) above++; else above = 0;
  if (above > 25) { ack = 1; above = 25; }
}
static uint8_t over_line; static char buf[40]; static uint8_t len;
static uint16_t hexn(char **p) { uint16_t v = 0; for (;; (*p)++) { char c = **p; if (c >= '0' && c <= '9') v = v * 16 + c - '0'; else if (c >= 'A' && c <= 'F') v = v * 16 + c - 'A' + 10; else return v; } }
static uint8_t look(uint16_t a) { uint8_t i; for (i = 0; i < 8; i++) if (cab[i].a == a) return i; for (i = 0; i < 8; i++) if (!cab[i].a) { memset(&cab[i], 0, sizeof cab[i]); cab[i].a = a; return i; } return 8; }
static void cmd(char *p) {
  char k = *p++; if (*p == ',') p++;
  if (k == 'Z') { for (uint8_t i = 0; i < 8; i++) cab[i].v = 0, cab[i].hot = 0; stop = 20; put("K\r"); return; }
  uint16_t a = hexn(&p); if (*p == ',') p++;
  if (k == 'W' || k == 'Q') { uint16_t v = hexn(&p); if (!a || a > 1024 || v > 255 || phase) { put("E\r"); return; } prog_start(k == 'W', a, v);
#ifdef BLOCKS
    while (phase) { prog(); amps(); }
#endif
    return; }
  if (!a || a > 9999) { put("E\r"); return; }
  uint8_t i = look(a); if (i == 8) { put("E\r"); return; }
  if (k == 'D') { cab[i].a = 0; put("K\r"); return; }
  if (k == 'S') { uint16_t v = hexn(&p); if (v > 126) { put("E\r"); return; } if (*p == ',') p++; cab[i].rev = *p == 'b'; cab[i].v = v; cab[i].hot = 3; put("K\r"); return; }
  if (k == 'F') { uint16_t v = hexn(&p); if (v > 4) { put("E\r"); return; } if (*p == ',') p++; if (*p == 'y') cab[i].f |= 1 << v; else cab[i].f &= ~(1 << v); cab[i].hotf = 3; put("K\r"); return; }
  put("E\r");
}
static void listen(void) {
  if (!(UCSR0A & (1 << RXC0))) return;
  char c = UDR0;
  if (c != '\r') { if (len < 39) buf[len++] = c; else over_line = 1; return; }
  buf[len] = 0; if (over_line) put("E\r"); else cmd(buf); len = 0; over_line = 0;
}
int main(void) {
  UBRR0 = 103; UCSR0B = (1 << RXEN0) | (1 << TXEN0);
  DDRH |= 1 << 3; DDRL |= 1 << 3; DDRJ |= 3;
  ADMUX = (1 << REFS1) | 2; ADCSRA = (1 << ADEN) | (1 << ADSC) | (1 << ADATE) | 7;
  OCR4A = 115; TCCR4A = 1 << COM4A0; TIMSK4 = 1 << OCIE4A; TCCR4B = (1 << WGM42) | 2;
  sei(); PORTJ |= 1;
  for (;;) { feed(); prog(); amps(); listen(); }
}

#include "turns.h"

/* What a locomotive is told: its speed and three groups of functions. */
enum subject { SPEED, LIGHT_TO_4, FROM_5_TO_8, FROM_9_TO_12, SUBJECTS };

struct loco {
  uint16_t address; /* 0: free place */
  int16_t speed;
  bool backward; /* direction stands even at speed 0 */
  bool halted;
  uint16_t functions;
  uint8_t turn;
  uint8_t urgent[SUBJECTS]; /* how often a change is still to be sent ahead of the refresh */
};

/* A change goes out this often at once: a dirty rail may swallow one. */
#define REPEATS 3
#define RESETS_AT_START 20
#define IDLES_AT_START 10
#define HALT_REPEATS 8

static struct loco locos[TURNS_MOST];
static uint8_t place;          /* whose turn the refresh has reached */
static uint8_t urgent_place;   /* and where the search for changes goes on */
static uint16_t last_address;  /* sent to last; 0: a broadcast or none */
static uint8_t resets;
static uint8_t idles;
static uint8_t halts;

/* Speed is told every second time, since a lost speed is what one notices. */
static const uint8_t TURNS[] = {SPEED, LIGHT_TO_4, SPEED, FROM_5_TO_8, SPEED, FROM_9_TO_12};

void turns_start(void) {
  resets = RESETS_AT_START;
  idles = IDLES_AT_START;
}

static struct loco *find(uint16_t address) {
  for (uint8_t i = 0; i < TURNS_MOST; i++)
    if (locos[i].address == address) return &locos[i];
  return 0;
}

static struct loco *find_or_add(uint16_t address) {
  if (address == 0 || address > ADDRESS_HIGHEST) return 0;
  struct loco *l = find(address);
  if (l) return l;
  l = find(0);
  if (!l) return 0;
  *l = (struct loco){.address = address};
  return l;
}

bool turns_drive(uint16_t address, int16_t speed) {
  if (speed < -126 || speed > 126) return false;
  struct loco *l = find_or_add(address);
  if (!l) return false;
  if (speed != 0) l->backward = speed < 0;
  l->speed = speed;
  l->halted = false;
  l->urgent[SPEED] = REPEATS;
  return true;
}

bool turns_key(uint16_t address, uint8_t function, bool on) {
  if (function > 12) return false;
  struct loco *l = find_or_add(address);
  if (!l) return false;
  uint16_t bit = (uint16_t)1 << function;
  l->functions = on ? l->functions | bit : l->functions & ~bit;
  l->urgent[function <= 4 ? LIGHT_TO_4 : function <= 8 ? FROM_5_TO_8 : FROM_9_TO_12] = REPEATS;
  return true;
}

bool turns_forget(uint16_t address) {
  struct loco *l = address ? find(address) : 0;
  if (!l) return false;
  l->address = 0;
  return true;
}

void turns_halt(void) {
  halts = HALT_REPEATS;
  for (uint8_t i = 0; i < TURNS_MOST; i++) {
    locos[i].speed = 0;
    locos[i].halted = true;
  }
}

/* 126-step speed (S-9.2.1:2012 C, 001): bit 7 forward, 0 stop, 1 emergency stop, step n as n + 1. */
static uint8_t speed_byte(const struct loco *l) {
  uint16_t step = l->speed < 0 ? -l->speed : l->speed;
  uint8_t code = l->halted ? 1 : step == 0 ? 0 : step + 1;
  return (l->backward ? 0 : 0x80) | code;
}

static void tell(const struct loco *l, uint8_t subject, struct packet *p) {
  uint16_t f = l->functions;
  packet_begin(p);
  packet_address(p, l->address);
  switch (subject) {
    case SPEED:
      packet_add(p, 0x3F);
      packet_add(p, speed_byte(l));
      break;
    case LIGHT_TO_4: /* bit 4 is the light, bits 0 to 3 are functions 1 to 4 */
      packet_add(p, 0x80 | ((f & 1) << 4) | ((f >> 1) & 0x0F));
      break;
    case FROM_5_TO_8:
      packet_add(p, 0xB0 | ((f >> 5) & 0x0F));
      break;
    default:
      packet_add(p, 0xA0 | ((f >> 9) & 0x0F));
      break;
  }
  packet_end(p);
  last_address = l->address;
}

/* A change that waits, of any locomotive but the one told last. */
static bool tell_change(struct packet *p) {
  for (uint8_t i = 0; i < TURNS_MOST; i++) {
    urgent_place = urgent_place + 1 < TURNS_MOST ? urgent_place + 1 : 0;
    struct loco *l = &locos[urgent_place];
    if (l->address == 0 || l->address == last_address) continue;
    for (uint8_t subject = 0; subject < SUBJECTS; subject++) {
      if (l->urgent[subject] == 0) continue;
      l->urgent[subject]--;
      tell(l, subject, p);
      return true;
    }
  }
  return false;
}

static bool refresh(struct packet *p) {
  for (uint8_t i = 0; i < TURNS_MOST; i++) {
    place = place + 1 < TURNS_MOST ? place + 1 : 0;
    struct loco *l = &locos[place];
    if (l->address == 0 || l->address == last_address) continue;
    uint8_t subject = TURNS[l->turn];
    l->turn = l->turn + 1u < sizeof TURNS ? l->turn + 1 : 0;
    tell(l, subject, p);
    return true;
  }
  return false;
}

void turns_next(struct packet *p) {
  if (resets > 0) {
    resets--;
    packet_reset(p);
    return;
  }
  if (idles > 0) {
    idles--;
    packet_idle(p);
    return;
  }
  if (halts > 0) {
    /* Broadcast stop, emergency: every decoder, also those that were never named (S-9.2:2004 B). */
    halts--;
    last_address = 0;
    packet_begin(p);
    packet_add(p, 0x00);
    packet_add(p, 0x71);
    packet_end(p);
    return;
  }
  if (tell_change(p) || refresh(p)) return;
  /* Nobody else is there to be told: an idle packet keeps the 5 ms. */
  last_address = 0;
  packet_idle(p);
}

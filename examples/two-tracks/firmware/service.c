#include "service.h"

/* Counts of S-9.2.3:2012 E, direct mode. */
#define POWER_ON_PACKETS 20
#define RESETS_BEFORE 3
#define INSTRUCTIONS 5
#define RECOVERY 6

/* An acknowledgement is 60 mA or more for 5 to 7 ms (S-9.2.3:2012 D). The threshold lies well below, or a decoder that
   draws just 60 mA would be missed half of the time. */
#define ACK_MILLIAMPERE 40
/* Readings in which the smoothed current must be higher: 30 of 104 us are 3.1 ms. The smoothing takes 0.9 ms to show 40
   of 60 mA, so a pulse of 5 ms gives them with room to spare. */
#define ACK_READINGS 30
#define OVERLOAD_MILLIAMPERE 220 /* 250 mA (S-9.2.3:2012 B) less the 10 % of the reference */
#define OVERLOAD_READINGS 930 /* 96.7 ms: no more than 100 ms with the reading that just missed it (S-9.2.3:2012 B) */

enum step { POWER_ON, READY, BEFORE, INSTRUCT, RECOVER, AFTER };

static enum step step;
static uint8_t left;     /* packets still to hand over in this step */
static uint8_t handed;   /* packets handed to the sender, counted round */
static struct packet instruction;
static bool writing;

static uint8_t first;    /* number of the first instruction packet */
static uint8_t end;      /* and of the packet after the last one of the operation */
static bool watching;
static bool acknowledged;
static bool ended;
static bool overloaded;
static uint16_t smooth;  /* current times eight, smoothed */
static uint16_t base;    /* the same, before the instruction */
static uint8_t higher;
static uint16_t over;

void service_open(void) {
  step = POWER_ON;
  left = POWER_ON_PACKETS;
  /* The sender's own count starts with the session. */
  handed = 0;
  watching = ended = acknowledged = overloaded = false;
  smooth = 0;
  over = 0;
}

/* 0111CCVV VVVVVVVV DDDDDDDD: CC 01 verify, 11 write; the field is the CV's number minus one. */
static bool begin(uint8_t code, uint16_t cv, uint8_t value) {
  if (cv < 1 || cv > 1024 || step != READY || ended) return false;
  uint16_t field = cv - 1;
  packet_begin(&instruction);
  packet_add(&instruction, 0x70 | (code << 2) | (uint8_t)(field >> 8));
  packet_add(&instruction, (uint8_t)field);
  packet_add(&instruction, value);
  packet_end(&instruction);
  writing = code == 3;
  acknowledged = false;
  step = BEFORE;
  left = RESETS_BEFORE;
  return true;
}

bool service_write(uint16_t cv, uint8_t value) {
  return begin(3, cv, value);
}

bool service_verify(uint16_t cv, uint8_t value) {
  return begin(1, cv, value);
}

/* What follows a step that has handed over its last packet. */
static void advance(void) {
  switch (step) {
    case POWER_ON:
      step = READY;
      break;
    case BEFORE:
      step = INSTRUCT;
      left = INSTRUCTIONS;
      first = handed;
      watching = true;
      higher = 0;
      break;
    case INSTRUCT:
      /* A write is repeated through its recovery time; after a verify come resets. */
      step = writing ? RECOVER : AFTER;
      left = RECOVERY;
      break;
    case RECOVER:
    case AFTER:
      step = READY;
      end = handed;
      break;
    default:
      break;
  }
}

void service_next(struct packet *p) {
  while (step != READY && left == 0) advance();
  if (step == INSTRUCT || step == RECOVER) *p = instruction;
  else packet_reset(p); /* also while nothing is asked: twenty milliseconds without would end service mode */
  if (left > 0) left--;
  handed++;
}

/* Has the packet with this number left the sender? Numbers run round at 256, far more than the sender holds. */
static bool has_gone(uint8_t number, uint8_t gone) {
  return (int8_t)(gone - number) > 0;
}

void service_current(uint16_t milliampere, uint8_t gone) {
  smooth += milliampere - smooth / 8;
  over = milliampere > OVERLOAD_MILLIAMPERE ? over + 1 : 0;
  if (over >= OVERLOAD_READINGS) overloaded = true;
  if (!watching) return;
  /* The base is what flows before the decoder can have acted: it acts on the second packet of two. */
  if (!has_gone(first + 1, gone)) {
    base = smooth;
    return;
  }
  higher = smooth >= base + ACK_MILLIAMPERE * 8 ? higher + 1 : 0;
  if (higher >= ACK_READINGS) acknowledged = true;
  if (step != READY || !has_gone(end - 1, gone)) {
    if (higher >= ACK_READINGS) higher = ACK_READINGS;
    return;
  }
  watching = false;
  ended = true;
}

enum service_result service_result(void) {
  if (overloaded) return SERVICE_OVERLOAD;
  if (!ended) return SERVICE_NONE;
  ended = false;
  return acknowledged ? SERVICE_ANSWERED : SERVICE_SILENT;
}

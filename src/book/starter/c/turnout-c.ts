/** Turnouts in `turns.c`: those that wait, and the packets of the one that is being thrown. Chip-independent. */

export const TURNOUT_STATE = `/* Turnouts that wait, the first of which is being thrown. */
struct turnout {
  uint16_t number;
  bool straight;
};
static struct turnout turnouts[TURNOUT_PLACES];
static uint8_t turnout_first;
static uint8_t turnout_count;
static uint8_t turnout_sent;    /* packets of this throw: first those that switch on, then those that switch off */
static uint8_t turnout_told_at; /* number of the last one */

`

export const THROW_TURNOUT = `enum turns_answer turns_turnout(uint16_t number, bool straight) {
  if (number < 1 || number > TURNOUT_HIGHEST) return ANSWER_RANGE;
  if (turnout_count == TURNOUT_PLACES) return ANSWER_FULL;
  uint8_t place = (turnout_first + turnout_count) % TURNOUT_PLACES;
  turnouts[place] = (struct turnout){.number = number, .straight = straight};
  turnout_count++;
  return ANSWER_DONE;
}

`

export const TELL_TURNOUT = `/*
 * The next packet of the turnout that is being thrown (S-9.2.1:2012 D): 10AAAAAA 1aaaCPPO, with the upper bits of the
 * board inverted, C for on, P the pair, and O the output: 1 is straight, 0 diverging (common practice, no source).
 */
static bool tell_turnout(struct packet *p) {
  uint8_t since = packets - turnout_told_at;
  if (turnout_count == 0 || since <= GAP_PACKETS) return false;
  if (turnout_sent == TURNOUT_PACKETS && since < TURNOUT_PULSE) return false;
  const struct turnout *t = &turnouts[turnout_first];
  uint16_t pair = t->number - 1 + TURNOUT_OFFSET;
  uint16_t board = pair >> 2;
  bool on = turnout_sent < TURNOUT_PACKETS;
  packet_of_two(p, 0x80 | (board & 0x3F),
                0x80 | ((~(board >> 6) & 7) << 4) | (on ? 8 : 0) | ((pair & 3) << 1) | (t->straight ? 1 : 0));
  turnout_told_at = packets;
  if (++turnout_sent == 2 * TURNOUT_PACKETS) {
    turnout_sent = 0;
    turnout_first = (turnout_first + 1) % TURNOUT_PLACES;
    turnout_count--;
  }
  return true;
}

`

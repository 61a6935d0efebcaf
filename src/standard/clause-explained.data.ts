/**
 * What each clause means, why it matters and what people usually do where it fails, in plain words. Limits and their
 * sources are in `clauses.data.ts`; what is said here of causes and remedies is common practice, no source.
 */
import type { ClauseId } from './clause.js'

export interface ClauseExplained {
  /** What is looked at, for a reader who has not read the standard. */
  means: string
  /** What goes wrong where it is not met. */
  why: string
  /** What people usually do about it. Common practice, no source. */
  usually: string
}

export const CLAUSE_EXPLAINED: Readonly<Record<ClauseId, ClauseExplained>> = {
  'one-half': {
    means: 'A one bit is two short halves, one of each polarity. Each half must have the right length.',
    why: 'Decoders tell ones from zeros by the length of the halves. A half near the limit is read wrongly as soon as the clock drifts or an interrupt comes late.',
    usually:
      'Let a timer make the edges in hardware, choose its compare value for 58 us, and feed the controller from a crystal or resonator rather than its internal oscillator.',
  },
  'one-difference': {
    means: 'The two halves of the same one bit must be almost equally long.',
    why: 'Decoders use the difference to tell a one from noise. Unequal halves also put a small steady voltage on the rails.',
    usually:
      'Look for an interrupt that delays only one of the two edges, or for a driver that switches on and off with different delays; give both halves the same compare value.',
  },
  'zero-half': {
    means: 'A zero bit is two long halves. Each must be clearly longer than a half of a one.',
    why: 'A zero half that is too short falls between the two, where decoders may read a one, a zero or neither.',
    usually:
      'Set zero halves to 100 us or a little more, and leave room on the short side for the latest interrupt.',
  },
  'zero-total': {
    means:
      'Zeros may be stretched to move a locomotive that has no decoder. Both halves together have an upper limit.',
    why: 'A zero that lasts too long looks like a loss of the signal, and the motor of a locomotive without a decoder gets hot.',
    usually: 'Do not stretch zeros at all, or cap both halves together.',
  },
  glitch: {
    means: 'No two edges may be so close together that the interval between them is too short for any half.',
    why: 'A decoder may count the stray edge and lose the packet. In a driver it means extra switching and heat.',
    usually:
      'Change the output pin only through the timer, set pin levels before the timer starts, and check for ringing if the capture was taken at the rails.',
  },
  'edge-rate': {
    means: 'The voltage between the rails must pass through zero fast enough.',
    why: 'On slow edges each decoder sees the crossing at a different moment, so the halves seem longer or shorter than they are.',
    usually: 'Use a driver with faster edges, and remove large capacitors across the rails.',
  },
  'crossing-distortion': {
    means: 'Near zero volts the edge must not turn back and cross again by more than the standard allows.',
    why: 'A second crossing is a second edge to a decoder. It loses bits even though the timing at the controller is perfect.',
    usually: 'Shorten or twist the bus, and put a resistor and a capacitor in series across its far end.',
  },
  'track-voltage-max': {
    means: 'The track voltage must not be higher than the standard allows for the scale.',
    why: 'Too much voltage overheats motors and lamps and can destroy decoders.',
    usually:
      'Choose a supply of lower voltage, or set it lower; allow for its tolerance, and for its voltage without load.',
  },
  'track-voltage-min': {
    means: 'The track must have enough voltage for decoders, even with a weak supply and a hot driver.',
    why: 'Decoders that get too little restart or stop, and trains run slowly.',
    usually: 'Choose a supply of higher voltage, or a driver that drops less voltage.',
  },
  'decoder-withstand': {
    means: 'The peaks that ringing adds to the track voltage must stay below what decoders must survive.',
    why: 'Each edge on a long bus can overshoot far above the supply. Decoders then fail one by one, with no obvious cause.',
    usually: 'Twist the bus, keep it short, and put a resistor and a capacitor in series across its far end.',
  },
  preamble: {
    means: 'Each packet begins with a run of ones. There must be enough of them.',
    why: 'A decoder finds the start of a packet by the preamble. With too few ones it skips the packet.',
    usually: 'Send 16 ones in operations and 22 or more in service mode.',
  },
  'packet-length': {
    means: 'A packet must have no fewer and no more bytes than the standard allows.',
    why: 'Decoders ignore packets of any other length.',
    usually:
      'Check the length before a packet enters the queue, and split long instructions as the standard shows.',
  },
  'error-byte': {
    means: 'The last byte of a packet must be the exclusive-or of all others.',
    why: 'Decoders discard a packet whose error byte is wrong. Commands are lost without any sign.',
    usually:
      'Calculate the error byte when a packet is complete, and do not let an interrupt send a packet that is still being written.',
  },
  framing: {
    means: 'A zero bit must begin each byte, a one bit must end the packet, and no packet may be cut short.',
    why: 'Decoders lose the packet, and perhaps the next one with it.',
    usually: 'Copy the whole packet before sending it, and change nothing in it while it is on the track.',
  },
  instruction: {
    means: 'The bytes of a packet must be an instruction that the standards define.',
    why: 'An undefined instruction may do anything in a decoder from another maker, now or in the future.',
    usually:
      'Compare the bytes with the tables of the standard; usually an address or a length bit is wrong.',
  },
  'same-address-gap': {
    means: 'Two packets to one decoder need a pause between them; packets to others may fill it.',
    why: 'Some decoders are still working on the first packet and miss the second.',
    usually: 'Let the scheduler put a packet to another address, or an idle packet, between the two.',
  },
  'packet-interval': {
    means: 'The next packet must begin soon after the last one.',
    why: 'A decoder that hears nothing for too long may conclude that the track carries no DCC, and change its behaviour.',
    usually: 'Send idle packets whenever there is nothing else to send.',
  },
  refresh: {
    means: 'Each locomotive must receive its speed and functions again before its decoder times out.',
    why: 'A decoder that hears nothing for the time set in its CV 11 stops. A train that missed a packet keeps its old speed until the next one.',
    usually: 'Repeat speeds in turn, functions less often, and drop addresses that nobody uses any more.',
  },
  'command-latency': {
    means: 'A command from a person must reach the track within the time that the design asks for.',
    why: 'A throttle that reacts late feels broken, and while an emergency stop waits, the train runs on.',
    usually: 'Send new commands before the refresh, and emergency stops before everything else.',
  },
  'stopping-distance': {
    means: 'Trains must stop inside their block or platform, even with the delay of the command.',
    why: 'A train that overshoots fouls a turnout or leaves the layout.',
    usually:
      'Slow trains before the stopping point, lengthen the stop section, or lower momentum in the decoder.',
  },
  'service-sequence': {
    means:
      'Reading or writing a CV on the service track takes a fixed sequence of packets, each sent a set number of times.',
    why: 'With missing resets or too few repeats, decoders do not enter service mode, or write the value without an answer.',
    usually:
      'Take the counts from the table of the standard, and keep sending packets until the recovery time is over.',
  },
  'cutout-start': {
    means: 'A station with a cut-out must switch the track off at the right moment after a packet.',
    why: 'Too early, it cuts the packet’s end bit; too late, it cuts into a decoder’s answer.',
    usually: 'Start the cut-out with the timer that makes the bits, not from a wait loop.',
  },
  'cutout-end': {
    means: 'The track must be switched on again at the right moment after the cut-out.',
    why: 'Too early, the driver works against a decoder that is still answering; too late, it shortens the preamble.',
    usually: 'End the cut-out with the same timer that started it, and send enough ones after it.',
  },
  'short-trip': {
    means: 'A short anywhere must switch its district off before anything is damaged.',
    why: 'Several amperes into a short melt joiners, wheels and drivers. A short that is not switched off in time goes on until something burns.',
    usually:
      'Read the current at least every few milliseconds, set the trip below the current that the wiring lets flow, and fit a fuse for the day the firmware hangs.',
  },
  'short-current': {
    means: 'Even at the far end, a short must draw clearly more than the trip current.',
    why: 'Thin or long wires limit the current. A short that stays below the trip current looks like a heavy train, and heats the spot for hours.',
    usually:
      'Use a thicker bus, add feeders, solder loose joints, lower the trip current, or split the district.',
  },
  'voltage-drop': {
    means: 'At the worst place, with all trains running, decoders must still get their minimum voltage.',
    why: 'Trains slow down, lights flicker and decoders restart far from the station.',
    usually: 'Use a thicker bus, add feeders every metre or two, or make the far part a separate district.',
  },
  'driver-current': {
    means: 'The driver must carry the planned load all the time.',
    why: 'Above its rating a driver ages quickly, or overheats and shuts down in the middle of a session.',
    usually: 'Use a stronger driver, or split the railroad into more districts.',
  },
  'driver-heat': {
    means: 'The chip inside the driver must stay below its maximum temperature, even in a warm room.',
    why: 'A driver that gets too hot switches off or, without a thermal shutdown, fails.',
    usually: 'Add a heat sink or moving air, use a driver with less resistance, or lower the trip current.',
  },
  'supply-current': {
    means: 'The supply must feed the planned load, and in a short it must give more than the trip current.',
    why: 'A weak supply sags before the trip detects the short. Then the station restarts, or nothing switches off.',
    usually: 'Choose a supply with a rating above the trip current, or lower the trip current.',
  },
  'ack-detect': {
    means:
      'The answer of a decoder on the service track is a short pulse of current. The station must be able to tell it from noise.',
    why: 'Without it every CV seems unreadable; with noise taken for an answer, wrong values are read.',
    usually:
      'Measure the idle current just before, use a larger shunt or an amplifier, and take several readings within the pulse.',
  },
  polarity: {
    means: 'A train must not be able to join one rail to its opposite, as in a loop without gaps.',
    why: 'That is a dead short as soon as a turnout is thrown or a wheel crosses a gap.',
    usually:
      'Cut gaps in both rails at both ends of the loop, and reverse the polarity of the part between them.',
  },
  'pin-current': {
    means: 'No pin of the controller may carry more than its rating.',
    why: 'Overloaded pins weaken and fail, often together with their neighbours.',
    usually: 'Put a resistor or a transistor between the pin and its load.',
  },
  'pin-conflict': {
    means: 'A pin must not serve two purposes, or one for which the board already uses it.',
    why: 'The two fight: the signal stops when something else writes to the pin.',
    usually: 'Move one of the two to a free pin that has the same timer output or converter input.',
  },
  'regulator-heat': {
    means: 'The small regulator that feeds the controller must not get too hot.',
    why: 'At track voltage a linear regulator turns most of its input into heat, then shuts down and the controller restarts.',
    usually: 'Feed the controller from a separate low-voltage supply or a small switching regulator.',
  },
  'conductor-heat': {
    means:
      'At the highest current that can keep flowing, no wire or rail may get hotter than it or its insulation allows.',
    why: 'A trip protects only above its threshold. Just below it, the current can flow for hours, even through the thinnest feeder.',
    usually: 'Use thicker feeders, lower the trip current, or fuse the thin branch.',
  },
  'joint-heat': {
    means:
      'Joiners, connectors and terminators must not overheat at the highest current that can keep flowing.',
    why: 'A loose joiner makes heat at one spot, which can melt ties and start a fire.',
    usually:
      'Solder joiners or bridge them with wire, give each length of rail a feeder, and each terminator a resistor of 2 W.',
  },
  'sense-stress': {
    means: 'The shunt and the converter pin that measure the current must survive a short.',
    why: 'A burnt shunt leaves the station without protection, and a pin driven beyond its rating takes the controller with it.',
    usually:
      'Use a shunt with a higher power rating, and protect the pin with a series resistor and a clamp.',
  },
  fuse: {
    means: 'The fuse must carry the load, open in a lasting short, and be able to interrupt its current.',
    why: 'It is the last protection when the firmware hangs or the driver fails shorted.',
    usually:
      'Choose a fuse a little above the trip current and below what the thinnest wire can carry continuously.',
  },
  inrush: {
    means:
      'At power-up all capacitors on the railroad charge at once. That must neither trip a district nor harm anything.',
    why: 'A station that trips on the capacitors of its own trains never comes back up after a short.',
    usually:
      'Wait a few readings before tripping, switch districts on one after the other, or limit the current at the start.',
  },
  'gap-bridging': {
    means: 'A wheel on a gap joins the two sides for a moment. That must do no harm at any gap.',
    why: 'Where the two sides come from different drivers or have opposite polarity, the wheel carries a short.',
    usually:
      'Feed both sides with the same signal and polarity, let both trip quickly, or put the gaps where trains cross with power off.',
  },
  isolation: {
    means:
      'Outputs of different drivers or supplies must not be joined anywhere, except where that is allowed.',
    why: 'Two drivers in parallel fight at each edge; a shared rail joins two supplies through the track.',
    usually: 'Gap both rails between districts, and give each driver that needs one its own supply.',
  },
  'dead-level': {
    means:
      'While the controller boots, is in reset or is being flashed, the driver must not put a steady voltage on the rails.',
    why: 'Decoders that accept plain DC take it as full speed, and trains run away.',
    usually:
      'Fit a pull resistor that holds the driver’s enable input off, so that only running firmware can turn it on.',
  },
  'logic-level': {
    means: 'The driver’s input must read the pin voltages of the controller clearly as high or low.',
    why: 'In between, the driver may switch late, oscillate or not switch at all, depending on temperature.',
    usually: 'Use a driver with inputs made for the controller’s supply voltage, or a level shifter.',
  },
  interruption: {
    means: 'Track power must not fail during a packet unless a trip or a person switched it off.',
    why: 'Decoders lose packets and may restart; trains stutter.',
    usually: 'Look for a controller that restarts, a supply that sags, or a loose probe.',
  },
  'start-up': {
    means: 'After power-up a station must send reset packets, then idle packets, before anything else.',
    why: 'They put decoders into a known state. Without them, a train may start on an old command.',
    usually: 'Send 20 resets and 10 idles before the first speed packet.',
  },
  'reset-guard': {
    means: 'Shortly after a reset packet, no packet may begin with a byte that service mode uses.',
    why: 'A decoder that has just received a reset takes such a packet for programming, and may change a CV.',
    usually: 'Send idles for 20 ms after a reset, or hold back the addresses concerned for that time.',
  },
  'service-current': {
    means:
      'On a service track the current must be limited, so that a wrongly wired decoder survives its first test.',
    why: 'This is where a wiring fault in a new installation shows up; at full current the decoder would burn instead.',
    usually: 'Limit the current in hardware, and switch the service track off when it stays too high.',
  },
  stack: {
    means: 'The memory that calls and interrupts use must not grow into the program’s data.',
    why: 'The program overwrites its own values. It fails at random, far from the cause.',
    usually: 'Make large arrays static, keep handlers flat, and leave a few dozen bytes free.',
  },
  restart: {
    means: 'The program must not restart by itself.',
    why: 'At each restart the signal stops, and commands and locomotive states are lost.',
    usually:
      'Look for an interrupt without a handler, a watchdog that is not reset in time, or a bad pointer.',
  },
  'instruction-set': {
    means: 'The program must use only instructions and memory that its chip has.',
    why: 'It was compiled for another chip, or has jumped into its data.',
    usually: 'Compile for the chip that is on the board; otherwise look for the bad pointer.',
  },
  interrupts: {
    means: 'Each enabled interrupt must have a handler, and must be served before it is due again.',
    why: 'A lost interrupt is a lost edge or a lost character; one without a handler restarts the program.',
    usually: 'Shorten handlers, and move work out of them into the main loop.',
  },
  deadline: {
    means: 'The value for the next edge must be ready before the timer needs it.',
    why: 'Otherwise an edge comes late or not at all, perhaps once a minute: rare enough to be missed on the bench.',
    usually:
      'Load each value one half ahead, never turn interrupts off for more than a few microseconds, and let hardware change the pin.',
  },
  'shared-data': {
    means: 'A value of several bytes must not change while another part of the program reads it.',
    why: 'Once in a while, the reader gets half of the old value and half of the new one.',
    usually: 'Turn interrupts off for the two or three instructions of the access, or use a single byte.',
  },
}

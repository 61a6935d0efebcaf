/** What a run of firmware shows beside its signal: what each code means, how it is said, what to do about it. */
import { findingTable } from '../../finding/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'

const count = (n: number, one: string, many = `${one}s`) => `${n} ${n === 1 ? one : many}`
const us = (time: number) => formatTimeUs(time, 7)

interface Faults {
  count: number
  /** Where the first was, and when. */
  place: string
  atUs: number
}

interface Shared {
  variable: string
  bytes: number
  access: string
  place: string
  interrupt: string
  handlerAccess: string
  handlerPlace: string
  more: number
}

const others = (more: number) => (more > 0 ? `; ${count(more, 'other value')} too` : '')

/** What the simulator met that it does not simulate, or simulates with a simplification. */
export const RUN_FINDINGS = findingTable('simulate', {
  'deep-sleep': {
    means: 'The firmware uses a sleep mode in which the chip stops its timers; here they keep running.',
    remedy: 'Use idle sleep while a signal is sent, or judge it by a capture.',
    says: () => 'a sleep mode deeper than idle is not simulated: here timers and serial ports keep running',
  },
  'self-programming': {
    means: 'The firmware writes its own program memory, which is not simulated.',
    remedy: 'Judge what depends on it by a capture.',
    says: () => 'the firmware writes its own program memory (SPM), which is not simulated',
  },
  'clock-divided': {
    means: 'The firmware sets the system clock prescaler.',
    says: ({ divider }: { divider: number }) => `the firmware divides its clock by ${divider}`,
  },
  usb: {
    means: 'The firmware turns on USB; in the simulation nothing is plugged in.',
    says: () => 'USB is not simulated: the firmware sees a port with nothing plugged in',
  },
  'two-wire': {
    means:
      'The firmware turns on the two-wire bus; in the simulation no address answers and its pins do not change.',
    says: ({ pins }: { pins: string }) =>
      `the two-wire bus on ${pins} is not simulated: no address answers and its pins do not change`,
  },
  'spi-slave': {
    means: 'The firmware uses SPI as a slave; in the simulation no master sends anything.',
    says: ({ pin }: { pin: string }) =>
      `SPI as a slave is not simulated: nothing arrives and ${pin} does not change`,
  },
  'external-memory': {
    means: 'The firmware turns on the external memory interface, which takes over pins.',
    says: ({ ports }: { ports: string }) =>
      `the external memory interface is not simulated: it takes over pins of ports ${ports}`,
  },
  'power-reduction': {
    means:
      'The firmware switches off a peripheral by the power reduction register. It stops here too, but what its pins do from then on is not known.',
    remedy: 'Judge what depends on it by a capture.',
    says: ({ register, value }: { register: string; value: string }) =>
      `${register} = ${value} switches peripherals off; what their pins do then is not simulated`,
  },
  'stopped-peripheral': {
    means:
      'The firmware writes registers of a peripheral whose clock it has stopped by the power reduction register; they take nothing then.',
    remedy: 'Clear its bit in PRR before its registers are written.',
    says: () =>
      'the firmware writes registers of a peripheral that it has switched off by PRR: they take nothing',
  },
  'adc-locked': {
    means:
      'A result of the converter is lost: after ADCL is read, no new one gets into the registers until ADCH is read too.',
    remedy: 'Read ADCL first and ADCH after it, or ADC as one value, which the compiler reads so.',
    says: () => 'results of the converter are lost: the firmware reads ADCL and does not read ADCH after it',
  },
  'own-crystal': {
    means: 'Timer 2 is clocked by a separate crystal, which is not simulated.',
    says: () => 'Timer 2 with a separate crystal is not simulated: here it counts the system clock',
  },
  'external-clock': {
    means: 'A serial port is clocked by another device, which is not present.',
    says: ({ name }: { name: string }) =>
      `${name} as a synchronous slave is not simulated: nothing clocks it`,
  },
  'timer4-dead-time': {
    means: 'The dead time of Timer 4 is not simulated.',
    says: () => 'the dead time of Timer 4 is not simulated: its edges have none',
  },
  'timer4-mode': {
    means: 'The firmware sets a mode of Timer 4 that is not simulated.',
    says: ({ mode }: { mode: string }) => `Timer 4: ${mode} is not simulated`,
  },
  'timer4-clock': {
    means: 'PLLFRQ is set to a reserved value.',
    remedy: 'Set one of the frequencies that the data sheet lists.',
    says: () => 'PLLFRQ is set to a reserved frequency: Timer 4 is treated as stopped',
  },
  'adc-input': {
    means: 'The converter is connected to an input that is not simulated.',
    says: ({ mux }: { mux: number }) => `ADC input ${mux} is not simulated: it reads 0`,
  },
  'adc-clock': {
    means:
      'The converter runs on a clock above the 1 MHz up to which its data sheet gives errors; what it reads then is not known.',
    remedy: 'Set its prescaler (ADPS) so that its clock is between 50 and 200 kHz, at most 1 MHz.',
    says: (p: { megahertz: number; input: string }) =>
      `the converter reads ${p.input} with a clock of ${p.megahertz} MHz; its errors are given up to 1 MHz, so what it reads is not known`,
  },
  'clock-pin': {
    means: 'A timer counts edges of a pin.',
    says: ({ timer }: { timer: number }) => `Timer ${timer} counts edges of its clock pin`,
  },
  'icr-ignored': {
    means: 'ICR was written in a mode that takes its top value from elsewhere; the chip ignores the write.',
    remedy: 'Set the mode first, then ICR.',
    says: ({ timer }: { timer: number }) =>
      `a write to ICR${timer} was ignored, as the data sheet says, because the mode takes its top value from elsewhere: set the mode first`,
  },
  'never-moved': {
    means: 'The pin of an output never changed level.',
    remedy: 'Check that the firmware was built for this chip and this pin.',
    says: ({ output, pin, others }: { output: string; pin: string; others: string }) =>
      `${output}: the firmware never moved ${pin}; ${others === '' ? 'it moved no pin at all' : `it moved ${others}`}`,
  },
  'interrupts-never-on': {
    means: 'A pin never moved, and the firmware never switched interrupts on.',
    remedy: 'Call sei() once everything is set up, if interrupts make the signal.',
    says: () => 'the firmware never switched interrupts on (sei)',
  },
  'serial-rate': {
    means:
      'The other end of a serial line sends at another rate than the firmware receives, farther off than the data sheet of the chip recommends (2 %, from memory).',
    remedy:
      'Set the same rate in the firmware and in the design (traffic.link.baud), and take one that the clock divides well: 16 MHz makes 38400 to 0.2 %.',
    says: ({ port, line, own }: { port: string; line: number; own: number }) =>
      `${port} receives at ${formatNumber(Math.round(own))} baud what is sent at ${formatNumber(Math.round(line))}: ${formatNumber(Number((100 * Math.abs(own / line - 1)).toPrecision(2)))} % off, where the data sheet recommends no more than 2 %`,
  },
  'serial-lost': {
    means: 'Bytes from outside were lost at a serial port.',
    remedy: 'Read each byte in time, and set the baud rate of the sender.',
    says: (p: { port: string; overrun: number; whileOff: number; frameErrors: number }) =>
      `${p.port}: ${count(p.overrun + p.whileOff + p.frameErrors, 'byte')} from outside were lost: ${p.overrun} not read in time, ${p.whileOff} while it was off, ${p.frameErrors} with framing errors`,
  },
})

/** Why the program came to address 0 again. */
const CAUSES: Readonly<Record<string, (by: string) => string>> = {
  watchdog: () => 'the watchdog ran out',
  external: () => 'the reset pin was pulled low',
  'brown-out': () => 'the supply dropped',
  power: () => 'the supply was switched off and on',
  'no-handler': (by) => `${by} is enabled and has no handler, so the program restarts`,
  jump: () => 'the program jumped to address 0',
}

export const causeSentence = (cause: string, by: string) => CAUSES[cause]!(by)

/** The firmware's health, one code for each verdict of each clause. */
export const HEALTH_FINDINGS = findingTable('firmware', {
  'stack-clear': {
    means: 'The stack stayed clear of the data.',
    says: (p: { freeBytes: number; deepestBytes: number; ramBytes: number; near: boolean }) =>
      `the stack took ${p.deepestBytes} of ${p.ramBytes} bytes of RAM at its deepest; ${count(p.freeBytes, 'byte')} above the data ${p.near ? 'were left, which is a near miss: one more nested call or interrupt may need them' : 'were never used'}`,
  },
  'stack-overflow': {
    means: 'The stack grew into the program’s data, or out of the RAM.',
    remedy:
      'Use less RAM for data, or smaller local arrays; check the deepest chain of calls and interrupts.',
    says: (p: { overlapBytes: number; deepestBytes: number; place: string; atUs: number }) =>
      `the stack ran ${count(p.overlapBytes, 'byte')} into the program's data, first at ${us(p.atUs)} in ${p.place}; it took ${p.deepestBytes} bytes at its deepest`,
  },
  'stack-heap': {
    means: 'The stack went as deep as memory that was allocated at another time.',
    remedy: 'Avoid allocating memory while the program runs.',
    says: (p: { overlapBytes: number }) =>
      `the deepest stack and the end of the allocated memory overlap by ${count(p.overlapBytes, 'byte')}; whether at the same time is not known`,
  },
  'stack-unknown': {
    means: 'Where the program’s data ends is not known.',
    remedy: 'Use the ELF file, whose symbols show it.',
    says: (p: { deepestBytes: number }) =>
      `where the program's data ends is not known from this file; the stack took ${count(p.deepestBytes, 'byte')} at its deepest`,
  },
  'no-restart': {
    means: 'The program did not restart by itself.',
    says: (p: { asked: number }) =>
      p.asked === 0
        ? 'the program did not restart'
        : `the program restarted only when the stimulus reset it (${count(p.asked, 'time')})`,
  },
  restarted: {
    means: 'The program restarted by itself.',
    remedy: 'Find why: a missing handler, a watchdog that is not reset in time, a bad pointer.',
    says: (p: Faults & { cause: string; by: string; causes: string }) =>
      `the program restarted ${count(p.count, 'time')} by itself (${p.causes}), first at ${us(p.atUs)} in ${p.place}: ${causeSentence(p.cause, p.by)}`,
  },
  'instructions-known': {
    means: 'The program executed only instructions of the chip and used only memory that it has.',
    says: () =>
      'every instruction executed is one that the chip has, and every access was to memory that it has',
  },
  'instructions-illegal': {
    means:
      'The program executed words that are not instructions of the chip, or used addresses without memory.',
    remedy:
      'Compile for this chip; otherwise find the bad pointer or return address that led the program astray.',
    says: (p: { illegal: number; outside: number; place: string; outsidePlace: string; atUs: number }) =>
      [
        ...(p.illegal > 0
          ? [`${count(p.illegal, 'illegal instruction')}, the first at ${us(p.atUs)} in ${p.place}`]
          : []),
        ...(p.outside > 0
          ? [
              `${count(p.outside, 'access', 'accesses')} where the chip has no memory, the first in ${p.outsidePlace}`,
            ]
          : []),
      ].join('; '),
  },
  'interrupts-served': {
    means: 'Every interrupt was served before it was due again.',
    says: (p: { served: number; kinds: number }) =>
      `${count(p.kinds, 'interrupt')} served ${count(p.served, 'time')}, none lost, each enabled one has a handler`,
  },
  'interrupts-lost': {
    means: 'An interrupt was due again before it had been served, or is enabled without a handler.',
    remedy:
      'Shorten handlers and the code that runs with interrupts off; write a handler for each enabled interrupt.',
    says: (p: { lost: string; without: string }) =>
      [
        ...(p.lost === '' ? [] : [`due again before they had been served: ${p.lost}`]),
        ...(p.without === '' ? [] : [`enabled without a handler: ${p.without}`]),
      ].join('; '),
  },
  'shared-safe': {
    means: 'No interrupt touches a value of several bytes while the program reads or writes it.',
    says: () =>
      'no interrupt touched a value of several bytes in the middle of an access, and no access to a shared one was left open to an interrupt',
  },
  'shared-torn': {
    means: 'An interrupt touched a value of several bytes while the program was reading or writing it.',
    remedy: 'Turn interrupts off for the access, as ATOMIC_BLOCK of avr-libc does.',
    says: (p: Shared & { count: number; atUs: number }) =>
      `${p.interrupt} ${p.handlerAccess} ${p.variable} (${p.bytes} bytes) in ${p.handlerPlace} while the program ${p.access} it in ${p.place}: seen ${count(p.count, 'time')}, first at ${us(p.atUs)}${others(p.more)}`,
  },
  'shared-bytes': {
    means: 'An interrupt came between accesses to two neighbouring bytes that may be one value.',
    remedy: 'Use the ELF file, whose symbols show which bytes belong together.',
    says: (p: Shared & { count: number; atUs: number }) =>
      `${p.interrupt} ${p.handlerAccess} ${p.variable} in ${p.handlerPlace} between the program's two accesses in ${p.place} (${count(p.count, 'time')}, first at ${us(p.atUs)}); whether the bytes are one value is not known${others(p.more)}`,
  },
  'shared-open': {
    means: 'An interrupt could touch a value while the program accesses it, though none did in this run.',
    remedy: 'Turn interrupts off for the access, as ATOMIC_BLOCK of avr-libc does.',
    says: (p: Shared) =>
      `the program ${p.access} ${p.variable} (${p.bytes} bytes) in ${p.place} with interrupts on, and ${p.interrupt} ${p.handlerAccess} it in ${p.handlerPlace}; in this run none came between${others(p.more)}`,
  },
  'deadline-kept': {
    means: 'Every compare value, or the interrupt that makes the edge, came in time.',
    says: (p: { of: string; by: string; leastUs: number; atUs: number }) =>
      `${p.of}: ${p.by} came at least ${us(p.leastUs)} before it would have been too late (closest at ${us(p.atUs)})`,
  },
  'deadline-missed': {
    means: 'A compare value, or the interrupt that makes the edge, came too late.',
    remedy:
      'Load the next value earlier, or shorten other handlers and the code that runs with interrupts off.',
    says: (p: { of: string; by: string; count: number; atUs: number; worstUs: number }) =>
      `${p.of}: ${p.by} came too late ${count(p.count, 'time')}, by ${us(p.worstUs)} at the worst, first at ${us(p.atUs)}`,
  },
  'held-up': {
    means: 'What delayed the interrupt, or the main program, that makes the edges.',
    remedy: 'Shorten that handler, or that code with interrupts off.',
    says: (p: { late: string; atUs: number; lateUs: number; interrupt: string; place: string }) =>
      p.late === ''
        ? `the handler of ${p.interrupt} (${p.place}) held the main program up for ${us(p.lateUs)} at ${us(p.atUs)}`
        : `${p.late} began ${us(p.lateUs)} after its cause at ${us(p.atUs)}, because ${p.interrupt === '' ? `interrupts were turned off in ${p.place}` : `the handler of ${p.interrupt} ran (${p.place})`}`,
  },
  'deadline-none': {
    means: 'No timer and no interrupt makes the edges, so there is no deadline to keep.',
    says: (p: { of: string }) => `${p.of}: no timer's compare value and no interrupt makes its edges`,
  },
})

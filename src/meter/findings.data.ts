/** What bench notes show, and why some show nothing. */
import { findingTable } from '../finding/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'

interface Read {
  /** `12.9 V on 2026-05-01 by A. Builder with pocket meter`. */
  reading: string
}

const volt = (v: number) => `${formatNumber(v)} V`

export const METER_FINDINGS = findingTable('meter', {
  'reading-shows': {
    means: 'The reading decides the clause, even with the error of its instrument.',
    says: ({ reading, low, high, unit }: Read & { low: number; high: number; unit: string }) =>
      `${reading}: with the error of the instrument ${span(low, high, unit)}`,
  },
  'no-reading': {
    means: 'The bench notes contain no reading that shows this.',
    remedy: 'Take the reading that the build book describes, and note it.',
    says: () => 'no reading in the bench notes shows it',
  },
  'instrument-accuracy': {
    means: 'The accuracy of the instrument is not given, so its reading decides nothing.',
    remedy: 'Enter the accuracy from the data sheet of the instrument.',
    says: ({ reading }: Read) => `${reading}: the accuracy of the instrument is not given`,
  },
  'instrument-bandwidth': {
    means: 'The accuracy of the meter does not hold at the frequency of the track signal.',
    remedy: 'Use a meter whose AC range is specified well beyond 10 kHz, or an oscilloscope.',
    says: ({ reading, hz }: Read & { hz: number }) =>
      `${reading}: the accuracy of the meter is not given at the ${formatNumber(hz / 1000, 3)} kHz of the track signal`,
  },
  'instrument-cannot-tell': {
    means: 'This kind of instrument cannot show that the clause is met.',
    remedy: 'Use an instrument that shows the quantity itself: for a peak an oscilloscope.',
    says: ({ reading, what }: Read & { what: string }) => `${reading}: it does not show ${what}`,
  },
  'reading-elsewhere': {
    means: 'The reading was not taken at the place where the clause is hardest to meet.',
    remedy: 'Take it there.',
    says: ({ reading, wanted, found }: Read & { wanted: string; found: string }) =>
      `${reading}: taken at ${found}; the clause is decided at ${wanted}`,
  },
  'place-not-known': {
    means: 'Where on the track the voltage is lowest was not calculated, so the deciding place is not known.',
    remedy: 'Enter what the calculation lacks.',
    says: ({ reading }: Read) => `${reading}: where on the track the voltage is lowest is not known`,
  },
  'reading-without-load': {
    means: 'The reading was not taken under the planned load, or the load is not noted.',
    remedy: 'Read it with the planned load and note the current.',
    says: ({ reading, amp, wantedAmp }: Read & { amp?: number; wantedAmp: number }) =>
      `${reading}: ${amp === undefined ? 'the current that flowed is not noted' : `${formatNumber(amp, 3)} A flowed`}; ${formatNumber(wantedAmp, 3)} A are planned`,
  },
  'reading-under-load': {
    means:
      'The voltage is highest without load; this reading was taken under load, or its load is not noted.',
    remedy: 'Read it with nothing on the track and note a load of 0 A.',
    says: ({ reading }: Read) =>
      `${reading}: the voltage is highest without load, and a load of 0 A is not noted`,
  },
  'reading-of-one': {
    means: 'One half-bit says nothing about all the others.',
    remedy: 'Take a capture of a few seconds.',
    says: ({ reading }: Read) => `${reading}: one half-bit says nothing about all the others`,
  },
  'reading-of-other-design': {
    means: 'The reading was taken before the design was changed.',
    remedy: 'Take it again, or note the checksum of the present design if nothing that matters has changed.',
    says: ({ reading, noted, present }: Read & { noted: string; present: string }) =>
      `${reading}: it is of design ${noted}, the present one is ${present}`,
  },
  'limit-not-known': {
    means:
      'How long driver and wire withstand the short is not known, so no time can be called short enough.',
    remedy: 'Give the missing figures of the driver.',
    says: ({ reading }: Read) => `${reading}: how long the driver withstands a short is not known`,
  },
  'unknown-design-of-reading': {
    means: 'The reading does not say which version of the design was built; it counts for the present one.',
    remedy: 'Note the checksum of the design, as the build book prints it.',
    says: ({ reading }: Read) => `${reading}: which version of the design was built is not noted`,
  },
})

function span(low: number, high: number, unit: string): string {
  const show = (v: number) =>
    unit === 'us' ? formatTimeUs(v) : unit === 'V' ? volt(v) : `${formatNumber(v)} ${unit}`
  if (low === Number.POSITIVE_INFINITY) return 'never'
  return high === Number.POSITIVE_INFINITY ? `at least ${show(low)}` : `${show(low)} to ${show(high)}`
}

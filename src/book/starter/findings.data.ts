/** What the builder of a starter firmware has to know. */
import { findingTable } from '../../finding/index.js'
import { formatSi } from '../../units/index.js'
import { listed } from './c-text.js'

const texts = (list: readonly (string | number)[]) => listed(list.map(String))

export const STARTER_FINDINGS = findingTable('starter', {
  unsound: {
    means:
      'The calculation finds what can burn, or a short that is not switched off. No firmware mends that.',
    remedy: 'Change the design until these clauses are met, before a driver gets power.',
    says: (p: { clauses: readonly string[] }) =>
      `the calculation finds ${texts(p.clauses)} broken in this design: do not give its drivers power before that is changed`,
  },
  'not-calculated': {
    means: 'A part of the design cannot be calculated, so nobody knows whether the station is sound.',
    remedy: 'Give what is missing, before a driver gets power.',
    says: (p: { why: string }) => `whether this design is sound is not known: ${p.why}`,
  },
  'no-trip': {
    means: 'Nothing in the design switches off a short in this district, and neither does the firmware.',
    remedy: 'Give the district a trip: by the firmware through a current sense, or by a breaker.',
    says: (p: { district: string; switched: boolean }) =>
      `nothing switches off a short in ${p.district}: the design gives it no trip, so this firmware does not watch its current${p.switched ? '' : ', and cannot switch its driver off'}`,
  },
  'no-power-stage': {
    means: 'The design does not describe drivers and current, so the firmware protects nothing.',
    remedy: 'Describe the power stage: supply, driver, its enable input, current sense and trip.',
    says: () =>
      'the design has no power stage: this firmware makes the signal and nothing else, and nothing switches off a short',
  },
  'trip-elsewhere': {
    means: 'A short in this district is switched off by something other than the firmware.',
    says: (p: { district: string; by: string }) =>
      `a short in ${p.district} is switched off by ${p.by}, not by this firmware`,
  },
  'trip-assumed': {
    means: 'The design gives the service track no trip by the firmware; the limit of the standard is used.',
    says: (p: { district: string; amp: number }) =>
      `${p.district} has no trip by the firmware in the design; it is switched off at ${formatSi(p.amp, 'A')} for 95 ms, within the 100 ms of S-9.2.3:2012 B`,
  },
  'acknowledgement-assumed': {
    means: 'The design does not say how acknowledgements are detected; usual figures are used.',
    remedy: 'Give the district "acknowledgement" with its threshold and samples.',
    says: (p: { district: string }) =>
      `the design does not say how acknowledgements are detected on ${p.district}; 40 mA for 3.1 ms, smoothed, is used (common practice, no source)`,
  },
  'other-rate': {
    means: 'The converter reads the service track at a different rate from the one in the design.',
    remedy: 'Set the rate of that sense to the rate of the converter, and judge the acknowledgement again.',
    says: (p: { district: string; wanted: number; rate: number }) =>
      `the design reads ${p.district} ${Math.round(p.wanted)} times a second; the converter manages ${Math.round(p.rate)}; the number of samples is changed to span the same time`,
  },
  'not-refreshed': {
    means: 'The policy’s table leaves out something that locomotives of the fleet have.',
    remedy: 'Add it to the table, or accept that it is sent only when it changes.',
    says: (p: { policy: string; items: readonly string[] }) =>
      `the table of policy "${p.policy}" leaves out ${texts(p.items)}, which ${p.items.length > 1 ? 'are' : 'is'} sent only when changed`,
  },
  'cutout-level': {
    means: 'In the cut-out both inputs of the driver are high, and not every driver joins the rails then.',
    remedy:
      'Check the truth table of the driver: both inputs high must be the brake, with neither output open.',
    says: (p: { drivers: readonly string[] }) =>
      `in the cut-out both inputs of ${texts(p.drivers)} are high; the truth table of the driver must have that as the brake, which joins the rails`,
  },
  steps: {
    means: 'Some locomotives of the fleet are set to fewer speed steps than the firmware sends.',
    remedy: 'Check whether these decoders accept 126 speed steps; most do.',
    says: (p: { locomotives: readonly string[] }) =>
      `this firmware sends speeds in 126 steps; the design has ${texts(p.locomotives)} with fewer, and whether ${p.locomotives.length > 1 ? 'their decoders accept' : 'its decoder accepts'} them cannot be shown`,
  },
  'portable-only': {
    means: 'The controller cannot be simulated, so only the parts without registers are written.',
    remedy: 'Write the four functions of board.h for this controller, and prove the result with a capture.',
    says: (p: { chip: string }) =>
      `the ${p.chip} is only calculated: signal, serial line and current monitoring are for you to write (board.h), and are not shown; the parts written here are compiled for your computer`,
  },
  'left-over': {
    means: 'The folder holds a file of an earlier starter firmware that the present design does not need.',
    remedy: 'Delete it once you need nothing of yours in it.',
    says: (p: { files: readonly string[] }) =>
      `${texts(p.files)}: of an earlier design, no longer used and left as ${p.files.length > 1 ? 'they are' : 'it is'}`,
  },
})

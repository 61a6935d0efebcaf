/** A date on the command line. */
import { InputError } from '../units/index.js'

/** @throws InputError for what is no day of the calendar, with the time of day behind it or without. */
export function dateOption(option: string, text: string | undefined, time = false): string | undefined {
  if (text === undefined) return undefined
  const [, day, rest] =
    /^(\d{4}-\d{2}-\d{2})(T\d{2}:\d{2}(?::\d{2})?(?:Z|[+-]\d{2}:\d{2})?)?$/.exec(text) ?? []
  const at = new Date(`${day}T00:00:00Z`)
  // The 30th of February becomes a day of March.
  const isDay = !Number.isNaN(at.getTime()) && at.toISOString().startsWith(`${day}T`)
  if (isDay && (time || rest === undefined)) return text
  throw new InputError(`--${option} ${text}; expected a date such as 2026-05-01`)
}

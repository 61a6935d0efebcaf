/** Days of a month in the Gregorian calendar. */
const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]

/** @param month 1 to 12. */
export function daysInMonth(year: number, month: number): number {
  const isLeap = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0)
  return month === 2 && isLeap ? 29 : DAYS[month - 1]!
}

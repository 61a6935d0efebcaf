/** Paged mode: page = (CV - 1) div 4 + 1, data register = (CV - 1) mod 4 (S-9.2.3:2012 E, confirmed). */

/**
 * CV that a data register reaches on a page. The page register has eight bits, so page 0 stands for 256 (derived).
 * @param page 0 to 255; @param register 1 to 4, one more than the data register's number.
 */
export function pagedCv(page: number, register: number): number {
  return 4 * ((page + 255) % 256) + register
}

/**
 * Page and register (1 to 4) that reach a CV from 1 to 1024; the inverse of {@link pagedCv}.
 * @throws RangeError for any other CV.
 */
export function pageOfCv(cv: number): { page: number; register: number } {
  if (!Number.isInteger(cv) || cv < 1 || cv > 1024) {
    throw new RangeError(`CV is ${cv}; expected a whole number from 1 to 1024`)
  }
  return { page: (Math.floor((cv - 1) / 4) + 1) % 256, register: ((cv - 1) % 4) + 1 }
}

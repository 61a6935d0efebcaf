export const MOST_BYTES: number
export function firstLoad(web: string): { name: string; bytes: number }[]
export function checkFirstLoad(web: string): string

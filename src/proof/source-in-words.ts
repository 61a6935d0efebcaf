import type { Source } from '../standard/index.js'

/** `S-9.1:2020 Table 1 (confirmed)`. */
export function sourceInWords({ document, edition, section, status }: Source): string {
  if (status === 'common practice') return 'common practice, no source'
  return `${document}${edition ? `:${edition}` : ''}${section ? ` ${section}` : ''} (${status})`
}

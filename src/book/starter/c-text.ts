/** Names of the user's own as C text. */

/** Inside of a C string: what is no plain character becomes a question mark. */
export function cString(text: string): string {
  return [...text]
    .map((c) => (/[ -~]/.test(c) ? (/["\\?]/.test(c) ? '?' : c) : '?'))
    .join('')
    .slice(0, 40)
}

/** Inside of a C comment: a name must not end it. */
export function cComment(text: string): string {
  return text.replaceAll('*/', '* /').replaceAll('/*', '/ *').replaceAll('\n', ' ')
}

/** `a, b and c`. */
export function listed(words: readonly string[]): string {
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`
}

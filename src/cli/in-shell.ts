/** A word of a command as it can be pasted into a shell: in quotes where it has more than plain letters. */
export function inShell(word: string): string {
  return /^[\w./-]+$/.test(word) ? word : `'${word.replaceAll("'", "'\\''")}'`
}

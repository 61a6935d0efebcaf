import { createHash } from 'node:crypto'
import fc from 'fast-check'
import { expect, it } from 'vitest'
import { Sha256, sha256Hex } from './sha256.js'

it('agrees with the examples of the standard', () => {
  // FIPS 180-2 appendix B.1 and B.2 (confirmed).
  const text = (s: string) => sha256Hex(new TextEncoder().encode(s))
  expect(text('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad')
  expect(text('abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq')).toBe(
    '248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1',
  )
})

it('agrees with another implementation, in whatever parts the bytes come', () => {
  fc.assert(
    fc.property(fc.array(fc.uint8Array({ maxLength: 200 }), { maxLength: 5 }), (parts) => {
      const ours = new Sha256()
      const theirs = createHash('sha256')
      for (const part of parts) {
        ours.push(part)
        theirs.update(part)
      }
      expect(ours.hex()).toBe(theirs.digest('hex'))
    }),
  )
})

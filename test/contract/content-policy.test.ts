/** The static pages have no server to send a policy, so each page carries its own: the same as the server's. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { serveWorkbench } from '../../src/cli/serve/server.js'

const root = new URL('../../', import.meta.url).pathname

it('the page of the workbench carries the policy that the server sends', async () => {
  const page = readFileSync(join(root, 'src/web/index.html'), 'utf8')
  const inPage = /http-equiv="Content-Security-Policy" content="([^"]+)"/.exec(page)?.[1]
  const workbench = await serveWorkbench(join(root, 'examples/shelf/halfbit.yaml'), join(root, 'src/web'))
  try {
    const sent = (await fetch(`http://127.0.0.1:${workbench.port}/`)).headers.get('content-security-policy')!
    // A page cannot say who may frame it; only a server can.
    expect(inPage).toBe(sent.replace("; frame-ancestors 'none'", ''))
    // Before anything that it governs.
    expect(page.indexOf('Content-Security-Policy')).toBeLessThan(page.search(/<link|<script|<style/))
  } finally {
    await workbench.close()
  }
})

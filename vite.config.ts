import { fileURLToPath } from 'node:url'
import { defineConfig } from 'vite'

// The workbench: the same build is served by `halfbit open` and works as a static site.
export default defineConfig({
  root: fileURLToPath(new URL('src/web', import.meta.url)),
  base: './',
  publicDir: 'public',
  build: {
    outDir: fileURLToPath(new URL('dist/web', import.meta.url)),
    emptyOutDir: true,
    target: 'es2023',
    sourcemap: false,
    modulePreload: { polyfill: false },
  },
  worker: { format: 'es' },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
})

declare module '*.css'

interface ImportMeta {
  readonly env: { readonly PROD: boolean }
}

export function App() {
  return <main>…</main>
}

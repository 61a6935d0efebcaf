import type { TableData } from '../worker/calls.js'

export function Table({ table }: { table: TableData }) {
  const right = new Set(table.right ?? [])
  return (
    <div class="wide" tabIndex={0} role="region" aria-label={table.title}>
      <table>
        <caption>{table.title}</caption>
        <thead>
          <tr>
            {table.head.map((h, i) => (
              <th scope="col" class={right.has(i) ? 'right' : undefined}>
                {h}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {table.rows.map((row) => (
            <tr>
              {row.map((cell, i) =>
                i === 0 ? (
                  <th scope="row">{cell}</th>
                ) : (
                  <td class={right.has(i) ? 'right' : undefined}>{cell}</td>
                ),
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

/** A longer table is folded. */
const MANY = 16

export function Tables({ tables }: { tables: readonly TableData[] }) {
  return tables.map((table) =>
    table.rows.length > MANY ? (
      <details key={table.title}>
        <summary>
          {table.title}: {table.rows.length} rows
        </summary>
        <Table table={table} />
      </details>
    ) : (
      <Table key={table.title} table={table} />
    ),
  )
}

// Prints the columns of a Parquet file as JSON, read by hyparquet. Integers of
// 64 bits and times are printed as text.
// usage: node read_hyparquet.mjs MODULES FILE
import { pathToFileURL } from 'node:url'
import { join } from 'node:path'
const [modules, file] = process.argv.slice(2)
const load = (name, entry) => import(pathToFileURL(join(modules, name, entry)))
const { parquetReadObjects } = await load('hyparquet', 'src/index.js')
const { asyncBufferFromFile } = await load('hyparquet', 'src/node.js')
const { compressors } = await load('hyparquet-compressors', 'src/index.js')
const rows = await parquetReadObjects({ file: await asyncBufferFromFile(file), compressors })
const columns = {}
for (const row of rows) {
  for (const [name, value] of Object.entries(row)) {
    const shown = typeof value === 'bigint' ? value.toString() : value instanceof Date ? value.toISOString() : value
    ;(columns[name] ??= []).push(shown ?? null)
  }
}
console.log(JSON.stringify(columns))

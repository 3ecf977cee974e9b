// Keeps a catalogue in step. AT and KEY are set; numbers.txt is here, a number a line.
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs'
import createClient from 'openapi-fetch'
import type { components, paths } from './contract.js'

const api = createClient<paths>({ baseUrl: process.env['AT'] ?? '', headers: { Authorization: `Bearer ${process.env['KEY']}` } })

function got<T>(answer: { data?: T | undefined, error?: unknown }): T {
  if (answer.data === undefined) throw new Error(JSON.stringify(answer.error)) // a problem: it says what to mend
  return answer.data
}

async function page(specimenId: string) {
  for (const [Accept, ending] of [['text/html', 'html'], ['image/svg+xml', 'svg']] as const) {
    const summary = await api.GET('/v1/specimens/{specimenId}/summary', { params: { path: { specimenId } }, headers: { Accept }, parseAs: 'text' })
    writeFileSync(`summaries/${specimenId}.${ending}`, got(summary))
  }
}

// Your record's id makes it one treatment, however often it is sent.
const record = async (recordId: string, statement: components['schemas']['TreatmentStatement']) =>
  got(await api.POST('/v1/treatments', { body: { source: { system: 'catalogue', recordId }, statement } }))

async function follow() {
  for (;;) {
    const after = existsSync('cursor.txt') ? { cursor: readFileSync('cursor.txt', 'utf8') } : {}
    const changes = got(await api.GET('/v1/changes', { params: { query: { limit: 500, ...after } } }))
    if (changes.items.length === 0) return
    const specimens = changes.items.flatMap(({ record }) => {
      const specimen = record.kind === 'treatment' ? record.statement?.specimen : undefined
      return specimen && 'id' in specimen ? [specimen.id] : []
    })
    for (const specimen of new Set(specimens)) await page(specimen)
    writeFileSync('cursor.new', changes.cursor)
    renameSync('cursor.new', 'cursor.txt') // whole or not at all
  }
}

mkdirSync('summaries', { recursive: true })
const numbers = readFileSync('numbers.txt', 'utf8').split('\n').filter(n => n !== '').map(number => ({ number }))
for (const item of got(await api.POST('/v1/specimen-lookup', { body: { numbers } })).items) {
  if (item.answer === 'recorded') for (const hit of item.specimens) await page(hit.specimen.id)
}
await record('T-2026-0033', {
  specimen: { identifier: { kind: 'catalogue-number', value: 'LV.1987/0042', collection: 'palaeontology' } },
  action: 'cleaning', method: 'swab', areas: { paths: ['skull/right-orbit'] }, dates: { edtf: '2026-02' },
  people: [{ person: { name: 'Ilse Varga' }, part: 'carried-out' }],
})
await follow()

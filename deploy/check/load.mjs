// A minute of what catalogues ask, at a steady rate on the loopback address: not
// one request may fail. LOAD_SECONDS and LOAD_RATE (a second) change how much.
//
// vegeta sends it. Lookups, summaries, present states, the feed and computations
// take turns, and every twelfth request records a treatment that is already there.

import { spawn } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { withService } from './lib/service.mjs'

const vegeta = 'github.com/tsenart/vegeta/v12@v12.13.0'
const seconds = Number(process.env.LOAD_SECONDS ?? 60)
const rate = Number(process.env.LOAD_RATE ?? 40)

const bear = '01900000-0000-7000-8000-000000000022'
const recipe = {
  resin: { solid: { material: 'ethyl-methacrylate-methyl-acrylate-copolymer' } }, solvent: { liquid: { material: 'acetone' } },
  strength: { value: 20, unit: 'g/dL', basis: 'mass-per-solution-volume' }, amount: { finished: { value: 150, unit: 'mL' } },
}
const treatment = {
  source: { system: 'load-check', recordId: '1' },
  statement: { specimen: { id: bear }, action: 'cleaning', areas: { paths: ['skull/right-orbit'] }, dates: { edtf: '2026-02' } },
}

function targets(url, key) {
  const header = { Authorization: [`Bearer ${key}`], 'Content-Type': ['application/json'] }
  const get = (path, accept) => ({ method: 'GET', url: url + path, header: { ...header, ...accept && { Accept: [accept] } } })
  const post = (path, body) => ({ method: 'POST', url: url + path, header, body: Buffer.from(JSON.stringify(body)).toString('base64') })
  const reads = [
    get('/v1/specimen-lookup?number=LV.1987/0042'), get(`/v1/specimens/${bear}/summary`, 'text/html'),
    get(`/v1/specimens/${bear}/present-state`), get('/v1/changes?limit=50'), get(`/v1/specimens/${bear}/treatments`), get('/v1/materials/acetone'),
    get('/v1/supplies/01900000-0000-7000-8000-000000000005/where-used'), get(`/v1/specimens/${bear}/summary`, 'image/svg+xml'),
    get('/v1/reports/reversible-treatments?from=2009-01-01&until=2024-12-31'), get(`/v1/specimens/${bear}`, 'application/ld+json'),
  ]
  return [...reads, post('/v1/compute/make-up', recipe), post('/v1/treatments', treatment)].map(t => JSON.stringify(t)).join('\n') + '\n'
}

function run(program, args) {
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'inherit'] })
  let said = ''
  child.stdout.on('data', chunk => { said += chunk })
  return new Promise((resolve, reject) => child.once('error', reject).once('exit', code => (
    code === 0 ? resolve(said) : reject(new Error(`${program} ${args.join(' ')} ended with ${code}`)))))
}

const folder = mkdtempSync(join(tmpdir(), 'meniscus-load-'))
const report = await withService(async ({ url, key }) => {
  const [asked, answered] = [join(folder, 'targets'), join(folder, 'answers')]
  writeFileSync(asked, targets(url, key), { mode: 0o600 })
  await run('go', ['run', vegeta, 'attack', '-format=json', `-targets=${asked}`, `-rate=${rate}`, `-duration=${seconds}s`, '-max-workers=64', '-timeout=30s', `-output=${answered}`])
  return JSON.parse(await run('go', ['run', vegeta, 'report', '-type=json', answered]))
}).finally(() => rmSync(folder, { recursive: true, force: true }))

const milliseconds = nanoseconds => (nanoseconds / 1e6).toFixed(0)
const good = report.success === 1 && report.requests >= 0.99 * seconds * rate
if (!good) console.error(`  ${JSON.stringify(report.status_codes)} ${(report.errors ?? []).slice(0, 5).join('; ')}`)
console.log(`load: ${report.requests} requests in ${seconds} s, ${(100 * report.success).toFixed(2)} % answered well; half within ${milliseconds(report.latencies['50th'])} ms, 99 of 100 within ${milliseconds(report.latencies['99th'])} ms`)
process.exitCode = good ? 0 : 1

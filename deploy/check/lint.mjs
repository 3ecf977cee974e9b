// Lints the contract: Redocly's recommended-strict rules, and Spectral's rules
// for OpenAPI and for the OWASP API Security Top 10 of 2023. A finding is
// either mended or waived in waivers.tsv; a waiver that waives nothing fails
// too.
//
// Callers are served openapi.json, which says once what is so of all operations. What
// the rules ask of each of them stands in openapi.yaml, of which they read a copy that has
// the statuses of an operation's `x-problems` in the place of its response `default`.
//
// A waiver's `where` is `*`, the beginning of a finding's place in the document
// (/paths//livez), or `keyless`: operations that the document opens to callers
// without a key.

import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const served = 'api/openapi.json'
const whole = 'api/openapi.yaml'
const require = createRequire(import.meta.url)
const { parse } = require('yaml')
const document = parse(readFileSync(whole, 'utf8'))

const waivers = readFileSync('deploy/check/waivers.tsv', 'utf8')
  .split('\n').slice(1).filter(line => line !== '')
  .map(line => {
    const [rule, where, reason, ends, ...more] = line.split('\t')
    if (!ends || more.length > 0) throw new Error(`waivers.tsv: a waiver needs rule, where, reason, ends: ${line}`)
    return { rule, where, reason, ends, used: 0 }
  })

function tool(name, args) {
  const ran = spawnSync(`deploy/check/node_modules/.bin/${name}`, args, {
    encoding: 'utf8', maxBuffer: 1 << 28, env: { ...process.env, REDOCLY_TELEMETRY: 'off', NO_COLOR: '1' },
  })
  if (ran.error) throw ran.error
  const start = ran.stdout.search(/[[{]/)
  try {
    return JSON.parse(ran.stdout.slice(start))
  } catch {
    throw new Error(`${name} gave no report: ${ran.stdout}${ran.stderr}`)
  }
}

// withStatuses writes the copy, and gives its file.
function withStatuses(folder) {
  const copy = structuredClone(document)
  for (const item of Object.values(copy.paths)) {
    for (const { responses, 'x-problems': statuses } of Object.values(item)) {
      for (const status of statuses ?? []) responses[status] = responses.default
      if (statuses) delete responses.default
    }
  }
  const file = join(folder, 'openapi.json')
  writeFileSync(file, JSON.stringify(copy))
  return file
}

const redocly = (file, ...more) => tool('redocly', ['lint', file, '--extends=recommended-strict', '--format=json', '--max-problems=10000', ...more])
  .problems.map(p => ({ rule: `redocly:${p.ruleId}`, message: p.message,
    place: p.location[0].pointer.replace(/^#/, '').split('/').map(s => s.replaceAll('~1', '/').replaceAll('~0', '~')).join('/') }))

const spectral = file => tool('spectral', ['lint', file, '--ruleset', 'deploy/check/spectral.yaml', '--format=json', '--quiet'])
  .map(p => ({ rule: p.code, message: p.message, place: ['', ...p.path].join('/') }))

const folder = mkdtempSync(join(tmpdir(), 'meniscus-lint-'))
const copy = withStatuses(folder)
const found = [...redocly(served, '--skip-rule=operation-4xx-response'), ...redocly(copy), ...spectral(copy)]
rmSync(folder, { recursive: true, force: true })

function keyless(place) {
  for (const [path, item] of Object.entries(document.paths)) {
    for (const [method, operation] of Object.entries(item)) {
      if (operation.security?.length === 0 && `${place}/`.startsWith(`/paths/${path}/${method}/`)) return true
    }
  }
  return false
}

const applies = (waiver, finding) => waiver.rule === finding.rule && (waiver.where === '*'
  || (waiver.where === 'keyless' ? keyless(finding.place) : finding.place.startsWith(waiver.where)))

const faults = []
for (const finding of found) {
  const waiver = waivers.find(w => applies(w, finding))
  if (waiver) waiver.used++
  else faults.push(`${finding.rule} at ${finding.place}: ${finding.message}`)
}
for (const w of waivers.filter(w => w.used === 0)) {
  faults.push(`waivers.tsv: nothing is left to waive for ${w.rule} at ${w.where}`)
}

for (const fault of faults) console.error(`  ${fault}`)
const waived = waivers.reduce((n, w) => n + w.used, 0)
console.log(`lint: ${faults.length} findings, ${waived} waived by ${waivers.length} waivers`)
process.exitCode = faults.length === 0 ? 0 : 1

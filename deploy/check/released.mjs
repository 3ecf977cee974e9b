// Compares the contract with the one that callers were last given
// (api/released.yaml): nothing that they may rely on is taken away or changed.
//
// That the tool sees a breaking change is tried on a copy of the released contract
// that lacks an operation and a word, and asks for one member more.

import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parse, stringify } from 'yaml'

const released = 'api/released.yaml'

// closed are changes that a caller may trip over and that close a hole, each with
// its reason. A release empties the list.
const closed = [
  ['#/paths/~1v1~1access-keys/get/responses/200/content/application~1json/schema/properties/items/items/properties/scopes',
    'what is restricted takes a scope of its own, which the list of keys has to name'],
]

// breaking lists what a caller of the released contract would trip over.
function breaking(contract) {
  const ran = spawnSync('deploy/check/node_modules/.bin/redocly', ['diff', released, contract, '--format=json', '--fail-on=none'], {
    encoding: 'utf8', maxBuffer: 1 << 28, env: { ...process.env, REDOCLY_TELEMETRY: 'off', NO_COLOR: '1' },
  })
  if (ran.error) throw ran.error
  if (ran.status !== 0) throw new Error(`redocly diff ended with ${ran.status}: ${ran.stdout}${ran.stderr}`)
  return JSON.parse(ran.stdout.slice(ran.stdout.indexOf('{'))).changes.filter(c => c.impact === 'major')
    .map(c => `${c.path}: ${c.verdicts.map(v => v.message).join(' ')}`)
}

// mutant breaks the released contract in three ways.
function mutant() {
  const contract = parse(readFileSync(released, 'utf8'))
  delete contract.paths['/v1/changes']
  contract.components.schemas.AmountChangeStatement.properties.kind.enum.pop()
  contract.components.schemas.SupplyStatement.required.push('received')
  return stringify(contract)
}

const changes = breaking('api/openapi.yaml')
const faults = changes.filter(c => !closed.some(([where]) => c.startsWith(where)))
for (const [where] of closed) {
  if (!changes.some(c => c.startsWith(where))) faults.push(`${where}: this was released; take it off the list of closed holes`)
}
const folder = mkdtempSync(join(tmpdir(), 'meniscus-released-'))
try {
  const file = join(folder, 'mutant.yaml')
  writeFileSync(file, mutant())
  const seen = breaking(file)
  for (const what of ['/v1/changes', 'corrected-by-weighing', 'received']) {
    if (!seen.some(s => s.includes(what.replaceAll('/', '~1')))) faults.push(`the tool overlooks a change of ${what}: ${seen.join('; ')}`)
  }
} finally {
  rmSync(folder, { recursive: true, force: true })
}

for (const fault of faults) console.error(`  ${fault}`)
console.log(`released: ${faults.length} breaking changes since the last release, and ${closed.length} that close a hole`)
process.exitCode = faults.length === 0 ? 0 : 1

// Runs the flows of api/flows, Arazzo descriptions of what callers do, with
// `redocly respect` against a running service. Beside each flow's own criteria it
// holds every answer against the contract.

import { spawn } from 'node:child_process'
import { readdirSync } from 'node:fs'
import { createServer } from 'node:http'
import { stripVTControlCharacters } from 'node:util'
import { withService } from './lib/service.mjs'

const flows = readdirSync('api/flows').filter(f => f.endsWith('.arazzo.yaml')).map(f => `api/flows/${f}`)

// receiver is where a flow's webhook leads.
function receiver() {
  const server = createServer((request, response) => {
    request.resume().on('end', () => response.writeHead(204).end())
  })
  return new Promise(resolve => server.listen(0, '127.0.0.1', () => resolve(server)))
}

function respect(url, inputs) {
  const child = spawn('deploy/check/node_modules/.bin/redocly', ['respect', ...flows, '--server', `meniscus=${url}`, '--input', JSON.stringify(inputs), '--execution-timeout', '300000'],
    { env: { ...process.env, REDOCLY_TELEMETRY: 'off', NO_COLOR: '1' }, stdio: ['ignore', 'pipe', 'pipe'] })
  let said = ''
  child.stdout.on('data', chunk => { said += chunk })
  child.stderr.on('data', chunk => { said += chunk })
  return new Promise(resolve => child.once('exit', code => resolve({ ok: code === 0, said: stripVTControlCharacters(said) })))
}

const { ok, said } = await withService(async ({ url, key }) => {
  const server = await receiver()
  try {
    return await respect(url, { key, run: `flow-${Date.now()}`, receiver: `http://127.0.0.1:${server.address().port}/meniscus` })
  } finally {
    server.closeAllConnections()
    server.close()
  }
})

const passed = [...said.matchAll(/^\s*Workflows: 1 passed, 1 total/gm)].length
const steps = [...said.matchAll(/^\s*Steps: (\d+) passed, (\d+) total/gm)].reduce((n, m) => n + Number(m[1]), 0)
const good = ok && passed === flows.length
if (!good) console.error(said)
console.log(`flows: ${passed} of ${flows.length} passed, ${steps} steps`)
process.exitCode = good ? 0 : 1

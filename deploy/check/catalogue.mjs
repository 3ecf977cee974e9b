// Runs the programs of deploy/catalogue as a catalogue would: against a running
// service, twice, with something recorded in between; and their receivers with real
// deliveries, tampered ones, late ones, and without a secret.

import { spawn, spawnSync } from 'node:child_process'
import { createHmac } from 'node:crypto'
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:http'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { Webhook } from 'standardwebhooks'
import { withService } from './lib/service.mjs'

const faults = []
const want = (ok, message) => { if (!ok) faults.push(message) }
const tools = resolve('deploy/check/node_modules')
const folder = mkdtempSync(join(tmpdir(), 'meniscus-catalogue-'))

function run(program, args, options) {
  const ran = spawnSync(program, args, { encoding: 'utf8', ...options })
  if (ran.error) throw ran.error
  return { ok: ran.status === 0, said: `${ran.stdout}${ran.stderr}` }
}

function must(program, args, options) {
  const { ok, said } = run(program, args, options)
  if (!ok) throw new Error(`${program} ${args.join(' ')}: ${said}`)
  return said
}

const programs = resolve('deploy/catalogue')
// shell is the block of shell in the programs' README that has a part in it.
const shell = part => [...readFileSync(join(programs, 'README.md'), 'utf8').matchAll(/^```sh\n(.*?)^```$/gms)].map(m => m[1]).find(text => text.includes(part))

// languages say how their programs are run.
const languages = {
  sh: () => ({ sync: ['bash', 'sync.sh'] }),
  python: () => ({ sync: ['python3', 'sync.py'], receive: ['python3', 'receive.py'] }),
  typescript: at => {
    symlinkSync(tools, 'typescript/node_modules')
    writeFileSync('typescript/package.json', '{"type": "module"}')
    const made = shell('npx openapi-typescript').replace(/^npm install.*\n/m, '').replace('npx tsc', 'npx tsc --noUncheckedIndexedAccess')
    must('bash', ['-euc', made], { cwd: 'typescript', env: { ...process.env, AT: at } })
    return { sync: ['node', 'sync.js'], receive: ['node', 'receive.js'] }
  },
  go: at => {
    generateGo(at)
    for (const name of ['sync', 'receive']) must('go', ['build', '-o', name, `${name}.go`], { cwd: 'go' })
    return { sync: ['./sync'], receive: ['./receive'] }
  },
}

// generateGo makes the client as the README says, with the generator that go.mod pins.
function generateGo(at) {
  const [command, module, version] = /go run (\S+)@(v\S+)/.exec(shell('oapi-codegen'))
  const pinned = must('go', ['list', '-m', '-f', '{{.Version}}', module.replace('/cmd/oapi-codegen', '')], { cwd: top }).trim()
  want(version === pinned, `deploy/catalogue/README.md says ${module} ${version}, go.mod pins ${pinned}`)
  const generator = must('go', ['tool', '-n', 'oapi-codegen'], { cwd: top }).trim()
  must('bash', ['-euc', shell('oapi-codegen').replace(command, generator)], { cwd: 'go', env: { ...process.env, AT: at } })
  want(existsSync('go/meniscus.gen.go'), 'deploy/catalogue/README.md generates no Go client')
}

const known = ['LV.1978/0105', 'LV.1987/0042', 'LV.1992/0310', 'LV.2003/0017', 'LV.2011/0222', 'LV.2015/0009']
const numbers = [...known, ...Array.from({ length: 1000 - known.length }, (_, i) => `LV.absent/${i}`)]

function asker(url, key) {
  return async (path, body) => {
    const response = await fetch(url + path, {
      method: body === undefined ? 'GET' : 'POST', body: body === undefined ? undefined : JSON.stringify(body),
      headers: { Authorization: `Bearer ${key}`, 'Content-Type': 'application/json', 'Idempotency-Key': crypto.randomUUID() },
    })
    const answer = await response.json()
    if (!response.ok) throw new Error(`${path}: ${response.status} ${JSON.stringify(answer)}`)
    return answer
  }
}

// feed reads all that was recorded, until a record is in it.
async function feed(ask, id) {
  for (let tries = 0; tries < 300; tries++) {
    const items = []
    for (let after = ''; ;) {
      const page = await ask(`/v1/changes?limit=500${after}`)
      items.push(...page.items)
      if (page.items.length === 0) break
      after = `&cursor=${page.cursor}`
    }
    if (items.some(i => i.record.id === id)) return items
    await new Promise(resolve => setTimeout(resolve, 100))
  }
  throw new Error(`the feed lacks ${id}`)
}

async function follows(language, { sync }, ask, env) {
  const [program, ...args] = sync
  const pages = join(language, 'summaries')
  const names = () => new Set(readdirSync(pages))
  writeFileSync(join(language, 'numbers.txt'), numbers.join('\n') + '\n')
  must(program, args, { cwd: language, env })
  const hits = (await ask('/v1/specimen-lookup', { numbers: known.map(number => ({ number })) })).items
    .filter(i => i.answer === 'recorded').flatMap(i => i.specimens.map(s => s.specimen.id))
  want(hits.length > 2, `only ${hits.length} of the demo's specimens have treatments`)
  for (const id of hits) {
    want(names().has(`${id}.html`) && readFileSync(join(pages, `${id}.html`), 'utf8').includes('class="meniscus-summary"'), `${language}: no summary of ${id}`)
    want(names().has(`${id}.svg`) && readFileSync(join(pages, `${id}.svg`), 'utf8').includes('<svg'), `${language}: no badge of ${id}`)
  }

  // What is recorded while the catalogue is away comes by the feed, from the kept cursor.
  rmSync(pages, { recursive: true })
  writeFileSync(join(language, 'numbers.txt'), 'LV.absent/0\n')
  const statement = { identifiers: [{ kind: 'catalogue-number', value: `LV.${language}/1` }] }
  const specimen = (await ask('/v1/specimens', { statement })).id
  const seen = { specimen: { id: specimen }, action: 'examination', areas: { answer: 'unknown' }, dates: { edtf: '2026-03' }, examination: { outcome: 'none-found' } }
  await feed(ask, (await ask('/v1/treatments', { statement: seen })).id)
  must(program, args, { cwd: language, env })
  want(names().has(`${specimen}.html`), `${language}: what was recorded meanwhile did not come`)
  want([...names()].every(n => n.startsWith(specimen) || n.startsWith(pushed)), `${language}: the feed began anew: ${[...names()]}`)
  const all = await feed(ask, specimen)
  want(readFileSync(join(language, 'cursor.txt'), 'utf8').trim() === all.at(-1).cursor, `${language}: the cursor is not the last one`)
}

// pushed is the specimen of the treatment that each program records.
const pushed = '01900000-0000-7000-8000-000000000022'

function free() {
  return new Promise(resolve => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address()
      server.close(() => resolve(port))
    })
  })
}

// judge sends what a receiver must take and must not.
async function judge(language, secret, send) {
  const body = '{"type":"example.meniscus.person.stated.v1","subject":"01900000-0000-7000-8000-000000000001"}'
  const signed = (key, when) => new Webhook(key).sign('one', when, body)
  const now = new Date()
  const other = 'whsec_' + Buffer.alloc(32, 7).toString('base64')
  const good = signed(secret, now)
  const late = new Date(now - 600_000)
  for (const [what, takes, signature, when, sent] of [
    ['a genuine delivery', true, good, now, body],
    ['one of two signatures', true, `${signed(other, now)} ${good}`, now, body],
    ['a tampered body', false, good, now, body.replace('stated', 'retracted')],
    ['another secret', false, signed(other, now), now, body],
    ['a late delivery', false, signed(secret, late), late, body],
    ['another time', false, good, new Date(now - 60_000), body],
  ]) {
    const took = await send({ 'webhook-id': 'one', 'webhook-timestamp': String(Math.floor(when / 1000)), 'webhook-signature': signature }, sent)
    want(took === takes, `${language}: ${what} was ${took ? 'taken' : 'refused'}`)
  }
}

// receives starts a receiver and has the service deliver to it.
async function receives(language, [program, ...args], ask, env) {
  const port = await free()
  const url = `http://127.0.0.1:${port}/meniscus`
  const { secret } = await ask('/v1/webhooks', { url, name: language })
  const child = spawn(program, args, { cwd: language, env: { ...env, SECRET: secret, PORT: String(port) }, stdio: ['ignore', 'pipe', 'pipe'] })
  try {
    let said = ''
    child.stdout.on('data', chunk => { said += chunk })
    const send = async (headers, body) => (await fetch(url, { method: 'POST', headers, body })).ok
    const until = async (done, what) => {
      for (let tries = 0; tries < 300; tries++) {
        if (await done()) return
        await new Promise(resolve => setTimeout(resolve, 100))
      }
      throw new Error(`${language}: ${what}: ${said}`)
    }
    await until(() => send({}, '{}').then(() => true, () => false), 'the receiver does not listen')
    const { id } = await ask('/v1/people', { statement: { name: `Reader of ${language}` } })
    await until(() => said.includes(`example.meniscus.person.stated.v1 ${id}`), 'no delivery came')
    await judge(language, secret, send)
  } finally {
    child.kill()
  }
}

async function verifies(env) {
  const secret = 'whsec_' + Buffer.alloc(32, 9).toString('base64')
  await judge('sh', secret, async (headers, body) => run('bash', ['verify.sh', ...['webhook-id', 'webhook-timestamp', 'webhook-signature'].map(n => headers[n])], { cwd: 'sh', input: body, env: { ...env, SECRET: secret } }).ok)
}

// failsClosed starts what judges deliveries without a secret, with an empty one and
// with one that is none, and verify.sh where openssl is missing: nothing is believed.
async function failsClosed(language, [program, ...args], env) {
  for (const SECRET of [undefined, '', 'whsec_', 'whsec_c2hvcnQ=']) {
    const started = spawnSync(program, args, { cwd: language, encoding: 'utf8', timeout: 20_000, env: { ...env, PORT: String(await free()), SECRET } })
    want(started.status > 0, `${language}: with the secret ${SECRET} ${args.at(-1) ?? program} ended with ${started.status}: ${started.stdout}`)
  }
}

async function verifyFailsClosed(env) {
  const bare = join(folder, 'bare')
  mkdirSync(bare)
  for (const tool of ['date', 'base64', 'od', 'tr', 'sed', 'cat', 'grep', 'bash']) {
    symlinkSync(must('bash', ['-c', `command -v ${tool}`]).trim(), join(bare, tool))
  }
  const SECRET = 'whsec_' + Buffer.alloc(32, 9).toString('base64')
  const now = String(Math.floor(Date.now() / 1000))
  for (const [what, more] of [['without openssl', { PATH: bare, SECRET }], ['without a secret', { SECRET: '' }], ['with a secret of nothing', { SECRET: 'whsec_' }]]) {
    for (const signature of ['v1,', 'v1,' + createHmac('sha256', '').update(`one.${now}.{}`).digest('base64')]) {
      want(!run('bash', ['verify.sh', 'one', now, signature], { cwd: 'sh', input: '{}', env: { ...env, ...more } }).ok, `sh: ${what} verify.sh takes ${signature}`)
    }
  }
}

const top = process.cwd()
try {
  cpSync(programs, folder, { recursive: true })
  await withService(async ({ url, key }) => {
    process.chdir(folder)
    const env = { ...process.env, AT: url, KEY: key }
    const ask = asker(url, key)
    for (const [language, prepare] of Object.entries(languages)) {
      const programs = prepare(url)
      await follows(language, programs, ask, env)
      if (programs.receive) {
        await receives(language, programs.receive, ask, env)
        await failsClosed(language, programs.receive, env)
      }
    }
    await verifies(env)
    await verifyFailsClosed(env)
    const sources = (await feed(ask, pushed)).map(c => c.record.source).filter(s => s?.system === 'catalogue').map(s => s.recordId)
    want(sources.length === 4 && new Set(sources).size === 4, `four programs ran twice and recorded ${sources}`)
    process.chdir(top)
  })
} finally {
  process.chdir(top)
  rmSync(folder, { recursive: true, force: true })
}

for (const fault of faults) console.error(`  ${fault}`)
console.log(`catalogue: the programs of ${Object.keys(languages).length} languages ran, ${faults.length} findings`)
process.exitCode = faults.length === 0 ? 0 : 1

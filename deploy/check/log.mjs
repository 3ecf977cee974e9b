// Holds the log against other people's code (deploy/check/log), and does with the README's
// own program what it is for: a checkpoint that was kept finds each line that was altered,
// removed or put elsewhere in an export of later. The program needs nothing but Node.

import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createHash } from 'node:crypto'
import { withService } from './lib/service.mjs'

const faults = []
const program = /```js\n(\/\/ check\.mjs[^]*?)```/.exec(readFileSync('README.md', 'utf8'))[1]
const folder = mkdtempSync(join(tmpdir(), 'meniscus-log-'))
const file = (name, text) => { writeFileSync(join(folder, name), text); return join(folder, name) }

// judged is what the README's program says of an export.
function judged(checkpoint, lines) {
  const files = [file('check.mjs', program), file('checkpoint', checkpoint), file('export.ndjson', lines.join('\n'))]
  const ran = spawnSync('node', files, { encoding: 'utf8' })
  return (ran.stdout + ran.stderr).trim()
}

function want(what, said, wanted) {
  if (!wanted.test(said)) faults.push(`${what}: got ${said}, want ${wanted}`)
}

const sha = (...parts) => createHash('sha256').update(Buffer.concat(parts.map(p => Buffer.from(p)))).digest('hex')

// forged is a line whose words say something else, with the digest and the leaf of those.
function forged(line) {
  const [, leaf, nonce, body] = /^(.*),"leaf":"\w{64}","nonce":"(\w+)","body":(.*)\}$/.exec(line)
  const words = body.replace('{', '{"more":1,')
  const head = leaf.replace(/"digest":"\w{64}"$/, `"digest":"${sha(Buffer.from(nonce, 'hex'), words)}"`)
  return { own: `${head},"leaf":"${sha([0], head + '}')}","nonce":"${nonce}","body":${words}}`,
    kept: line.replace(leaf, head).replace(`"body":${body}`, `"body":${words}`) }
}

await withService(async ({ url, key }) => {
  const ask = async path => (await fetch(url + path, { headers: { Authorization: `Bearer ${key}` } })).text()
  let checkpoint // when everything that the demo recorded is in it
  do {
    checkpoint = await ask('/v1/log/checkpoint')
  } while (checkpoint !== await ask('/v1/log/checkpoint') || Number(checkpoint.split('\n')[1]) < 20)
  const env = { ...process.env, AT: url, KEY: key }
  const ran = spawnSync('go', ['run', './deploy/check/log'], { encoding: 'utf8', env })
  console.log((ran.stdout + ran.stderr).trim())
  if (ran.status !== 0) faults.push('other people\'s code refuses the log')
  const lines = (await ask('/v1/exports/records')).split('\n')
  const changed = change => { const copy = [...lines]; change(copy); return judged(checkpoint, copy) }
  want('the export', judged(checkpoint, lines), /^As it was: \d+ entries\.$/)
  want('words altered', changed(l => { l[6] = l[6].replace('"body":{', '"body":{ ') }), /^First different: 7$/)
  want('time altered', changed(l => { l[6] = l[6].replace('"recordedAt":"2', '"recordedAt":"1') }), /^First different: 7$/)
  want('words and digest altered', changed(l => { l[6] = forged(l[6]).kept }), /^First different: 7$/)
  want('all of it forged', changed(l => { l[6] = forged(l[6]).own }), /^Not what the checkpoint was made of\.$/)
  want('removed', changed(l => { l.splice(6, 1) }), /^First different: 7$/)
  want('the last removed', changed(l => { l.length = 3 }), /^First different: 4$/)
  want('reordered', changed(l => { [l[6], l[7]] = [l[7], l[6]] }), /^First different: 7$/)
})
rmSync(folder, { recursive: true, force: true })

for (const fault of faults) console.error(`log: ${fault}`)
console.log(`log: ${faults.length} findings`)
process.exitCode = faults.length === 0 ? 0 : 1

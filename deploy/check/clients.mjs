// Generates clients from the contract as a catalogue's developer would, compiles
// them, and does the main job with each against a running service: oapi-codegen
// for Go, openapi-typescript with openapi-fetch, @hey-api/openapi-ts and
// swagger-typescript-api for TypeScript.
//
// TypeScript is generated from what is served, whose choices refuse no member and
// two members when a program is compiled (choices.ts); Go from openapi.yaml, whose
// choices are plain structs.
//
// Everything compiles under `strict` and `exactOptionalPropertyTypes`, but for the files
// that @hey-api/openapi-ts copies beside what it makes of the contract (client/ and
// core/): they pass `undefined` to optional members. They are compiled under `strict`
// alone, and the rest against their declarations. It is pinned to the last version that
// runs on Node 20.
//
// oapi-codegen needs `skip-prune`: else it drops the types that only the
// contract's webhooks name, and its own code does not compile.

import { spawnSync } from 'node:child_process'
import { copyFileSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { createClient } from '@hey-api/openapi-ts'
import { generateApi } from 'swagger-typescript-api'
import { withService } from './lib/service.mjs'

const contract = resolve('api/openapi.yaml')
const served = resolve('api/openapi.json')
const bin = resolve('deploy/check/node_modules/.bin')
const sources = resolve('deploy/check/clients')

function run(program, args, options = {}) {
  const ran = spawnSync(program, args, { encoding: 'utf8', ...options })
  if (ran.error) throw ran.error
  if (ran.status !== 0) throw new Error(`${program} ${args.join(' ')} ended with ${ran.status}:\n${ran.stdout}${ran.stderr}`)
  return ran.stdout
}

// The Go client is a module of its own, with the versions that go.mod pins.
// What its code needs beyond the service, the build adds to its own go.mod.
function goClient(folder) {
  mkdirSync(join(folder, 'meniscus'), { recursive: true })
  run('go', ['tool', 'oapi-codegen', '-package', 'meniscus', '-generate', 'types,client,skip-prune', '-o', join(folder, 'meniscus/client.gen.go'), contract])
  writeFileSync(join(folder, 'go.mod'), readFileSync('go.mod', 'utf8').replace(/^module .*$/m, 'module catalogue'))
  copyFileSync('go.sum', join(folder, 'go.sum'))
  copyFileSync(join(sources, 'go/main.go'), join(folder, 'main.go'))
  run('go', ['build', '-mod=mod', '-trimpath', '-tags', 'generated', '-o', 'client', '.'], { cwd: folder })
  return [join(folder, 'client'), []]
}

const strict = { strict: true, module: 'nodenext', target: 'es2022', lib: ['es2023', 'dom', 'dom.iterable'], types: [], noEmitOnError: true }

const exact = { exactOptionalPropertyTypes: true }

// compile compiles one program and the generated files that it imports.
function compile(folder, program, options = exact) {
  writeFileSync(join(folder, 'tsconfig.json'), JSON.stringify({ compilerOptions: { ...strict, ...options }, files: [`${program}.ts`] }))
  run(join(bin, 'tsc'), ['-p', 'tsconfig.json'], { cwd: folder })
  return ['node', [join(folder, `${program}.js`)]]
}

// compileCopied compiles the files that were copied beside what was made of the
// contract, and leaves their declarations in their place.
function compileCopied(folder) {
  compile(folder, 'sdk/client/index', { declaration: true })
  for (const part of ['client', 'core']) {
    for (const file of readdirSync(join(folder, 'sdk', part))) {
      if (/(?<!\.d)\.ts$/.test(file)) rmSync(join(folder, 'sdk', part, file))
    }
  }
}

async function typeScriptClients(folder) {
  mkdirSync(folder)
  writeFileSync(join(folder, 'package.json'), '{"type": "module"}')
  symlinkSync(resolve('deploy/check/node_modules'), join(folder, 'node_modules'))
  for (const name of ['job', 'fetch', 'sdk', 'third', 'choices']) copyFileSync(join(sources, `ts/${name}.ts`), join(folder, `${name}.ts`))
  run(join(bin, 'openapi-typescript'), [served, '-o', join(folder, 'contract.d.ts')])
  await createClient({
    input: served, output: { path: join(folder, 'sdk'), module: { extension: '.js' } },
    plugins: ['@hey-api/client-fetch', '@hey-api/typescript', '@hey-api/sdk'], logs: { level: 'silent', file: false },
  })
  await generateApi({ input: served, output: join(folder, 'third'), fileName: 'api.ts', httpClientType: 'fetch', generateUnionEnums: true, silent: true })
  compileCopied(folder)
  return ['choices', 'fetch', 'sdk', 'third'].map(program => compile(folder, program)).slice(1)
}

const folder = mkdtempSync(join(tmpdir(), 'meniscus-clients-'))
try {
  const clients = [goClient(join(folder, 'go')), ...await typeScriptClients(join(folder, 'ts'))]
  await withService(async ({ url, key }) => {
    for (const [program, args] of clients) process.stdout.write(`clients: ${run(program, args, { env: { ...process.env, AT: url, KEY: key } })}`)
  })
} finally {
  rmSync(folder, { recursive: true, force: true })
}

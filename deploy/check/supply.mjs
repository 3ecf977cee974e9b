// What the program is made of: deploy/licences has the licence of every module that is
// linked into it; a bill of materials (CycloneDX) made of the built program names just these
// modules; gosec finds nothing that deploy/check/gosec-waivers.tsv does not explain; and
// govulncheck knows of no fault in what is called. Its database may be out of reach: that
// is said, and nothing is known then.

import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const findings = []
const go = (...args) => spawnSync('go', args, { encoding: 'utf8', maxBuffer: 1 << 27, env: { ...process.env,
  CGO_ENABLED: '0' } })
const must = ran => {
  if (ran.status !== 0) throw new Error(ran.stdout + ran.stderr)
  return ran.stdout
}

if (must(go('run', './deploy/check/supply')) !== readFileSync('deploy/licences/third-party.txt', 'utf8')) {
  findings.push('deploy/licences/third-party.txt is not of the modules of today: '
    + 'go run ./deploy/check/supply > deploy/licences/third-party.txt')
}

const work = mkdtempSync(join(tmpdir(), 'meniscus-supply-'))
let modules = []
try {
  const program = join(work, 'meniscus'), bill = join(work, 'bill.json')
  must(go('build', '-trimpath', '-tags', 'timetzdata', '-o', program, './cmd/meniscus'))
  modules = must(go('version', '-m',
    program)).split('\n').map(line => line.trim().split('\t')).filter(([word]) => word === 'dep')
    .map(([, path, version]) => `${path}@${version}`).sort()
  must(go('run', 'github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod@v1.10.0', 'bin', '-json', '-output', bill,
    program))
  const listed = JSON.parse(readFileSync(bill, 'utf8')).components.map(c => `${c.name}@${c.version}`).sort()
  for (const m of modules) if (!listed.includes(m)) findings.push(`the bill of materials lacks ${m}`)
  for (const m of listed) if (!modules.includes(m)) findings.push(`the bill of materials names ${m}, which is not in the program`)
} finally {
  rmSync(work, { recursive: true, force: true })
}

// A waiver is a rule, where it may be found (the beginning of a path), and why that is no fault.
const waivers = readFileSync('deploy/check/gosec-waivers.tsv', 'utf8').split('\n').slice(1).filter(line => line !== '')
  .map(line => line.split('\t')).map(([rule, where, reason]) => ({ rule, where, reason, uses: 0 }))
const looked = go('run', 'github.com/securego/gosec/v2/cmd/gosec@v2.30.0', '-quiet', '-no-fail', '-fmt=json',
  '-exclude-generated',
  './cmd/...', './internal/...', './api', './migrations')
const { Issues: issues, Stats: stats } = JSON.parse(must(looked))
for (const { rule_id: rule, file, line, details } of issues ?? []) {
  const path = file.slice(process.cwd().length + 1)
  const waiver = waivers.find(w => w.rule === rule && path.startsWith(w.where))
  if (waiver) waiver.uses++
  else findings.push(`${path}:${line}: ${rule} ${details}`)
}
for (const { rule, where,
  uses } of waivers) if (uses === 0) findings.push(`the waiver of ${rule} in ${where} waives nothing`)

const known = go('run', 'golang.org/x/vuln/cmd/govulncheck@v1.9.0', './...')
const unreached = /fetching vulnerabilities/.test(known.stdout + known.stderr)
if (known.status !== 0 && !unreached) findings.push(`govulncheck: ${known.stdout}${known.stderr}`)

for (const finding of findings) console.error(`  ${finding}`)
console.log(`supply: ${modules.length} modules with their licences, in the bill of materials; `
  + `${stats.files} files read by gosec; ${findings.length} findings`)
console.log(unreached
  ? 'supply: known faults of modules were NOT checked: their database cannot be reached'
  : 'supply: no known fault of a module is called')
process.exitCode = findings.length === 0 && modules.length > 30 && stats.files > 250 ? 0 : 1

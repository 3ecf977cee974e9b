// The alert rules by promtool, with a test of each, and every query of the dashboard and
// of the rules asked of a Prometheus that reads a running service: none may be refused,
// each one of the dashboard must find something, and no rule may name a metric that the
// service does not export. Needs prometheus and promtool (Debian: prometheus).

import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { parse } from 'yaml'
import { withService } from './lib/service.mjs'

const folder = 'deploy/observe'
const findings = []
const promtool = (...args) => {
  const { status, stdout, stderr } = spawnSync('promtool', args, { cwd: folder, encoding: 'utf8' })
  if (status !== 0) findings.push(`promtool ${args.join(' ')}: ${stdout}${stderr}`)
}
promtool('check', 'rules', '--lint-fatal', 'alerts.yaml')
promtool('test', 'rules', 'alerts_test.yaml')

const rules = parse(readFileSync(`${folder}/alerts.yaml`, 'utf8')).groups.flatMap(g => g.rules)
const tested = new Set(parse(readFileSync(`${folder}/alerts_test.yaml`, 'utf8')).tests
  .flatMap(t => t.alert_rule_test.filter(r => r.exp_alerts).map(r => r.alertname)))
for (const { alert } of rules) if (!tested.has(alert)) findings.push(`no test makes ${alert} speak`)
const panels = JSON.parse(readFileSync(`${folder}/dashboard.json`, 'utf8')).panels
  .flatMap(p => p.targets.map(t => ({ what: p.title, expr: t.expr })))

const freePort = () => new Promise(found => {
  const server = createServer().listen(0, '127.0.0.1', () => {
    const { port } = server.address()
    server.close(() => found(port))
  })
})

// withPrometheus reads the metrics at an address twice a second and calls use(ask).
async function withPrometheus(metrics, use) {
  const at = `127.0.0.1:${await freePort()}`
  const work = mkdtempSync(join(tmpdir(), 'meniscus-observe-'))
  const config = { global: { scrape_interval: '500ms', evaluation_interval: '1s' }, rule_files: [resolve(folder, 'alerts.yaml')],
    scrape_configs: [{ job_name: 'meniscus', static_configs: [{ targets: [metrics] }] }] }
  writeFileSync(join(work, 'prometheus.yml'), JSON.stringify(config)) // JSON is YAML
  const child = spawn('prometheus', [`--config.file=${work}/prometheus.yml`, `--storage.tsdb.path=${work}/data`,
    `--web.listen-address=${at}`, '--log.level=error'], { stdio: ['ignore', 'inherit', 'inherit'] })
  const ended = new Promise(done => child.once('error', done).once('exit', done))
  const ask = async path => (await fetch(`http://${at}/api/v1/${path}`)).json()
  try {
    return await use(ask)
  } finally {
    child.kill('SIGTERM')
    await ended
    rmSync(work, { recursive: true, force: true })
  }
}

// until asks again until the answer is wanted, for a minute at most.
async function until(ask, wanted) {
  for (let tries = 0; tries < 120; tries++) {
    const answer = await ask().catch(() => undefined)
    if (answer && wanted(answer)) return answer
    await wait(500)
  }
  return undefined
}

const query = expr => `query?query=${encodeURIComponent(expr)}`
const ownNames = /\b(?:meniscus|http_server|pgxpool|db_client|process|go|up)(?:_\w+)?\b(?=[{[\s/<>=)]|$)/g

const metrics = `127.0.0.1:${await freePort()}`
await withService(async ({ url, key }) => {
  await withPrometheus(metrics, async ask => {
    const headers = { Authorization: `Bearer ${key}` }
    // Rates need two looks with requests between them.
    const looks = () => ask(query('min(count_over_time(http_server_request_duration_seconds_count{http_route="/v1/specimen-lookup"}[1m]))'))
    const ready = await until(async () => {
      for (const path of ['/v1/specimen-lookup?number=LV.1987/0042', '/v1/people']) await fetch(url + path, { headers })
      return looks()
    }, answer => Number(answer.data?.result?.[0]?.value?.[1]) >= 4)
    if (!ready) return findings.push('Prometheus did not read the metrics of the service')
    for (const { what, expr } of panels) {
      const answer = await ask(query(expr))
      if (answer.status !== 'success') findings.push(`dashboard, ${what}: ${answer.error}: ${expr}`)
      else if (answer.data.result.length === 0) findings.push(`dashboard, ${what}: finds nothing: ${expr}`)
    }
    const names = new Set((await ask('label/__name__/values')).data)
    for (const { alert, expr } of rules) {
      const answer = await ask(query(expr))
      if (answer.status !== 'success') findings.push(`${alert}: ${answer.error}`)
      const used = expr.replace(/"[^"]*"/g, '""').match(ownNames) ?? []
      if (used.length === 0) findings.push(`${alert}: names no metric that is known here`)
      for (const name of used) if (!names.has(name)) findings.push(`${alert}: the service does not export ${name}`)
    }
  })
}, { MENISCUS_METRICS_ADDRESS: metrics })

for (const finding of findings) console.error(`  ${finding}`)
console.log(`observe: ${rules.length} alerts, ${panels.length} queries of the dashboard, ${findings.length} findings`)
process.exitCode = findings.length === 0 ? 0 : 1

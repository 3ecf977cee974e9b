// Sends every example of a request in JSON, or of a merge patch, in the contract to the
// demo, which has to take it. Ids in bodies are the demo's. Where a path names something,
// it is made for the request; what only the service can name (an entry, a webhook) is put
// into the example.

import { readFileSync } from 'node:fs'
import { withService } from './lib/service.mjs'

const contract = JSON.parse(readFileSync('api/reference.json', 'utf8'))

const requests = Object.entries(contract.paths).flatMap(([path, item]) => Object.entries(item).flatMap(([method, operation]) =>
  Object.entries(operation.requestBody?.content ?? {}).flatMap(([type, { examples = {} }]) =>
    Object.entries(/[/+]json$/.test(type) ? examples : {}).map(([name, { value }]) => ({ path, method, type, name, value, id: operation.operationId })))))

// What makes something new has nothing to match.
const makes = new Set(['stateMaterial', 'stateSourceRecord', 'stateSourceRecords'])

// What names new people and specimens comes last: later examples find them by name.
const naming = ['createPerson', 'createSpecimen', 'stateSourceRecord', 'stateSourceRecords']
requests.sort((a, b) => naming.indexOf(a.id) - naming.indexOf(b.id))

await withService(async ({ url, key }) => {
  const ask = async (method, path, body, headers = {}) => {
    const answer = await fetch(url + path, {
      method, headers: { Authorization: `Bearer ${key}`, 'Content-Type': 'application/json', ...headers },
      ...(body === undefined ? {} : { body: typeof body === 'string' ? body : JSON.stringify(body) }),
    })
    return { status: answer.status, etag: answer.headers.get('etag'), text: await answer.text() }
  }
  const first = async path => JSON.parse((await ask('GET', path)).text).items[0]?.id
  const fresh = async (path, statement) => JSON.parse((await ask('POST', path, { statement }, { 'Idempotency-Key': crypto.randomUUID() })).text).id
  const bone = n => fresh('/v1/specimens', { identifiers: [{ kind: 'catalogue-number', value: `LV.example/${n}` }], bodyKind: 'bone', areas: [{ path: 'skull' }, { path: 'jaw' }] })
  let made = 0
  const webhook = await ask('POST', '/v1/webhooks', { url: 'https://catalogue.example/', name: 'Catalogue' }, { 'Idempotency-Key': crypto.randomUUID() })
  const hook = JSON.parse(webhook.text).id
  const { entry } = JSON.parse((await ask('GET', '/v1/changes?limit=1')).text).items[0]
  const told = schedule => ({ ...schedule, webhooks: [{ id: hook }] })
  const schedule = requests.find(r => r.id === 'createReportSchedule').value
  const ordinary = id => requests.find(r => r.id === id).value
  const ids = {
    specimenId: () => bone(String(++made).repeat(3)), recordId: () => bone(String(++made).repeat(3)),
    personId: () => fresh('/v1/people', { name: 'Maja Berg' }), batchId: () => first('/v1/batches'), planId: () => first('/v1/plans'),
    keyId: async () => JSON.parse((await ask('POST', '/v1/access-keys', ordinary('createAccessKey'),
      { 'Idempotency-Key': crypto.randomUUID() })).text).id,
    webhookId: () => hook, materialId: () => crypto.randomUUID(), rule: async () => JSON.parse((await ask('GET', '/v1/check-rules')).text).items[0].rule,
    reportScheduleId: async () => JSON.parse((await ask('POST', '/v1/report-schedules', told(schedule),
      { 'Idempotency-Key': crypto.randomUUID() })).text).id,
  }
  const particular = {
    amendRecord: { recordId: () => fresh('/v1/treatments', ordinary('amendRecord').statement) },
    undoMerge: { specimenId: async () => {
      const id = await bone(`merged/${++made}`)
      await ask('POST', `/v1/specimens/${id}/merge`, ordinary('mergeSpecimen'), { 'If-Match': '*' })
      return id
    } },
  }
  const put = { redeliver: v => v.entry ? { entry } : v, createReportSchedule: told, amendReportSchedule: told }
  const refused = []
  for (const r of requests) {
    let path = r.path
    for (const [whole, name] of r.path.matchAll(/\{(\w+)\}/g)) path = path.replace(whole, encodeURIComponent(await (particular[r.id]?.[name] ?? ids[name])()))
    const query = r.id === 'stateSourceRecord' ? '?kind=specimen&system=catalogue&recordId=example' : ''
    const value = put[r.id]?.(r.value) ?? r.value
    const answer = await ask(r.method.toUpperCase(), path + query, value, { 'Content-Type': r.type, 'Idempotency-Key': crypto.randomUUID(), ...(makes.has(r.id) ? {} : { 'If-Match': '*' }) })
    if (answer.status >= 400) refused.push(`${r.id} ${r.name}: ${answer.status} ${answer.text.slice(0, 400)}`)
  }
  for (const line of refused) console.error(`  ${line}`)
  console.log(`examples: ${requests.length} sent, ${refused.length} refused`)
  process.exitCode = refused.length === 0 ? 0 : 1
})

// Receives real deliveries with other people's receivers: standardwebhooks
// verifies each and refuses it after any tampering, cloudevents reads it, and
// after a time without an answer nothing is missing and the order is the
// museum's. A secret is replaced on the way.

import { createServer } from 'node:http'
import { setTimeout as pause } from 'node:timers/promises'
import { CloudEvent, HTTP } from 'cloudevents'
import { Webhook } from 'standardwebhooks'
import { withService } from './lib/service.mjs'

const faults = []
const want = (ok, message) => { if (!ok) faults.push(message) }

// receiver keeps what comes while it is open, and answers 503 while it is not.
function receiver() {
  const got = []
  const waiting = []
  const self = { got, open: true }
  const server = createServer((request, response) => {
    const chunks = []
    request.on('data', chunk => chunks.push(chunk))
    request.on('end', () => {
      response.writeHead(self.open ? 204 : 503).end()
      if (!self.open) return
      got.push({ headers: request.headers, body: Buffer.concat(chunks).toString('utf8') })
      waiting.forEach(look => look())
    })
  })
  self.listen = () => new Promise(resolve => server.listen(0, '127.0.0.1', () => resolve(`http://127.0.0.1:${server.address().port}/treatments`)))
  self.close = () => { server.closeAllConnections(); server.close() }
  // until waits until n deliveries have come.
  self.until = n => new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`${got.length} deliveries came, not ${n}`)), 60_000)
    const look = () => { if (got.length >= n) { clearTimeout(late); resolve() } }
    waiting.push(look)
    look()
  })
  return self
}

const refuses = (verify, what) => {
  try { verify() } catch { return }
  faults.push(`${what} was accepted`)
}

function judge({ headers, body }, secret, others) {
  const id = headers['webhook-id']
  want(headers['content-type'] === 'application/cloudevents+json', `${id}: content type ${headers['content-type']}`)
  try {
    new Webhook(secret).verify(body, headers)
  } catch (e) {
    faults.push(`${id}: standardwebhooks refuses it: ${e.message}`)
  }
  refuses(() => new Webhook(secret).verify(body.replace('"specversion"', ' "specversion"'), headers), `${id} with a space more`)
  refuses(() => new Webhook(secret).verify(body, { ...headers, 'webhook-id': 'another' }), `${id} under another id`)
  refuses(() => new Webhook(secret).verify(body, { ...headers, 'webhook-timestamp': String(Number(headers['webhook-timestamp']) - 1) }), `${id} at another time`)
  for (const other of others) refuses(() => new Webhook(other).verify(body, headers), `${id} with another secret`)
  const event = HTTP.toEvent({ headers, body })
  want(event instanceof CloudEvent && event.validate(), `${id}: cloudevents does not read it`)
  want(event.id === id, `${id}: the event's id is ${event.id}`)
  for (const name of ['source', 'type']) { // the library makes up a missing id and version
    const { [name]: _, ...less } = JSON.parse(body)
    refuses(() => HTTP.toEvent({ headers: { 'content-type': headers['content-type'] }, body: JSON.stringify(less) }).validate(), `${id} without its ${name}`)
  }
  refuses(() => HTTP.toEvent({ headers: { 'content-type': 'text/plain' }, body }), `${id} as plain text`)
  return event
}

const seen = await withService(async ({ url, key }) => {
  const ask = async (path, body) => {
    const response = await fetch(url + path, {
      method: body === undefined ? 'GET' : 'POST',
      headers: { Authorization: `Bearer ${key}`, 'Content-Type': 'application/json', 'Idempotency-Key': crypto.randomUUID() },
      body: body === undefined ? undefined : JSON.stringify(body),
    })
    const answer = await response.json()
    if (!response.ok) throw new Error(`${path}: ${response.status} ${JSON.stringify(answer)}`)
    return answer
  }
  const record = number => ask('/v1/specimens', { statement: { identifiers: [{ kind: 'catalogue-number', value: number }] } })
  // What the museum recorded before has its sequence number by then, so that nothing of it
  // is delivered among what follows.
  const { id: first } = await record('LV.check/0')
  while ((await ask(`/v1/records/${first}/revisions`)).items[0].sequence === undefined) await pause(50)
  const catalogue = receiver()
  try {
    const hook = await ask('/v1/webhooks', { url: await catalogue.listen(), name: 'check' })
    const stranger = 'whsec_' + Buffer.alloc(32, 7).toString('base64')
    for (const n of [1, 2, 3]) await record(`LV.check/${n}`)
    await catalogue.until(3)

    catalogue.open = false // away: what is recorded now comes later, nothing twice
    for (const n of [4, 5, 6]) await record(`LV.check/${n}`)
    catalogue.open = true
    await ask(`/v1/webhooks/${hook.id}/resumption`, {})
    await catalogue.until(6)

    const next = (await ask(`/v1/webhooks/${hook.id}/secrets`, { overlapHours: 1 })).secret
    await record('LV.check/7')
    await catalogue.until(7)

    const events = catalogue.got.slice(0, 6).map(d => judge(d, hook.secret, [stranger, next]))
    events.push(judge(catalogue.got[6], hook.secret, [stranger]), judge(catalogue.got[6], next, [stranger]))
    const numbers = catalogue.got.map(d => JSON.parse(d.body).data.record.statement.identifiers[0].value)
    want(numbers.join() === [1, 2, 3, 4, 5, 6, 7].map(n => `LV.check/${n}`).join(), `came as ${numbers}`)
    return events.length
  } finally {
    catalogue.close()
  }
})

for (const fault of faults) console.error(`  ${fault}`)
console.log(`receivers: ${seen} deliveries judged, ${faults.length} findings`)
process.exitCode = faults.length === 0 ? 0 : 1

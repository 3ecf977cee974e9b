// Receives deliveries at PORT (9000 if empty). SECRET is the secret of the webhook; without it nothing is believed.
import { createHmac, timingSafeEqual } from 'node:crypto'
import { createServer, type IncomingHttpHeaders } from 'node:http'
import { text } from 'node:stream/consumers'
import type { components } from './contract.js'

const secret = Buffer.from((process.env['SECRET'] ?? '').replace(/^whsec_/, ''), 'base64')
if (secret.length < 24) throw new Error('SECRET is no secret of a webhook')

function genuine(headers: IncomingHttpHeaders, body: string): boolean {
  const stamp = Number(headers['webhook-timestamp'])
  if (!(Math.abs(Date.now() / 1000 - stamp) < 300)) return false
  const made = Buffer.from('v1,' + createHmac('sha256', secret).update(`${headers['webhook-id']}.${stamp}.${body}`).digest('base64'))
  return String(headers['webhook-signature']).split(' ').map(s => Buffer.from(s)).some(s => s.length === made.length && timingSafeEqual(s, made))
}

createServer(async (request, response) => {
  const body = await text(request)
  const good = genuine(request.headers, body)
  if (good) { // the same webhook-id may come again: remember those that you have done
    const event: components['schemas']['ChangeEvent'] = JSON.parse(body)
    console.log(event.type, event.subject)
  }
  response.writeHead(good ? 204 : 401).end()
}).listen(Number(process.env['PORT'] ?? 9000), '127.0.0.1')

// Has the calendar of what is due read by ical.js, and holds every event against the list of
// what is due: its day, its words and its record, with texts that have a meaning in calendars.

import ICAL from 'ical.js'
import { withService } from './lib/service.mjs'

const number = 'LV.1987/0042; "skull, left" \\n 深 BEGIN:VEVENT'

const wrong = []
const events = await withService(async ({ url, key }) => {
  const ask = async (path, body) => {
    const answer = await fetch(url + path, {
      method: body ? 'POST' : 'GET', body: body && JSON.stringify(body),
      headers: { Authorization: `Bearer ${key}`, 'Content-Type': 'application/json',
        'Idempotency-Key': crypto.randomUUID() },
    })
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`)
    return answer.json()
  }
  const day = ahead => new Date(Date.now() + ahead * 86400000).toISOString().slice(0, 10)
  const specimen = await ask('/v1/specimens', { statement: { identifiers: [{ kind: 'catalogue-number',
    value: number }], collection: 'calendars' } })
  for (const ahead of [-400, 0, 40]) {
    await ask('/v1/treatments', { statement: { specimen: { id: specimen.id }, action: 'coating', areas: { paths: ['whole'] },
      dates: { edtf: '2020' }, nextCheck: { edtf: day(ahead) } } })
  }
  const person = await ask('/v1/people?limit=1')
  const made = await ask('/v1/access-keys', { name: 'office calendar', person: { id: person.items[0].id },
    scopes: ['calendar'] })
  const due = (await ask(`/v1/due?limit=500&until=${day(366)}`)).items
  const answer = await fetch(`${url}/v1/due.ics?key=${made.secret}`)
  const calendar = new ICAL.Component(ICAL.parse(await answer.text()))
  const found = new Map(calendar.getAllSubcomponents('vevent').map(e => [e.getFirstPropertyValue('uid'), new ICAL.Event(e)]))
  const [version, maker] = ['version', 'prodid'].map(name => calendar.getFirstPropertyValue(name))
  if (version !== '2.0' || !maker) wrong.push('the calendar lacks its version or its maker')
  if (found.size !== due.length) wrong.push(`${found.size} events for ${due.length} things that are due`)
  for (const item of due) {
    const event = found.get(`${item.record.id}-${item.what}`)
    const date = event?.startDate
    const said = event && [date.isDate && date.toString(), event.summary, event.description ?? ''].join(' | ')
    const want = [item.date ?? day(0), item.sentence, (item.cautions ?? []).map(c => `${c}\n`).join('')].join(' | ')
    if (said !== want) wrong.push(`${item.record.id}: got ${said}, want ${want}`)
  }
  if (due.filter(x => x.number === number).length !== 3) wrong.push('the specimen with the hard name is not among what is due')
  return found.size
})

for (const w of wrong) console.error(`  ${w}`)
console.log(`calendar: ${events} events read by ical.js, ${wrong.length} wrong`)
process.exitCode = wrong.length === 0 && events > 0 ? 0 : 1

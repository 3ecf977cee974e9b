// Opens the reference page in a browser: it must show every operation and say which
// need no key, open all that they hold, send requests that the service answers with
// the reader's key where one is needed, and ask no other host for anything. It is
// shown quickly, and axe finds nothing in it, wide, narrow and dark.
//
// Chromium is looked for at CHROMIUM, else /usr/bin/chromium. With SCREENSHOTS
// set to a folder, what was seen is kept there.

import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { chromium } from 'playwright-core'
import { parse } from 'yaml'
import { withService } from './lib/service.mjs'

const MOST_SECONDS = 3 // of the page's own work until the first operation is visible
const MOST_BYTES = 30_000 // of the page's own files, as they are sent, with their headers
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const contract = parse(readFileSync('api/openapi.yaml', 'utf8'))
const listed = [contract.paths, contract.webhooks ?? {}].flatMap(Object.values).flatMap(Object.values).filter(o => o.operationId)

const faults = []
const want = (ok, message) => { if (!ok) faults.push(message) }

async function keep(page, name) {
  if (!process.env.SCREENSHOTS) return
  const [width, height] = await page.evaluate(() => [innerWidth, Math.min(document.body.scrollHeight, 4000)])
  await page.screenshot({ path: join(process.env.SCREENSHOTS, `${name}.png`), fullPage: true, clip: { x: 0, y: 0, width, height } })
}

// open loads the page, and measures its work and what came until the first operation
// is visible.
async function open(page, url) {
  const cdp = await page.context().newCDPSession(page)
  await cdp.send('Performance.enable')
  await cdp.send('Network.enable')
  const came = new Map()
  cdp.on('Network.responseReceived', e => came.set(e.requestId, { url: e.response.url, headers: e.response.headers, type: e.response.mimeType }))
  cdp.on('Network.loadingFinished', e => Object.assign(came.get(e.requestId) ?? {}, { bytes: e.encodedDataLength }))
  await page.goto(url)
  await page.locator('.operation').first().waitFor()
  const { metrics } = await cdp.send('Performance.getMetrics')
  const seconds = metrics.find(m => m.name === 'TaskDuration').value
  await page.waitForLoadState('networkidle')
  await cdp.detach()
  return { seconds, came: [...came.values()] }
}

function judgeSpeed({ seconds, came }) {
  want(seconds < MOST_SECONDS, `the first operation was visible after ${seconds.toFixed(2)} s of work, more than ${MOST_SECONDS}`)
  for (const { url, headers, bytes } of came) {
    const packed = Object.entries(headers).some(([name, value]) => name.toLowerCase() === 'content-encoding' && value === 'gzip')
    want(packed || bytes < 2000, `${url} came in ${bytes} bytes and was not compressed`)
  }
  const own = came.filter(f => f.url.includes('/docs') && !f.url.endsWith('/openapi.json')).reduce((sum, f) => sum + f.bytes, 0)
  want(own < MOST_BYTES, `the page's own files came in ${own} bytes, more than ${MOST_BYTES}`)
  const all = came.reduce((sum, f) => sum + f.bytes, 0)
  return `visible after ${seconds.toFixed(2)} s of work; ${own} bytes of its own, ${all} with the contract`
}

// judgeList compares what is shown of keys with the contract.
async function judgeList(page) {
  const shown = await page.locator('.operation').evaluateAll(rows => rows.map(r => [r.id, r.querySelector('.needs').textContent]))
  want(shown.length === listed.length, `${shown.length} operations are shown, the contract has ${listed.length}`)
  const sent = new Set(Object.values(contract.webhooks ?? {}).flatMap(Object.values).map(o => o.operationId))
  const says = new Map(shown)
  for (const { operationId, security = contract.security } of listed) {
    const keyless = security.length === 0 || security.some(way => Object.keys(way).length === 0)
    const scopes = security.flatMap(way => way.accessKey ?? [])
    const expected = sent.has(operationId) ? 'sent to you' : keyless ? 'no key' : scopes.length ? `key: ${scopes.join(' + ')}` : 'key'
    want(says.get(operationId) === expected, `${operationId} is shown with "${says.get(operationId)}", not "${expected}"`)
  }
  return shown.length
}

// judgeInsides opens every operation, and everything in it one step deep. Nothing may
// be without words, and nothing may be named that is not there.
async function judgeInsides(page) {
  const found = await page.locator('.operation').evaluateAll(rows => rows.map(row => {
    row.open = true
    row.fill()
    const inside = row.querySelector('.inside')
    for (const details of inside.querySelectorAll('details')) { details.open = true; details.fill() }
    const text = inside.textContent
    const fault = /undefined|\[object|is not in this contract/.exec(text)?.[0]
    const chapters = [...inside.querySelectorAll('h4')].map(h => h.textContent)
    row.open = false
    inside.remove()
    return { id: row.id, fault, chapters, length: text.length }
  }))
  for (const { id, fault, chapters, length } of found) {
    want(!fault, `${id} shows "${fault}"`)
    want(length > 200 && chapters.includes('Answers') && chapters.includes('Problems'), `${id} shows only ${chapters.join(', ')}`)
  }
}

// judgeForms shows another contract, with all forms of schemas: what they say is read
// as a reader would who opens everything five steps deep.
async function judgeForms(page, url) {
  const body = JSON.stringify(parse(readFileSync('deploy/check/lib/forms.yaml', 'utf8')))
  await page.route('**/openapi.json', route => route.fulfill({ contentType: 'application/json', body }))
  await page.goto('about:blank') // else only the part of the page would change
  await page.goto(`${url}/docs#sendForms`)
  await page.locator('#sendForms .inside').waitFor() // the address opens it
  await page.evaluate(() => {
    for (let step = 0; step < 5; step++) for (const d of document.querySelectorAll('details')) { d.open = true; d.fill?.() }
  })
  const said = (await page.locator('main').innerText()).replace(/\s+/g, ' ')
  for (const words of [
    'Text with code, weight, a link and a trap.', 'A summary with <b>no markup</b>', 'id string, path, required', 'many list of string, query',
    'name string required', 'branches list of Tree', 'each item Tree, object name string required branches list of Tree each item Tree, object',
    'common string Exactly one of these members: left string right integer', 'the first kind', 'with kind, other', 'kind "second" required',
    'other string or null required', 'told apart by kind', 'one of red, blue', 'more than 3', 'At least one of these forms:',
    'All of these forms: Tree', 'with branches', 'item 1 string item 2 number', 'anything anything', 'contentEncoding: "base64"',
    '#/components/schemas/Lost is not in this contract.', 'Words beside a reference.', 'any other member Tree', 'nest Nest, list of Nest',
  ]) want(said.includes(words), `the forms of schemas: "${words}" is not shown`)
  want(!/never|undefined|\[object/.test(said), 'the forms of schemas: shown is what may not be there')
  const links = await page.locator('#about-text a').evaluateAll(all => all.map(a => a.getAttribute('href')))
  want(links.join() === 'https://meniscus.example/', `the links are ${links.join()}`)
  want(await page.locator('#sendForms pre', { hasText: 'last line' }).count() === 1, 'the block of code is not shown as one')
  want(await page.locator('#sendForms textarea').inputValue() === '{\n  "name": "a tree"\n}', 'the example is not in the body')
  await keep(page, 'forms')
  await page.unroute('**/openapi.json')
}

// judgeAccess lets axe look, and the page may not be wider than the window.
async function judgeAccess(page, state) {
  await page.evaluate(axe)
  const { violations, passes } = await page.evaluate(() => globalThis.axe.run())
  want(passes.length > 20, `axe, ${state}: looked at ${passes.length} rules only`)
  for (const v of violations) want(false, `axe, ${state}: ${v.id} (${v.help}) at ${v.nodes.slice(0, 3).map(n => n.target.join(' ')).join(', ')}`)
  const [wide, window] = await page.evaluate(() => [document.scrollingElement.scrollWidth, innerWidth])
  want(wide <= window, `${state}: the page is ${wide} pixels wide in a window of ${window}`)
  await keep(page, state.replaceAll(' ', '-'))
}

// send opens an operation and sends its request, with the keyboard alone, and gives
// the status that came.
async function send(page, operationId, values = {}) {
  const operation = page.locator(`#${operationId}`)
  if (!await operation.evaluate(d => d.open)) await operation.locator('> summary').press('Enter')
  for (const [name, value] of Object.entries(values)) {
    const control = operation.locator(`form [name="${name}"]`)
    await (await control.evaluate(c => c.tagName) === 'SELECT' ? control.selectOption(value) : control.fill(value))
  }
  await operation.locator('[type=submit]').press('Enter')
  const status = operation.locator('.inside > [role=status]')
  await status.filter({ hasText: /^\d{3} .* ms, / }).waitFor()
  return Number.parseInt(await status.innerText(), 10)
}

// judgePicture asks for a label as a picture, which the page's policy must let through.
async function judgePicture(page, url, key) {
  const batches = await (await fetch(`${url}/v1/batches?limit=1`, { headers: { Authorization: `Bearer ${key}` } })).json()
  await page.fill('#key-field', key)
  await page.locator('#labelBatch > summary').press('Enter')
  await page.locator('#labelBatch').getByLabel('Answer as').selectOption('image/svg+xml')
  want(await send(page, 'labelBatch', { batchId: batches.items[0].id, capacity: '100' }) === 200, 'labelBatch should answer 200')
  const picture = page.locator('#labelBatch img')
  want(await picture.evaluate(i => i.decode().then(() => i.naturalWidth > 0, () => false)), 'the label should be shown as a picture')
}

// judgeFinding looks for an operation by words, and shows all again.
async function judgeFinding(page, all) {
  await page.fill('#find-field', 'PEOPLE list')
  const shown = await page.locator('.operation:visible').evaluateAll(rows => rows.map(r => r.id))
  want(shown.includes('listPeople') && shown.length < all / 4, `"PEOPLE list" finds ${shown.join(', ')}`)
  want(await page.innerText('#found') === `${shown.length} of ${all} operations`, 'how many are found should be told')
  await page.fill('#find-field', '')
  want(await page.locator('.operation:visible').count() === all, 'with no words, all operations should be shown')
}

// judgeStream follows what has no end, and stops it.
async function judgeStream(page) {
  const stream = page.locator('#streamChanges')
  await stream.locator('> summary').press('Enter')
  await stream.locator('[type=submit]').press('Enter')
  await stream.locator('pre', { hasText: 'event: change' }).first().waitFor()
  await stream.getByRole('button', { name: 'Stop' }).press('Enter')
  await stream.getByText('Stopped.').waitFor()
  const focused = await page.evaluate(() => document.activeElement.textContent)
  want(focused === 'Send', `stopped, the focus is on "${focused}"`)
}

async function judgeRequests(page, key) {
  want(await send(page, 'listPeople') === 401, 'without a key, listPeople should answer 401')
  await page.fill('#key-field', key)
  want(await send(page, 'listPeople') === 200, 'with the key, listPeople should answer 200')
  want(await send(page, 'createPerson') === 201, "with the key, createPerson's example should answer 201")
  const body = page.locator('#createPerson .inside > div pre')
  want(JSON.parse(await body.innerText()).kind === 'person', "createPerson's answer should be shown")
  await page.fill('#key-field', '')
  want(await send(page, 'listPeople') === 401, 'with the key taken away, listPeople should answer 401')
  const kept = await page.evaluate(() => localStorage.length + sessionStorage.length + document.cookie.length)
  want(kept === 0, 'the page keeps something in the browser')
}

await withService(async ({ url, key }) => {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  })
  try {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 } })
    page.setDefaultTimeout(120_000) // a busy machine is no fault of the page
    const asked = []
    page.on('request', r => asked.push(r.url()))
    page.on('pageerror', e => faults.push(`the page failed: ${e.message}`))
    page.on('console', m => { if (/Content Security Policy|Trusted/i.test(m.text())) faults.push(m.text()) })

    const speed = judgeSpeed(await open(page, `${url}/docs`))
    const shown = await judgeList(page)
    await judgeAccess(page, 'closed wide')
    await judgeInsides(page)
    await judgeRequests(page, key)
    await judgePicture(page, url, key)
    await judgeStream(page)
    await judgeFinding(page, shown)
    await judgeAccess(page, 'open wide')
    await page.emulateMedia({ colorScheme: 'dark' })
    await judgeAccess(page, 'open dark')
    await page.setViewportSize({ width: 320, height: 640 })
    await judgeAccess(page, 'open narrow dark')
    await page.emulateMedia({ colorScheme: 'light' })
    await judgeAccess(page, 'open narrow')
    await page.goto('about:blank')
    await page.goto(`${url}/docs`)
    await page.locator('.operation').first().waitFor()
    await judgeAccess(page, 'closed narrow')

    await judgeForms(page, url)

    const outside = asked.filter(a => !a.startsWith(`${url}/`) && !a.startsWith('data:') && !a.startsWith(`blob:${url}/`))
    want(outside.length === 0, `the page asked elsewhere: ${outside.join(', ')}`)
    console.log(`docs: ${shown} operations shown, ${asked.length} requests, all to the service; ${speed}`)
  } finally {
    await browser.close()
  }
})

for (const fault of faults) console.error(`  ${fault}`)
process.exitCode = faults.length === 0 ? 0 : 1

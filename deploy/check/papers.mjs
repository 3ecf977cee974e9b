// Prints every paper of two of the demo's specimens, the reports, and a card of every recipe, and looks at it as others do: qpdf finds
// nothing wrong in a PDF, its letters are embedded, and pdftotext reads what the page says,
// in the same order; the code is read off the picture; axe finds nothing in the page, wide
// and at 400 % (320 pixels), where nothing is wider than the window, and the keyboard gets at
// each link. No paper is tagged: the library that writes them cannot do that.
//
// It needs qpdf, poppler-utils and Chromium.

import { execFileSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { chromium } from 'playwright-core'
import { parse } from 'yaml'
import { withService } from './lib/service.mjs'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const contract = JSON.parse(readFileSync('api/openapi.json', 'utf8'))
const operation = parse(readFileSync('api/openapi.yaml', 'utf8')).paths['/v1/specimens/{specimenId}/papers/{paper}'].get
const papers = operation.parameters.find(p => p.name === 'paper').schema.enum

const reports = ['/v1/reports/treatments?from=1980-01-01&until=2026-12-31', '/v1/reports/reversible-treatments']

const faults = []
const want = (ok, message) => { if (!ok) faults.push(message) }
const run = (program, ...args) => execFileSync(program, args, { encoding: 'utf8' })

// words are what is read, without what differs by the form: the dots between fields, the
// dashes of a list, the feet of sheets.
const words = text => text.replace(/[·–□]|-\n/g, ' ').split(/\s+/).filter(w => w !== '')

// judgePDF reads a PDF, in the order of its bytes and as it is laid out. What stands beside each
// other to be written on is left out: pdftotext by itself takes it for columns. The same goes for
// the numbers of a report's tables.
function judgePDF(name, file, said, ways) {
  want(/No syntax or stream encoding errors found/.test(run('qpdf', '--check', file)), `${name}: qpdf finds errors`)
  const fonts = run('pdffonts', file).trim().split('\n').slice(2)
  want(fonts.length > 0 && fonts.every(f => / yes +(yes|no) +yes /.test(f)), `${name}: letters are not embedded:\n${fonts.join('\n')}`)
  const feet = /^.* · (?:up to entry|made on|computed, not) [^\n]*$|^ *sheet \d+ of \d+$/gm
  const sheets = run('pdftotext', '-raw', file, '-').split('\f').filter(sheet => sheet.trim() !== '')
  const last = words(sheets.at(-1).replace(feet, ' ')).length
  want(sheets.length === 1 || last > 25, `${name}: ${last} words stand on the last of ${sheets.length} sheets alone`)
  for (const how of ways) {
    const read = words(run('pdftotext', ...how, file, '-').replace(feet, ' ')).join('')
    let at = 0
    for (const line of said) {
      const wanted = words(line).join('')
      const found = read.indexOf(wanted, at)
      if (found < 0) { want(false, `${name}: pdftotext ${how} does not read "${line}", or reads it in another order`); break }
      at = found
    }
  }
}

await withService(async ({ url, key }) => {
  const folder = mkdtempSync(join(tmpdir(), 'meniscus-papers-'))
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  })
  let printed = 0
  try {
    const ask = (path, accept, body) => fetch(url + path, {
      headers: { Authorization: `Bearer ${key}`, Accept: accept, 'Content-Type': 'application/json' },
      ...(body ? { method: 'POST', body: JSON.stringify(body) } : {}) })
    const { items } = await (await ask('/v1/specimens?limit=50', 'application/json')).json()
    const pictures = []
    const context = await browser.newContext({ viewport: { width: 1280, height: 900 },
      extraHTTPHeaders: { Authorization: `Bearer ${key}` } })
    const page = await context.newPage()
    page.on('request', r => want(r.url().startsWith(url), `a paper asks for ${r.url()}`))
    const looked = [items[0], items.at(-1)].flatMap(({ id }) => papers.map(paper => [`/v1/specimens/${id}/papers/${paper}`,
      `${paper} of ${id}`, `/v1/specimens/${id}`, [['-raw'], ['-layout'], []]]))
    for (const path of reports) looked.push([path, path, path, [['-raw'], ['-layout']]])
    for (const [path, { post }] of Object.entries(contract.paths)) {
      if (!path.startsWith('/v1/compute/') || !post.responses[200].content['application/pdf']) continue
      const [example] = Object.values(post.requestBody.content['application/json'].examples)
      looked.push([path, path, null, [['-raw'], ['-layout'], []], example.value])
    }
    for (const [path, name, opens, ways, body] of looked) {
      const file = join(folder, `${printed++}.pdf`)
      writeFileSync(file, Buffer.from(await (await ask(path, 'application/pdf', body)).arrayBuffer()))
      await page.setViewportSize({ width: 1280, height: 900 })
      await page.setExtraHTTPHeaders({ Authorization: `Bearer ${key}`, Accept: 'text/html' })
      if (body) await page.setContent(await (await ask(path, 'text/html', body)).text())
      else await page.goto(url + path)
      const said = await page.evaluate(() => [...document.querySelectorAll('h1, main p:not(.write), h2, h3, dl > div, .chart text, tr, li')]
        .map(e => (e.innerText ?? e.textContent).trim()).filter(t => t !== ''))
      judgePDF(name, file, said, ways)
      for (const chart of await page.locator('svg.chart').all()) {
        const [title, about] = [await chart.locator('title').textContent(), await chart.locator('desc').textContent()]
        want(title !== '' && /\d/.test(about), `${name}: a chart does not say what it shows`)
      }
      run('pdftoppm', '-r', '150', '-png', '-singlefile', file, file)
      if (opens) pictures.push([`${file}.png`, url + opens])
      for (const width of [1280, 320]) { // 320 is 1280 at 400 %
        await page.setViewportSize({ width, height: 900 })
        // the page's policy lets no script in; axe comes as the browser's own
        await page.evaluate(axe)
        const { violations, passes } = await page.evaluate(() => globalThis.axe.run())
        want(passes.length > 10, `${name}: axe looked at ${passes.length} rules only`)
        for (const v of violations) want(false, `${name}, ${width} wide: ${v.id} (${v.help}) at ${v.nodes[0].target.join(' ')}`)
        const wide = await page.evaluate(() => document.scrollingElement.scrollWidth)
        want(wide <= width, `${name}: ${wide} pixels wide in a window of ${width}`)
      }
      const links = await page.locator('a').count()
      await page.evaluate(() => document.activeElement.blur())
      for (let i = 0; i < links; i++) {
        await page.keyboard.press('Tab')
        want(await page.evaluate(() => document.activeElement.tagName) === 'A', `${name}: the keyboard does not get at link ${i + 1}`)
      }
    }
    const read = run('go', 'run', './deploy/check/papers', ...pictures.map(p => p[0])).trim().split('\n')
    pictures.forEach(([file, address], i) => want(read[i] === address, `${file}: the code reads ${read[i]}, not ${address}`))
  } finally {
    await browser.close()
    rmSync(folder, { recursive: true, force: true })
  }
  console.log(`papers: ${printed} papers, as pages and as PDF`)
})

for (const fault of faults.slice(0, 40)) console.error(`papers: ${fault}`)
process.exit(faults.length === 0 ? 0 : 1)

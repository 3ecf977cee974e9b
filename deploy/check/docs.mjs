// Opens the reference page in a browser: it must show every operation, send
// requests that the service answers, with the reader's key where one is needed,
// and ask no other host for anything.
//
// Chromium is looked for at CHROMIUM, else /usr/bin/chromium. With SCREENSHOTS
// set to a folder, what was seen is kept there.

import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { chromium } from 'playwright-core'
import { parse } from 'yaml'
import { withService } from './lib/service.mjs'

const contract = parse(readFileSync('api/openapi.yaml', 'utf8'))
const operations = [contract.paths, contract.webhooks ?? {}].flatMap(Object.values).flatMap(item => Object.values(item).map(o => o.operationId).filter(Boolean))

const faults = []
const want = (ok, message) => { if (!ok) faults.push(message) }

// send opens an operation, sends its example and gives the status that came.
async function send(page, operationId) {
  const block = page.locator(`[id$="-${operationId}"].opblock`)
  await block.locator('.opblock-summary').click()
  await block.locator('.execute').click()
  const status = await block.locator('.live-responses-table tbody .response-col_status').innerText()
  await keep(page, block, operationId)
  await block.locator('.opblock-summary-control').click()
  return Number.parseInt(status, 10)
}

async function keep(page, what, name) {
  if (process.env.SCREENSHOTS) await what.screenshot({ path: join(process.env.SCREENSHOTS, `${name}.png`) })
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
    page.on('console', m => { if (/Content Security Policy/i.test(m.text())) faults.push(m.text()) })

    await page.goto(`${url}/docs`)
    await page.locator('.opblock').first().waitFor()
    const shown = await page.locator('.opblock').count()
    want(shown === operations.length, `${shown} operations are shown, the contract has ${operations.length}`)
    await keep(page, page, 'page')

    want(await send(page, 'listPeople') === 401, 'without a key, listPeople should answer 401')
    await page.fill('#key', key)
    want(await send(page, 'listPeople') === 200, 'with the key, listPeople should answer 200')
    want(await send(page, 'createPerson') === 201, "with the key, createPerson's example should answer 201")
    await page.fill('#key', '')
    want(await send(page, 'listPeople') === 401, 'with the key taken away, listPeople should answer 401')

    const outside = asked.filter(a => !a.startsWith(`${url}/`) && !a.startsWith('data:'))
    want(outside.length === 0, `the page asked elsewhere: ${outside.join(', ')}`)
    console.log(`docs: ${shown} operations shown, ${asked.length} requests, all to the service`)
  } finally {
    await browser.close()
  }
})

for (const fault of faults) console.error(`  ${fault}`)
process.exitCode = faults.length === 0 ? 0 : 1

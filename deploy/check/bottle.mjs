// Opens the page behind the code of a bottle as a person at the bench does, on a phone: signs in at a provider, records
// a use, solvent that was added and what is left, makes a mistake, and signs out; with the keyboard alone, and with
// scripts switched off. axe finds nothing on any page of that, 390 and 320 pixels wide (320 is 1280 at 400 %), nothing
// is wider than the window, and whatever is touched is at least 44 pixels high.
//
// It needs Chromium. With SHOTS=folder it leaves pictures there.

import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { chromium } from 'playwright-core'
import { withService } from './lib/service.mjs'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const institution = '01900000-0000-7000-8000-00000000d3f0'
const bottle = '01900000-0000-7000-8000-000000000017'

const faults = []
const want = (ok, message) => { if (!ok) faults.push(message) }
let looked = 0

// look judges the page as it stands.
async function look(page, name) {
  for (const width of [390, 320]) {
    await page.setViewportSize({ width, height: 844 })
    await page.evaluate(axe)
    const { violations, passes } = await page.evaluate(() => globalThis.axe.run())
    want(passes.length > 8, `${name}: axe looked at ${passes.length} rules only`)
    for (const v of violations) {
      want(false, `${name}, ${width} wide: ${v.id} (${v.help}) at ${v.nodes.map(n => n.target.join(' ')).join(', ')}`)
    }
    const wide = await page.evaluate(() => document.scrollingElement.scrollWidth)
    want(wide <= width, `${name}: ${wide} pixels wide in a window of ${width}`)
    const small = await page.evaluate(() => [...document.querySelectorAll(
      'button, summary, select, .button, label.choice, input:not([type=hidden], [type=radio])')]
      .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)))
    want(small.length === 0, `${name}: too low to be touched in gloves: ${small.join(' ')}`)
  }
  want(await page.locator('script').count() === 0, `${name}: there is a script`)
  await page.setViewportSize({ width: 390, height: 844 })
  if (process.env.SHOTS) {
    const file = `${String(++looked).padStart(2, '0')}-${name.replace(/\W+/g, '-')}.png`
    await page.screenshot({ path: join(process.env.SHOTS, file), fullPage: true })
  }
}

// typed goes on with the keyboard to the field of a name, and types into it; keys of a list choose in it.
async function typed(page, name, text) {
  for (let i = 0; i < 80; i++) {
    await page.keyboard.press('Tab')
    const at = await page.evaluate(() => document.activeElement.name || document.activeElement.innerText)
    if (at === name || at?.startsWith(name)) break
    if (i === 79) want(false, `the keyboard does not get to ${name}`)
  }
  if (text === '\n') return Promise.all([page.waitForEvent('load'), page.keyboard.press('Enter')])
  if (text !== undefined) await page.keyboard.type(text)
}

const folder = mkdtempSync(join(tmpdir(), 'meniscus-bottle-'))
const built = spawnSync('go', ['build', '-o', join(folder, 'provider'), './deploy/check/provider'], { stdio: 'inherit' })
if (built.status !== 0) process.exit(1)
const provider = spawn(join(folder, 'provider'), [institution], { stdio: ['pipe', 'pipe', 'inherit'] })
const settings = await new Promise(resolve => provider.stdout.once('data', line => resolve(String(line).trim())))

await withService(async ({ url }) => {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  })
  try {
    const context = await browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true, locale: 'en-GB' })
    const page = await context.newPage()
    page.on('console', m => want(m.type() !== 'error' || /status of 4/.test(m.text()), `the browser complains: ${m.text()}`))
    const address = `${url}/v1/batches/${bottle}`
    const says = async text => want((await page.locator('main').innerText()).includes(text), `the page does not say: ${text}`)
    const pressed = text => Promise.all([page.waitForEvent('load'), page.locator('button', { hasText: text }).tap()])

    await page.goto(address)
    want(!(await page.content()).includes('B-0311-1'), 'the code alone shows what is in the bottle')
    await look(page, 'not signed in')
    await typed(page, 'Sign in with', '\n')
    want(page.url() === address, `signed in, the browser is at ${page.url()}`)
    await look(page, 'signed in')
    const [cookie] = (await context.cookies()).filter(c => c.name === '__Host-meniscus')
    want(cookie?.httpOnly && cookie.secure && cookie.sameSite === 'Lax', 'the cookie is not guarded')

    await typed(page, 'Record a use')
    await page.keyboard.press('Enter')
    await typed(page, 'specimen', 'LV.1987/42')
    await typed(page, 'area', 'skull/left-orbit')
    await typed(page, 'amount', 'a spoon')
    await look(page, 'a use is typed')
    await typed(page, 'Record the use', '\n')
    await says('Nothing was recorded')
    want(await page.locator('#use-area').inputValue() === 'skull/left-orbit', 'what was typed is lost')
    await look(page, 'a use with faults')
    await page.locator('#use-amount').fill('')
    await page.locator('#use-amount').focus()
    await page.keyboard.type('2.5')
    await page.locator('input[name=which]').first().focus()
    await page.keyboard.press('Space')
    await typed(page, 'action', 'Conso')
    await typed(page, 'Record the use', '\n')
    await says('The use is recorded')
    await says('LV.1987/0042')
    await look(page, 'a use is recorded')

    await page.locator('summary', { hasText: 'Solvent was added' }).tap()
    await page.locator('#solvent-amount').fill('3')
    await look(page, 'solvent is typed')
    await pressed('Record what was added')
    await says('What was added is recorded')
    await page.locator('summary', { hasText: 'What is left was measured' }).tap()
    await page.locator('#measured-amount').fill('31')
    await pressed('Record what is left')
    await says('What is left is recorded')
    await page.reload() // sends the form again, which records nothing twice
    await says('What is left is recorded')
    await look(page, 'what is left is recorded')

    const plain = await browser.newContext({ viewport: { width: 390, height: 844 }, javaScriptEnabled: false,
      storageState: await context.storageState() })
    const still = await plain.newPage()
    await still.goto(address)
    await still.locator('summary', { hasText: 'Record a use' }).click()
    await still.locator('#use-amount').fill('1')
    await still.locator('button', { hasText: 'Record the use' }).click()
    want((await still.locator('main').innerText()).includes('The use is recorded'), 'nothing can be recorded without scripts')
    await plain.close()

    await page.goto(address)
    await pressed('Sign out')
    await says('signed out')
    await look(page, 'signed out')
    await page.goto(address)
    want(!(await page.content()).includes('B-0311-1'), 'the page is open after signing out')
    console.log('bottle: signed in, three forms sent, a mistake mended, signed out')
  } finally {
    await browser.close()
  }
}, { MENISCUS_OIDC: settings, MENISCUS_OIDC_ALLOW_PRIVATE: '127.0.0.0/8' }).finally(() => {
  provider.stdin.end()
  rmSync(folder, { recursive: true, force: true })
})

for (const fault of faults.slice(0, 40)) console.error(`bottle: ${fault}`)
process.exit(faults.length === 0 ? 0 : 1)

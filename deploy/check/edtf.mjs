// Compares our reading of dates with the npm module edtf 4.11.1 (BSD-2-Clause)
// over testdata/published/edtf.tsv and random strings: whether a text is a
// date, at which level, and its first and last day.
//
//   node deploy/check/edtf.mjs            (from the top of the repository)
//
// The module is found where Node finds modules; EDTF_MODULE may name its folder.
// Every permitted disagreement is listed below with its reason and is counted;
// any other one fails the check.

import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { pathToFileURL } from 'node:url'

const oracle = (await import(process.env.EDTF_MODULE
  ? pathToFileURL(process.env.EDTF_MODULE + '/index.js').href
  : 'edtf')).default

const table = readFileSync('testdata/published/edtf.tsv', 'utf8')
  .split('\n').slice(1).filter(line => line !== '').map(line => line.split('\t')[0])

// A small generator with a fixed seed: the same strings every time.
let state = 20190204
function below(n) {
  state = (state + 0x6D2B79F5) | 0
  let t = Math.imul(state ^ (state >>> 15), 1 | state)
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
  return ((t ^ (t >>> 14)) >>> 0) % n
}
const pick = list => list[below(list.length)]
const digits = n => Array.from({ length: n }, () => below(10)).join('')

const year = () => pick(['1985', '2004', '1900', '2000', '0001', '9999', digits(4), digits(3) + 'X', digits(2) + 'XX'])
const month = () => pick(['02', '04', '12', '13', '00', '21', '24', 'XX', '0' + below(10), '1' + below(3)])
const day = () => pick(['01', '28', '29', '30', '31', '32', 'XX', '0' + below(10), '1' + below(10)])
const mark = () => pick(['', '', '', '?', '~', '%'])
const single = () => pick([
  () => year() + mark(),
  () => `${year()}-${month()}${mark()}`,
  () => `${year()}-${month()}-${day()}${mark()}`,
  () => `${year()}-${month()}-${day()}T${digits(2)}:${digits(2)}:${digits(2)}${pick(['', 'Z', '+02:00', '-07'])}`,
])()
const end = () => pick([single, single, single, () => '', () => '..'])()
const mangled = text => {
  const at = below(text.length + 1)
  return text.slice(0, at) + pick(['', 'X', '-', '/', '?', 'T', '1', ' ']) + text.slice(at + below(2))
}
const random = () => {
  const text = pick([single, single, () => `${end()}/${end()}`])()
  return below(8) === 0 ? mangled(text) : text
}
const texts = [...new Set([...table, ...Array.from({ length: 20000 }, random)])]

const run = spawnSync('go', ['run', './deploy/check/edtf'], {
  input: texts.map(t => JSON.stringify(t)).join('\n') + '\n', encoding: 'utf8', maxBuffer: 1 << 28,
})
if (run.status !== 0) throw new Error(run.stderr)
const ours = run.stdout.trim().split('\n').map(line => JSON.parse(line))

// theirs gives the oracle's reading; level 3 stands for "no date at all".
function theirs(text) {
  for (const level of [0, 1, 2]) {
    try {
      return { level, date: oracle(text, { level }) }
    } catch { /* the next level */ }
  }
  return { level: 3 }
}

const isoDay = time => Number.isFinite(time) ? new Date(time).toISOString().slice(0, 10) : ''
const bound = (date, side) => { try { return isoDay(date[side]) } catch { return '' } }
const leap = y => (y % 4 === 0 && y % 100 !== 0) || y % 400 === 0
const falseLeapDay = text => [...text.matchAll(/(\d{4})-02-29/g)].some(m => !leap(Number(m[1])))

// Reasons for which we may refuse a text that the oracle takes at level 0 or 1.
const mayRefuse = [
  ['29 February of a year that has none (the oracle rolls it over)', (t) => falseLeapDay(t)],
  ['years outside 0001 to 9999 are refused by our own rule', (t, code) => code === 'date-year-out-of-range'],
  ['an interval that states no end says nothing', (t, code) => code === 'date-interval-says-nothing'],
  ['hour 24 is refused', t => /T24:00/.test(t)],
  ['a time of day needs seconds without a fraction, and no letters but Z', t => /T\d\d:\d\d(:\d\d\.\d+)?(Z|[+-]|$)/.test(t)],
  ['the format excludes times of day from intervals', t => /T.*\/|\/.*T/.test(t)],
  ['one or two unspecified digits of a year are level 1, more are not', t => /XXX/.test(t)],
  ['two or three digits alone are no date of this profile (the oracle takes a century or a decade)', t => /^\d{2,3}$/.test(t)],
  ['an offset is at most 14 hours', (t, code) => code === 'time-does-not-exist' && /[+-]\d\d(:\d\d)?$/.test(t)],
]
// Reasons for which we may read a text that the oracle refuses.
const mayRead = [
  ['an end inside the same month or year as the start is in order (2004-06-15/2004-06)', (t, our) => t.includes('/') && our.latest >= our.earliest],
]

const excused = new Map(), wrong = []
const excuse = reason => excused.set(reason, (excused.get(reason) ?? 0) + 1)
let agreed = 0, bothRead = 0

for (const our of ours) {
  const { level, date } = theirs(our.text)
  const weRead = our.code === undefined, theyRead = level <= 1
  const reason = (list, about) => list.find(([, test]) => test(our.text, about))?.[0]
  if (weRead !== theyRead) {
    const why = weRead ? reason(mayRead, our) : reason(mayRefuse, our.code)
    if (why) excuse(why)
    else wrong.push(`${JSON.stringify(our.text)}: ours ${weRead ? 'reads' : 'refuses (' + our.code + ')'}, theirs ${theyRead ? 'reads' : 'refuses'}`)
    continue
  }
  if (!weRead) { agreed++; continue }
  if (our.season) { excuse('the bounds of seasons are convention'); continue }
  const text = our.text, sides = text.split('/')
  const zoned = /T/.test(text)
  const earliest = sides[0] === '' || sides[0] === '..' ? '' : zoned ? text.slice(0, 10) : bound(date, 'min')
  const last = sides.at(-1)
  const latest = last === '' || last === '..' ? '' : zoned ? text.slice(0, 10)
    : sides.length === 2 ? bound(oracle(last), 'max') : bound(date, 'max')
  if (zoned) excuse('a date-time counts as the day that it was written with')
  if (our.level !== level || (our.earliest ?? '') !== earliest || (our.latest ?? '') !== latest) {
    wrong.push(`${JSON.stringify(text)}: ours level ${our.level}, ${our.earliest ?? 'no start'} to ${our.latest ?? 'no end'}; theirs level ${level}, ${earliest || 'no start'} to ${latest || 'no end'}`)
  } else { agreed++; bothRead++ }
}

console.log(`edtf: ${texts.length} texts, ${agreed} agree (${bothRead} are dates to both)`)
for (const [why, n] of excused) console.log(`edtf: ${n} excused: ${why}`)
for (const line of wrong.slice(0, 40)) console.error(`edtf: ${line}`)
if (wrong.length > 0) { console.error(`edtf: ${wrong.length} disagreements`); process.exit(1) }

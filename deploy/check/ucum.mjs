// Compares our units with the npm module @lhncbc/ucum-lhc 7.1.10: every code is
// a valid one, and every conversion within a kind gives the same number, to 1 in
// 10^10.

import { spawnSync } from 'node:child_process'
import { createRequire } from 'node:module'

const { UcumLhcUtils } = createRequire(import.meta.url)('@lhncbc/ucum-lhc')
const oracle = UcumLhcUtils.getInstance()

const ours = spawnSync('go', ['run', './deploy/check/ucum'], { encoding: 'utf8', maxBuffer: 1 << 26, stdio: ['ignore', 'pipe', 'inherit'] })
if (ours.status !== 0) throw new Error('our side does not run')
const conversions = ours.stdout.split('\n').filter(line => line !== '').map(line => JSON.parse(line))

const faults = []
const codes = new Set(conversions.map(c => c.from))
for (const code of codes) {
  const verdict = oracle.validateUnitString(code, true)
  if (verdict.status !== 'valid') faults.push(`${code}: ${verdict.status}: ${verdict.msg.join(' ')}`)
}
for (const { from, to, value, gives } of conversions) {
  const answer = oracle.convertUnitTo(from, value, to)
  if (answer.status !== 'succeeded') {
    faults.push(`${from} to ${to}: ${answer.msg.join(' ')}`)
  } else if (Math.abs(answer.toVal - gives) > 1e-10 * Math.max(Math.abs(gives), Math.abs(answer.toVal))) {
    faults.push(`${value} ${from}: we say ${gives} ${to}, the oracle ${answer.toVal}`)
  }
}

for (const fault of faults) console.error(`  ${fault}`)
console.log(`ucum: ${codes.size} codes, ${conversions.length} conversions, ${faults.length} differ`)
process.exitCode = faults.length === 0 && codes.size > 50 ? 0 : 1

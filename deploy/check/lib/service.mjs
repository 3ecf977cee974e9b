// Starts the demo on a database and a port of its own, for checks that need a
// running service, and ends it with the check.

import { spawn, spawnSync } from 'node:child_process'
import { chmodSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

// withService calls use({ url, key }) and ends the service whatever happens. The settings
// are of the service's environment.
export async function withService(use, settings = {}) {
  const folder = mkdtempSync(join(tmpdir(), 'meniscus-check-'))
  chmodSync(folder, 0o755) // the database runs as somebody else
  const program = join(folder, 'meniscus')
  const built = spawnSync('go', ['build', '-o', program, './cmd/meniscus'], { stdio: 'inherit' })
  if (built.status !== 0) throw new Error('the service does not build')
  const child = spawn(program, ['demo', '-dir', join(folder, 'demo')], {
    env: { ...process.env, MENISCUS_ADDRESS: '127.0.0.1:0', ...settings }, stdio: ['ignore', 'pipe', 'pipe'],
  })
  const ended = new Promise(resolve => child.once('exit', resolve))
  const stop = async () => {
    child.kill('SIGTERM')
    await ended
    rmSync(folder, { recursive: true, force: true })
  }
  try {
    return await use(await ready(child, ended))
  } finally {
    await stop()
  }
}

// ready reads the address and the key that the demo prints.
function ready(child, ended) {
  return new Promise((resolve, reject) => {
    let out = ''
    let errs = ''
    child.stderr.on('data', chunk => { errs += chunk })
    child.stdout.on('data', chunk => {
      out += chunk
      const url = /^ *export AT=(\S+)$/m.exec(out)?.[1]
      const key = /^ *export KEY=(\S+)$/m.exec(out)?.[1]
      if (url && key) resolve({ url, key })
    })
    ended.then(code => reject(new Error(`the demo ended with ${code}: ${errs}`)))
  })
}

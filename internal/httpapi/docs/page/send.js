// The form that sends an operation's request, and the answer that comes.

import { asText, code, el, folded, markdown, newId } from './elements.js'
import { examplesOf, found, keyOf, parametersOf, schemaOf } from './contract.js'
import { factsOf, typeOf } from './schema.js'

const MOST_SHOWN = 400_000 // characters of an answer; a file has them all
const service = new URL('.', document.baseURI).href.replace(/\/$/, '')
const keyField = document.getElementById('key-field')

// ---- The form ----

// requestForm sends what its fields say, and has the place of the answer below it.
export function requestForm(o, answers) {
  const form = {
    o,
    parameters: parametersOf(o).filter(p => p.in !== 'cookie').map(p => ({ ...p })),
    stop: el('button', { type: 'button', hidden: true }, 'Stop'),
    state: el('p', { role: 'status' }),
    out: el('div'),
  }
  const parameters = form.parameters.map(parameterField)
  const types = [...new Set(answers.flatMap(([, answer]) => Object.keys(answer.content ?? {})))]
  form.accept = choice(types.map(t => [t, t]))
  const yours = ['with ', el('a', { href: '#key-field' }, 'your key'), ', if you gave one']
  const withKey = keyOf(o.op).takes ? yours : 'without a key'
  const submit = event => { event.preventDefault(); send(form) }
  return [el('h4', null, 'Try it'),
    el('form', { submit, autocomplete: 'off' }, parameters, bodyFields(form, found(o.op.requestBody)),
      types.length > 1 && field('Answer as', form.accept),
      el('div', { class: 'send' }, el('button', { type: 'submit' }, 'Send'), form.stop, el('span', null, withKey))),
    form.state, form.out]
}

// field is a labelled control with what is said of it.
function field(label, control, said = []) {
  control.id = newId()
  const about = el('div', { id: newId() }, said)
  if (about.hasChildNodes()) control.setAttribute('aria-describedby', about.id)
  return el('div', { class: 'field' }, el('label', { for: control.id }, label), control, about)
}

const options = entries => entries.map(([value, words]) => el('option', { value }, words))
const choice = entries => el('select', null, options(entries))

function parameterField(p) {
  const s = found(schemaOf(p))
  const words = s.enum ?? (s.type === 'boolean' ? [true, false] : undefined)
  p.control = words ? choice([['', '(left out)'], ...words.map(w => [String(w), String(w)])])
    : el('input', { type: 'text', autocomplete: 'off', spellcheck: 'false' })
  p.control.name = p.name
  p.control.required = p.in === 'path' // without it, it would be another address
  const label = [p.name, ' ', el('span', { class: 'quiet' }, `${typeOf(s)}, ${p.in}${p.required ? ', required' : ''}`)]
  const one = field(label, p.control, [markdown(p.description ?? s.description), factsOf(s)])
  const make = () => { p.control.value = newKey() }
  if (p.name === 'Idempotency-Key') p.control.after(' ', el('button', { type: 'button', click: make }, 'Make one'))
  return one
}

function newKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), b => b.toString(16).padStart(2, '0')).join('')
}

// bodyFields are the media type where there are several, the example to begin with,
// and the body itself.
function bodyFields(form, body) {
  const types = Object.keys(body.content ?? {})
  if (types.length === 0) return []
  const examples = choice([])
  form.type = choice(types.map(t => [t, t]))
  form.body = el('textarea', { rows: 12, spellcheck: 'false', autocomplete: 'off' })
  const values = () => examplesOf(body.content[form.type.value])
  const fill = () => { form.body.value = examples.value === '' ? '' : asText(values()[examples.value][1].value) }
  const offer = () => {
    const named = values().map(([name, e], i) => [i, e.summary ?? name])
    examples.replaceChildren(...options([...named, ['', 'An empty body']]))
    fill()
  }
  form.type.addEventListener('change', offer)
  examples.addEventListener('change', fill)
  offer()
  return [types.length > 1 && field('Media type of the body', form.type), field('Begin with', examples),
    field(['Body', body.required && el('span', { class: 'quiet' }, ' required')], form.body)]
}

// ---- The request ----

// requestOf gives the address and what fetch needs.
function requestOf({ o, parameters, type, body, accept }) {
  const headers = new Headers(accept.value ? { Accept: accept.value } : {})
  const query = new URLSearchParams()
  let path = o.path
  for (const p of parameters) {
    const value = p.control.value.trim()
    if (value === '') continue
    const spread = found(schemaOf(p)).type === 'array' && p.explode !== false
    if (p.in === 'path') path = path.replaceAll(`{${p.name}}`, encodeURIComponent(value))
    else if (p.in === 'header') headers.set(p.name, value)
    else for (const v of spread ? value.split(',') : [value]) query.append(p.name, v.trim())
  }
  const key = keyField.value.trim()
  if (key !== '' && keyOf(o.op).takes) headers.set('Authorization', `Bearer ${key}`)
  const sent = body?.value ? body.value : undefined
  if (sent !== undefined) headers.set('Content-Type', type.value)
  const options = { method: o.method.toUpperCase(), headers, body: sent, credentials: 'omit', cache: 'no-store' }
  return [service + path + (query.size > 0 ? `?${query}` : ''), options]
}

async function send(form) {
  const { stop, state, out } = form
  form.stopper?.abort() // one at a time
  const { signal } = form.stopper = new AbortController()
  const tell = words => { if (form.stopper.signal === signal) state.textContent = words }
  const began = performance.now()
  stop.onclick = () => form.stopper.abort()
  stop.hidden = false
  out.replaceChildren()
  tell('Sent; waiting for the answer…')
  try {
    const [address, options] = requestOf(form)
    const response = await fetch(address, { ...options, signal })
    const status = `${response.status} ${response.statusText}`.trim()
    const size = await answer(response, out, () => tell(`${status}; what comes is shown as it comes.`))
    tell(`${status}, after ${Math.round(performance.now() - began)} ms, ${size}.`)
  } catch (error) {
    tell(signal.aborted ? 'Stopped.' : `No answer: ${error.message}`)
  }
  if (form.stopper.signal !== signal) return // another was sent meanwhile
  if (document.activeElement === stop) stop.previousSibling.focus() // what is hidden loses the focus
  stop.hidden = true
}

// ---- The answer ----

// answer shows the headers, and the body when it is whole, or as it comes where it
// has no end. It tells how long the body is.
async function answer(response, out, comes) {
  const type = (response.headers.get('Content-Type') ?? '').split(';')[0].trim()
  out.append(folded(null, 'Headers of the answer', () => el('dl', null, [...response.headers].map(([name, value]) =>
    el('div', null, el('dt', null, name), el('dd', null, value))))))
  if (type === 'text/event-stream') return stream(response, out, comes)
  const blob = await response.blob()
  if (blob.size === 0) return 'without a body'
  out.append(...await bodyOf(blob, type))
  return `${blob.size.toLocaleString('en')} bytes of ${type || 'no stated type'}`
}

async function stream(response, out, comes) {
  const shown = code('', 'Body of the answer')
  out.append(shown)
  comes()
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader()
  for (let next = await reader.read(); !next.done; next = await reader.read()) {
    shown.textContent = (shown.textContent + next.value).slice(-MOST_SHOWN)
  }
  return 'to its end'
}

// bodyOf shows text as text and a picture as a picture, whose scripts do not run, and
// offers the whole as a file.
async function bodyOf(blob, type) {
  const address = URL.createObjectURL(blob)
  const shown = [el('p', null, el('a', { href: address, download: 'answer' }, 'Save the answer'))]
  if (/^text\/|[/+](json|xml|yaml|x-ndjson)$/.test(type)) {
    const text = /[/+]json$/.test(type) ? laidOut(await blob.text()) : await blob.text()
    shown.unshift(code(text.slice(0, MOST_SHOWN), 'Body of the answer'))
    if (text.length > MOST_SHOWN) shown.push(el('p', null, `Only the first ${MOST_SHOWN} characters are shown.`))
  }
  const alt = 'The picture that was answered'
  if (type.startsWith('image/')) shown.unshift(el('img', { class: 'answer', src: address, alt }))
  return shown
}

// laidOut breaks JSON into lines. It works on the text, so that 20.00 keeps its digits.
function laidOut(json) {
  let depth = 0
  const line = () => `\n${'  '.repeat(depth)}`
  return json.replace(/"(?:[^"\\]|\\.)*"|\{\s*\}|\[\s*\]|[{}[\],:]|[^\s"{}[\],:]+|\s+/g, token => {
    switch (token[0]) {
      case '{': case '[': if (token.length > 1) return token[0] + token.at(-1); depth++; return token + line()
      case '}': case ']': depth = Math.max(0, depth - 1); return line() + token
      case ',': return token + line()
      case ':': return ': '
      default: return token.trim()
    }
  })
}

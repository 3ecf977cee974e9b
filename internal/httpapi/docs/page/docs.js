// The interactive reference: it fetches the contract (OpenAPI 3.1), lists its
// operations, and sends requests to the service that served this page, whatever
// server the contract names.
//
// What is inside an operation, an answer or a schema is made when it is opened, so
// that a long contract is listed at once.

import { el, folded, inline, markdown } from './elements.js'
import { contract, examplesOf, found, keyOf, operations, parametersOf, use } from './contract.js'
import { called, example, part, shape } from './schema.js'
import { requestForm } from './send.js'

const page = name => document.getElementById(name)

// ---- One operation ----

// row is an operation's line in the list.
function row(o) {
  const name = el('h3', null, el('span', { class: 'method' }, o.method.toUpperCase()), ' ', el('code', null, o.path))
  const needs = o.sent ? 'sent to you' : keyOf(o.op).short
  const summary = [name, ' ', o.op.summary ?? '', ' ', el('span', { class: 'needs' }, needs)]
  const toggle = () => { if (o.row.open) history.replaceState(null, '', `#${o.id}`) }
  o.row = folded({ class: 'operation', id: o.id, toggle }, summary, () => inside(o))
  o.words = [o.method, o.path, o.id, o.op.summary, o.op.description, o.op.tags, needs].join(' ').toLowerCase()
  return o.row
}

// inside is what an operation's line opens.
function inside(o) {
  const answers = Object.entries(o.op.responses ?? {}).map(([status, answer]) => [status, found(answer)])
  const isProblem = ([status]) => /^([45]|default)/.test(status)
  const good = answers.filter(a => !isProblem(a))
  return [
    o.op.deprecated && el('p', { class: 'note' }, 'Deprecated.'),
    markdown(o.op.description),
    el('p', null, o.sent ? 'This service sends it to the address of a webhook.' : keyOf(o.op).long,
      ' In generated clients: ', el('code', null, o.id), '.'),
    o.sent ? sentHeaders(o) : requestForm(o, good),
    bodyChapter(o),
    chapter('Answers', good),
    chapter('Problems', answers.filter(isProblem))]
}

// sentHeaders tells the parameters of what is sent to a reader's own address.
function sentHeaders(o) {
  const must = p => p.required && [' ', el('strong', null, 'required')]
  const list = parametersOf(o).map(p => el('li', null, el('code', null, p.name), must(p), markdown(p.description)))
  return list.length > 0 && [el('h4', null, 'Headers'), el('ul', { class: 'members' }, list)]
}

function bodyChapter(o) {
  const body = found(o.op.requestBody)
  const types = Object.entries(body.content ?? {})
  const told = types.map(([type, media]) => [content(type, media), o.sent && examples(media)])
  return types.length > 0 && [el('h4', null, 'What the body says'), markdown(body.description), told]
}

function chapter(title, answers) {
  return answers.length > 0 && [el('h4', null, title), el('ul', { class: 'members' }, answers.map(answerRow))]
}

// answerRow is a documented answer: its status and what it means; its media types
// and headers inside.
function answerRow([status, answer]) {
  const line = [el('strong', null, status), ' ', inline((answer.description ?? '').trim())]
  const types = Object.entries(answer.content ?? {})
  const headers = Object.entries(answer.headers ?? {})
  const carried = () => types.map(([type, media]) => [content(type, media), examples(media)])
  const header = ([name, h]) => el('li', null, el('code', null, name), markdown(found(h).description))
  return el('li', null, folded(null, line, () => [
    types.length > 0 ? carried() : el('p', null, 'It has no body.'),
    headers.length > 0 && [el('p', null, 'Headers:'), el('ul', { class: 'members' }, headers.map(header))]]))
}

// content is a media type with the schema of what it carries.
function content(type, media) {
  const schema = media.schema ?? {}
  return [el('p', null, el('code', null, type), ' ', el('span', { class: 'quiet' }, called(schema))), shape(schema)]
}

const examples = media => examplesOf(media).map(([name, e]) => example(`Example: ${e.summary ?? name}`, e.value))

// ---- The list ----

// groups puts operations under their first tag, in the contract's order of tags, and
// what is sent to webhooks under a heading of its own.
function groups(all) {
  const tagOf = o => (o.sent ? 'webhooks' : o.op.tags?.[0] ?? 'other')
  const said = new Map((contract.tags ?? []).map(tag => [tag.name, tag.description]))
  said.set('webhooks', 'What this service sends to an address of yours.')
  return [...new Set([...said.keys(), ...all.map(tagOf)])]
    .map(name => ({ name, said: said.get(name), operations: all.filter(o => tagOf(o) === name) }))
    .filter(g => g.operations.length > 0)
}

function section(group) {
  group.id = `group-${group.name.replace(/\W+/g, '-')}`
  group.section = el('section', { 'aria-labelledby': group.id },
    el('h2', { id: group.id }, group.name), markdown(group.said), group.operations.map(row))
  return group.section
}

// allSchemas lists the contract's schemas by name, made when it is opened.
function allSchemas() {
  const names = Object.keys(contract.components?.schemas ?? {}).sort()
  const entry = name => part(name, { $ref: `#/components/schemas/${name}` })
  const title = el('h2', null, `All ${names.length} schemas by name`)
  return folded(null, title, () => el('ul', { class: 'members' }, names.map(entry)))
}

// find leaves what has all the words that are looked for.
function find(shown, count) {
  const words = page('find-field').value.toLowerCase().split(/\s+/).filter(Boolean)
  let fit = 0
  for (const group of shown) {
    const fitting = group.operations.filter(o => words.every(w => o.words.includes(w)))
    for (const o of group.operations) o.row.hidden = !fitting.includes(o)
    group.section.hidden = fitting.length === 0
    fit += fitting.length
  }
  page('found').textContent = words.length > 0 ? `${fit} of ${count} operations` : `${count} operations`
}

// openNamed opens the operation that the address names.
function openNamed() {
  const target = page(decodeURIComponent(location.hash.slice(1)))
  if (!target?.classList.contains('operation') || target.open) return
  target.open = true
  target.fill()
  target.scrollIntoView()
  target.querySelector('summary').focus()
}

function tellKey() {
  const given = page('key-field').value.trim() !== ''
  const none = 'No key yet: only operations that need none will answer.'
  page('key-state').textContent = given ? 'Requests are sent with this key.' : none
}

page('key-field').addEventListener('input', tellKey)
page('key-show').addEventListener('change', event => {
  page('key-field').type = event.target.checked ? 'text' : 'password'
})
for (const form of document.forms) form.addEventListener('submit', event => event.preventDefault())

async function show() {
  const response = await fetch('docs/openapi.json')
  if (!response.ok) throw new Error(`docs/openapi.json answered ${response.status}`)
  use(await response.json())
  const all = operations()
  const shown = groups(all)
  const { summary, version, description } = contract.info ?? {}
  page('in-short').textContent = [summary, version && `Version ${version}.`].filter(Boolean).join(' ')
  page('about-text').replaceChildren(...markdown(description).flat(2))
  page('the-operations').replaceChildren(...shown.map(section), allSchemas())
  const links = shown.map(g => el('li', null, el('a', { href: `#${g.id}` }, g.name)))
  page('the-groups').replaceChildren(el('ul', null, links))
  for (const part of ['about-it', 'the-groups']) page(part).hidden = false
  page('find-field').addEventListener('input', () => find(shown, all.length))
  find(shown, all.length)
  addEventListener('hashchange', openNamed)
  openNamed()
}

show().catch(error => { page('in-short').textContent = `The contract could not be shown: ${error.message}.` })

// The view of a schema: a line for each of its parts, which are opened one by one, so
// that a schema that holds itself has an end.

import { asText, code, el, folded, markdown } from './elements.js'
import { found } from './contract.js'

// FACTS are what a keyword says in words.
const FACTS = {
  format: v => `format ${v}`,
  pattern: v => ['fits ', word(v)],
  default: v => [word(v), ' if left out'],
  minimum: v => `at least ${v}`,
  maximum: v => `at most ${v}`,
  exclusiveMinimum: v => `more than ${v}`,
  exclusiveMaximum: v => `less than ${v}`,
  minLength: v => (v === 1 ? 'not empty' : `at least ${v} characters`),
  maxLength: v => `at most ${v} characters`,
  minItems: v => (v === 1 ? 'not empty' : `at least ${v} items`),
  maxItems: v => `at most ${v} items`,
  uniqueItems: () => 'no two alike',
  minProperties: v => `at least ${v} members`,
  maxProperties: v => `at most ${v} members`,
  readOnly: () => 'only in answers',
  writeOnly: () => 'only in requests',
  deprecated: () => 'deprecated',
}

// PARTS are the keywords that are shown in other ways. One that is neither a fact nor
// a part is shown as it stands.
const PARTS = new Set(['named', '$defs', 'type', 'const', 'enum', 'title', 'description', 'example', 'examples',
  'discriminator', 'required', 'properties', 'patternProperties', 'additionalProperties', 'unevaluatedProperties',
  'items', 'prefixItems', 'oneOf', 'anyOf', 'allOf', 'not', 'if', 'then', 'else'])

const word = v => el('code', null, typeof v === 'string' ? v : JSON.stringify(v))
const joined = (things, between) => things.map((t, i) => [i > 0 && between, t])

// nameOf is the name by which a schema is referred to, else what it is.
const nameOf = schema => found(schema).named ?? typeOf(schema)

// called is a schema's name, if it has one, and what it is.
export const called = schema => [schema?.$ref !== undefined && [el('code', null, nameOf(schema)), ', '], typeOf(schema)]

// typeOf says in a few words what a value is.
export function typeOf(schema) {
  const s = found(schema)
  if (typeof s !== 'object') return s ? 'anything' : 'nothing'
  if ('const' in s) return JSON.stringify(s.const)
  const types = [s.type ?? (s.properties ? 'object' : s.items ? 'array' : [])].flat()
  const said = types.map(t => (t === 'array' ? `list${s.items ? ` of ${nameOf(s.items)}` : ''}` : t))
  if (said.length > 0) return said.join(' or ')
  if (s.oneOf || s.anyOf) return 'one of several forms'
  return s.enum ? 'one of the words' : s.allOf ? 'several forms at once' : 'anything'
}

// factsOf says in a line what holds of a value beside its type, or gives nothing.
export function factsOf(s) {
  const said = []
  if (exactlyOne(s)) said.push('minProperties', 'maxProperties')
  if (s.enum) said.push('minLength', 'maxLength', 'pattern')
  const facts = Object.entries(s)
    .filter(([k]) => !PARTS.has(k) && !k.startsWith('x-') && !said.includes(k))
    .map(([k, v]) => (FACTS[k] ? FACTS[k](v) : el('code', null, `${k}: ${JSON.stringify(v)}`)))
  if (s.enum) facts.unshift(['one of ', joined(s.enum.map(word), ', ')])
  if (s.discriminator) facts.push(['told apart by ', word(s.discriminator.propertyName)])
  return facts.length > 0 && el('p', { class: 'quiet' }, joined(facts, '; '))
}

// allowed are the members that an object may have: `false` forbids one.
const allowed = s => Object.entries(s.properties ?? {}).filter(([, member]) => member !== false)

// exactlyOne gives the members of which an object has exactly one, whether the contract
// counts its members or gives forms that each require one and may forbid the others.
function exactlyOne(s) {
  if (s.properties && s.minProperties === 1 && s.maxProperties === 1) return allowed(s)
  const forms = (s.oneOf ?? []).map(found)
  const single = f => f.required?.length === 1 && allowed(f).every(([name]) => name === f.required[0])
  if (forms.length < 2 || !forms.every(single)) return undefined
  return forms.map(({ required: [name], properties }) => {
    const own = properties?.[name]
    return [name, typeof own === 'object' ? own : s.properties?.[name] ?? true]
  })
}

// hasParts tells whether there is more to a value than a line says. A list of lists
// of lists has, however deep.
function hasParts(schema, depth = 0) {
  const s = found(schema)
  if (typeof s !== 'object') return false
  if (depth > 3 || SEVERAL.some(k => s[k])) return true
  return [s.items, s.additionalProperties, s.unevaluatedProperties].some(i => i && hasParts(i, depth + 1))
}

const SEVERAL = ['properties', 'prefixItems', 'patternProperties', 'oneOf', 'anyOf', 'allOf', 'not', 'if']

// shape shows one schema: what it means, what holds of it, and its parts.
export function shape(schema) {
  const s = found(schema)
  if (typeof s !== 'object') return []
  const examples = s.examples ?? (s.example === undefined ? [] : [s.example])
  return [markdown(s.description), factsOf(s), partsOf(s), examples.map(e => example('An example', e))]
}

// partsOf lists an object's members, a list's items and the forms of a choice.
function partsOf(s) {
  const one = exactlyOne(s)
  const required = s.required ?? []
  const others = allowed(s).filter(([name]) => !one?.some(([other]) => other === name))
  const lone = ([name, schema]) => (schema && typeof schema === 'object' ? [part(name, schema)] : [])
  const rest = [
    ...Object.entries(s.patternProperties ?? {}).map(([pattern, m]) => [`any member that fits ${pattern}`, m]),
    ['any other member', s.additionalProperties], ['any other member', s.unevaluatedProperties],
    ...(s.prefixItems ?? []).map((m, i) => [`item ${i + 1}`, m]), ['each item', plain(s.items) ? undefined : s.items],
    ['never', s.not], ['if', s.if], ['then', s.then], ['else', s.else]].flatMap(lone)
  return [
    group('', others.map(([name, m]) => part(name, m, required.includes(name)))),
    group('Exactly one of these members:', (one ?? []).map(([name, m]) => part(name, m))),
    group('Exactly one of these forms:', one ? [] : (s.oneOf ?? []).map(form)),
    group('At least one of these forms:', (s.anyOf ?? []).map(form)),
    group('All of these forms:', (s.allOf ?? []).map(form)),
    group('', rest)]
}

// plain schemas say nothing that the words `list of …` do not say.
function plain(schema) {
  const s = found(schema)
  return !hasParts(schema) && !s.description && !factsOf(s)
}

function group(words, entries) {
  return entries.length > 0 && [words && el('p', null, words), el('ul', { class: 'members' }, entries)]
}

// part is one member, with its own parts folded away.
export function part(name, schema, required) {
  const line = [el('code', null, name), ' ', el('span', { class: 'quiet' }, called(schema))]
  if (required) line.push(' ', el('strong', null, 'required'))
  return el('li', null, hasParts(schema) ? folded(null, line, () => shape(schema)) : [line, shape(schema)])
}

// form is one of several that a value may have, called by its title, its name, or
// the members that it must have.
function form(schema) {
  const s = found(schema)
  const must = (s.required ?? []).filter(name => s.properties?.[name] !== false)
  const line = s.title ?? s.named ?? (must.length > 0 ? `with ${must.join(', ')}` : typeOf(schema))
  return el('li', null, hasParts(schema) ? folded(null, line, () => shape(schema)) : [line, shape(schema)])
}

// example is a value, folded away.
export const example = (words, value) => folded(null, words, () => code(asText(value), words))

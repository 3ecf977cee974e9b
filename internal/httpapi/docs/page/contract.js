// The contract that is shown: its references, its operations, and what they need.

const METHODS = ['get', 'put', 'post', 'delete', 'options', 'head', 'patch', 'trace']

export let contract // the whole document

// use makes a document the contract.
export function use(document) { contract = document }

// found follows $ref. What stands beside one is kept; the last name is `named`.
export function found(thing) {
  for (let i = 0; thing?.$ref && i < 20; i++) {
    const { $ref, ...beside } = thing
    const steps = $ref.split('/').slice(1).map(s => decodeURIComponent(s).replaceAll('~1', '/').replaceAll('~0', '~'))
    const target = $ref.startsWith('#') ? steps.reduce((at, step) => at?.[step], contract) : undefined
    if (target === undefined) return { ...beside, description: `${$ref} is not in this contract.` }
    if (typeof target !== 'object') return target
    thing = { ...target, ...beside, named: steps.at(-1) }
  }
  return thing ?? {}
}

// examplesOf lists a media type's examples as [name, { summary, value }].
export function examplesOf(media) {
  const named = media.examples ?? (media.example === undefined ? {} : { example: { value: media.example } })
  return Object.entries(named).map(([name, example]) => [name, found(example)])
}

// operations lists what can be called, and what is sent to webhooks (`sent`), each
// { id, method, path, item, op, sent }.
export function operations() {
  const of = (paths, sent) => Object.entries(paths ?? {}).flatMap(([path, at]) => {
    const item = found(at)
    return METHODS.filter(m => item[m]).map(method =>
      ({ id: item[method].operationId ?? `${method}-${path}`, method, path, item, op: item[method], sent }))
  })
  return [...of(contract.paths, false), ...of(contract.webhooks, true)]
}

// parametersOf are an operation's parameters; its own go before those of its path.
export function parametersOf(o) {
  const all = [...(o.item.parameters ?? []), ...(o.op.parameters ?? [])].map(found)
  return [...new Map(all.map(p => [`${p.in} ${p.name}`, p])).values()]
}

// schemaOf is a parameter's schema.
export const schemaOf = p => p.schema ?? Object.values(p.content ?? {})[0]?.schema ?? {}

// keyOf says whether an operation takes a key, needs it, and with which scopes.
export function keyOf(op) {
  const ways = op.security ?? contract.security ?? []
  const named = ways.filter(w => Object.keys(w).length > 0)
  const takes = named.length > 0
  const scopes = [...new Set(named.flatMap(w => Object.values(w).flat()))]
  const carries = scopes.length > 0 ? `the ${scopes.length > 1 ? 'scopes' : 'scope'} ${listed(scopes)}` : ''
  if (takes && named.length === ways.length) {
    const short = scopes.length > 0 ? `key: ${scopes.join(' + ')}` : 'key'
    return { takes, short, long: `Needs a key${carries && ` with ${carries}`}.` }
  }
  const sent = takes ? ` One that is sent must be in force${carries && ` and carry ${carries}`}.` : ''
  return { takes, short: 'no key', long: `Needs no key.${sent}` }
}

function listed(words) {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`
}

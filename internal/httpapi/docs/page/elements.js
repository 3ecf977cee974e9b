// Elements, and the little Markdown that the contract's texts have. Every text becomes
// a text node: none of it is read as HTML.

// el makes an element. An attribute that is a function listens to the event of its
// name; true is an attribute without a value, and one that is false or missing is
// left out. Children may be lists of lists; those that are false or missing are left
// out too.
export function el(tag, attributes, ...children) {
  const node = document.createElement(tag)
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (typeof value === 'function') node.addEventListener(name, value)
    else if (value !== undefined && value !== false) node.setAttribute(name, value === true ? '' : value)
  }
  node.append(...children.flat(Infinity).filter(c => c !== undefined && c !== false))
  return node
}

// folded is a part that is made by build() when it is opened for the first time.
export function folded(attributes, summary, build) {
  const details = el('details', attributes, el('summary', null, summary))
  const fill = () => {
    if (details.open && details.children.length === 1) details.append(el('div', { class: 'inside' }, build()))
  }
  details.addEventListener('toggle', fill)
  details.fill = fill // for who opens it and cannot wait for the event
  return details
}

let ids = 0
export const newId = () => `made-${++ids}`

// code is a block that scrolls, so the keyboard must reach it.
export const code = (text, label) => el('pre', { tabindex: 0, role: 'group', 'aria-label': label }, text)

// asText is a value of an example as it is sent.
export const asText = value => (typeof value === 'string' ? value : JSON.stringify(value, null, 2))

// markdown reads fenced code, lists and paragraphs.
export function markdown(text) {
  const pieces = (text ?? '').split(/^```.*\n([\s\S]*?)^```[^\S\n]*$/m) // every other one is code
  const blocks = piece => piece.trim().split(/\n\s*\n/).filter(Boolean).map(block)
  return pieces.map((piece, i) => (i % 2 === 1 ? code(piece, 'Code') : blocks(piece)))
}

const ITEM = /^\s*(?:[-*]|\d+\.) /

function block(text) {
  const items = text.split(/\n(?=\s*(?:[-*]|\d+\.) )/)
  if (!items.every(i => ITEM.test(i))) return el('p', null, inline(text.replace(/^#+ /, '')))
  return el('ul', null, items.map(i => el('li', null, inline(i.replace(ITEM, '')))))
}

const INLINE = /`([^`]+)`|\*\*([^*]+)\*\*|\[([^\]]+)\]\(([^)\s]+)\)|<(https?:[^\s>]+)>/g

// inline reads code, strong words and links in a line.
export function inline(text) {
  const out = []
  let from = 0
  for (const m of text.matchAll(INLINE)) {
    out.push(text.slice(from, m.index))
    if (m[1]) out.push(el('code', null, m[1]))
    else if (m[2]) out.push(el('strong', null, inline(m[2])))
    else out.push(link(m[4] ?? m[5], m[3] ?? m[5]))
    from = m.index + m[0].length
  }
  return [...out, text.slice(from)]
}

// link leads to the web and to places of this service; anything else stays a word.
function link(href, words) {
  return /^(https?:|#|\/|[\w.-]+(\/|#|$))/.test(href) ? el('a', { href, rel: 'noreferrer' }, words) : words
}

// Checks everything that the service publishes as linked data with other
// people's tools: jsonld in safe mode (a term that would be dropped is a fault)
// with a loader that reads from disk and refuses all else, SHACL shapes
// (deploy/check/shapes), and JSON Schemas for the parts of Linked Art that apply.
//
// Looked at are the documents in testdata/golden/publish and every JSON-LD
// example of the contract. Then good documents are broken on purpose: each
// mutant must be refused, and each constraint of the shapes must refuse one.

import { readFileSync, readdirSync } from 'node:fs'
import { createRequire } from 'node:module'

const require = createRequire(import.meta.url)
const jsonld = require('jsonld')
const { parse } = require('yaml')
const { Parser } = require('n3')
const Ajv = require('ajv/dist/2020').default
const formats = require('ajv-formats').default
const { default: rdf } = await import('@zazuko/env')
const { default: Validator } = await import('rdf-validate-shacl')

const golden = 'testdata/golden/publish'
const json = path => JSON.parse(readFileSync(path, 'utf8'))

const contexts = { 'https://linked.art/ns/v1/linked-art.json': json('internal/publish/data/linked-art-context.json') }
const documentLoader = async url => {
  if (!contexts[url]) throw new Error(`refused to fetch ${url}`)
  return { contextUrl: null, documentUrl: url, document: contexts[url] }
}

async function quadsOf(document) {
  const text = await jsonld.canonize(document, { algorithm: 'RDFC-1.0', format: 'application/n-quads', safe: true, documentLoader })
  return new Parser({ format: 'N-Quads' }).parse(text)
}

const vocabularies = {}
for (const name of ['crm', 'prov', 'vocabulary']) {
  const shapes = rdf.dataset(new Parser().parse(readFileSync(`deploy/check/shapes/${name}.ttl`, 'utf8')))
  const constraints = new Set([...shapes.match(null, rdf.namedNode('http://www.w3.org/ns/shacl#property'))].map(q => q.object.value))
  vocabularies[name] = { validator: new Validator(shapes, { factory: rdf }), constraints, struck: new Set() }
}

const ajv = formats(new Ajv({ allErrors: true, strict: true, allowUnionTypes: true }))
ajv.addSchema(json('deploy/check/linked-art.schema.json'), 'linked-art')
const part = name => ajv.getSchema(`linked-art#/$defs/${name}`)

// faultsOf gives what is wrong with a document, each fault with the tool that
// found it, and the constraints that refused it.
async function faultsOf(name, document) {
  const faults = [], struck = []
  let quads
  try {
    quads = await quadsOf(document)
  } catch (error) {
    return { faults: [`jsonld: ${error.message} ${error.details?.event?.message ?? ''}`], struck, count: 0 }
  }
  if (quads.length === 0) faults.push('jsonld: the document says nothing')
  for (const q of quads) {
    if (q.predicate.value === 'http://www.w3.org/ns/prov#wasDerivedFrom' && q.subject.equals(q.object)) faults.push(`prov: ${q.subject.value} is derived from itself`)
  }
  const report = await vocabularies[name].validator.validate(rdf.dataset(quads))
  for (const result of report.results) {
    const shape = result.sourceShape?.value ?? ''
    struck.push(shape)
    faults.push(`shacl: ${result.focusNode?.value} breaks ${shape} (${result.sourceConstraintComponent?.value.split('#')[1]})`)
  }
  if (name === 'crm') {
    for (const [kind, items] of [['Identifier', document.identified_by], ['Modification', document.modified_by]]) {
      for (const item of items ?? []) {
        if (!part(kind)(item)) faults.push(...part(kind).errors.map(e => `linked-art: ${kind}${e.instancePath} ${e.message}`))
      }
    }
  }
  return { faults, struck, count: quads.length }
}

// Every golden document, and every JSON-LD example of the contract.
const documents = []
for (const name of Object.keys(vocabularies)) {
  for (const file of readdirSync(`${golden}/${name}`)) documents.push({ name, from: `${golden}/${name}/${file}`, document: json(`${golden}/${name}/${file}`) })
}
const contract = parse(readFileSync('api/openapi.yaml', 'utf8'))
let examples = 0
for (const [path, item] of Object.entries(contract.paths)) {
  const media = item.get?.responses?.['200']?.content?.['application/ld+json']
  for (const [title, example] of Object.entries(media?.examples ?? {})) {
    examples++
    const name = path.startsWith('/vocabulary') ? 'vocabulary' : path.endsWith('/provenance') ? 'prov' : 'crm'
    documents.push({ name, from: `example ${title} of ${path}`, document: example.value })
  }
}
const problems = []
if (examples === 0) problems.push('the contract has no JSON-LD example')

let quads = 0
for (const { name, from, document } of documents) {
  const { faults, count } = await faultsOf(name, document)
  quads += count
  for (const fault of faults) problems.push(`${from}: ${fault}`)
}

// Mutants: a good document, broken in one way.
const good = { crm: json(`${golden}/crm/skull.jsonld`), prov: json(`${golden}/prov/skull-states.jsonld`), vocabulary: json(`${golden}/vocabulary/vocabulary.jsonld`) }
const consolidation = d => d.modified_by.find(m => m._label.startsWith('Consolidation'))
const looked = d => d.attributed_by[0]
const node = (d, test) => d.graph.find(test)
const treated = d => node(d, n => n.type === 'Activity' && n.label.startsWith('Consolidation'))
const made = d => node(d, n => n.label === 'B-0311')
const recorded = d => node(d, n => n.wasRevisionOf)
const use = d => treated(d).qualifiedUsage[0]
const concept = d => node(d, n => n.exactMatch)
const property = d => node(d, n => n.type === 'Property')
const nowhere = 'https://meniscus.example/nowhere'
const mutants = {
  crm: {
    'a key that the context lacks': d => { d.colour = 'brown' },
    'a context from elsewhere': d => { d['@context'] = 'https://elsewhere.example/context.json' },
    'a specimen that is an activity': d => { d.type = 'Modification' },
    'a specimen without a name': d => { delete d._label },
    'modified by an assessment': d => { d.modified_by.push({ ...looked(d), id: nowhere }) },
    'attributed by a modification': d => { d.attributed_by.push({ ...consolidation(d), id: nowhere }) },
    'a modification of nothing': d => { const [lost] = d.modified_by.splice(0, 1); d.referred_to_by = [lost] },
    'a modification without a name': d => { delete consolidation(d)._label },
    'a modification without an identifier': d => { delete consolidation(d).identified_by },
    'no technique': d => { delete consolidation(d).technique },
    'a material that is a person': d => { consolidation(d).employed[0].type = 'Person' },
    'a batch that is a kind of material': d => { consolidation(d).used_specific_object[0].type = 'Material' },
    'carried out by a material': d => { Object.assign(consolidation(d).carried_out_by[0], { id: nowhere, type: 'Material' }) },
    'two time-spans': d => { consolidation(d).timespan = [consolidation(d).timespan, { ...consolidation(d).timespan, end_of_the_end: '2030-01-01T00:00:00Z' }] },
    'a day without a time': d => { consolidation(d).timespan.begin_of_the_begin = '2024-03-12' },
    'an end that is a word': d => { consolidation(d).timespan.end_of_the_end = 'soon' },
    'an end before the beginning': d => { consolidation(d).timespan.end_of_the_end = '1984-01-01T00:00:00Z' },
    'a time-span without the date as written': d => { delete consolidation(d).timespan.identified_by },
    'an identifier without content': d => { delete d.identified_by[0].content },
    'an identifier with a key too many': d => { d.identified_by[0].id = nowhere },
    'an assessment of nothing': d => { const lost = looked(d); delete d.attributed_by; d.referred_to_by = [lost] },
    'an assessment that assigns nothing': d => { delete looked(d).assigned },
    'an assessment of no property': d => { delete looked(d).assigned_property },
    'a type without a name': d => { delete consolidation(d).technique[0]._label },
    'a reference with a key too many': d => { consolidation(d).carried_out_by[0].content = 'x' },
  },
  prov: {
    'a key that the context lacks': d => { treated(d).colour = 'brown' },
    'an activity without a name': d => { delete treated(d).label },
    'an activity that used nothing': d => { delete treated(d).used },
    'used a person': d => { treated(d).used.push('https://orcid.org/9999-1234-5678-9011') },
    'a year padded to no instant': d => { treated(d).startedAtTime = '1984' },
    'an end that is a word': d => { treated(d).endedAtTime = 'soon' },
    'an end before the beginning': d => { treated(d).endedAtTime = '1984-01-01T00:00:00Z' },
    'associated with an entity': d => { treated(d).wasAssociatedWith.push(made(d).id) },
    'a usage of no kind': d => { delete use(d).type },
    'an association of no kind': d => { delete treated(d).qualifiedAssociation[0].type },
    'two dates': d => { treated(d).date = ['2024-03-12', '2024-03-13'] },
    'informed by a text': d => { d['@context'].wasInformedBy = { '@id': 'prov:wasInformedBy' }; treated(d).wasInformedBy = 'the earlier one' },
    'an entity without a name': d => { delete made(d).label },
    'generated twice': d => { d['@context'].wasGeneratedBy['@container'] = '@set'; made(d).wasGeneratedBy = [made(d).wasGeneratedBy, treated(d).id] },
    'invalidated twice': d => { const n = node(d, n => n.wasInvalidatedBy); n.wasInvalidatedBy = [n.wasInvalidatedBy, made(d).wasGeneratedBy] },
    'derived from an activity': d => { made(d).wasDerivedFrom.push(treated(d).id) },
    'derived from itself': d => { made(d).wasDerivedFrom.push(made(d).id) },
    'a state of two specimens': d => { const n = node(d, n => n.specializationOf); n.specializationOf = [n.specializationOf, made(d).id] },
    'a revision of an activity': d => { recorded(d).wasRevisionOf = [treated(d).id] },
    'attributed to an entity': d => { recorded(d).wasAttributedTo = [made(d).id] },
    'recorded at a day': d => { recorded(d).generatedAtTime = '2026-03-02' },
    'a record of two things': d => { recorded(d).describes = [recorded(d).describes, made(d).id] },
    'a usage of nothing': d => { delete use(d).entity },
    'two roles': d => { use(d).hadRole = [use(d).hadRole, nowhere] },
    'an amount of no kind': d => { delete use(d).amount.type },
    'an association with nobody': d => { delete treated(d).qualifiedAssociation[0].agent },
    'a plan that is a batch': d => { treated(d).qualifiedAssociation[0].hadPlan = made(d).id },
    'a number that is a word': d => { use(d).amount.value = 'much' },
    'an amount without a unit': d => { delete use(d).amount.unit },
    'a strength without its basis': d => { delete made(d).strength.basis },
  },
  vocabulary: {
    'a concept without a label': d => { delete concept(d).prefLabel },
    'a concept without a definition': d => { delete concept(d).definition },
    'a concept of no scheme': d => { delete concept(d).inScheme },
    'two exact matches': d => { concept(d).exactMatch = [concept(d).exactMatch, nowhere] },
    'two broad matches': d => { const n = node(d, n => n.broadMatch); n.broadMatch = [n.broadMatch, nowhere] },
    'a match that nobody answers for': d => { delete concept(d).editorialNote },
    'a property without a label': d => { delete property(d).label },
    'a property without a comment': d => { delete property(d).comment },
  },
}

let killed = 0
for (const [name, list] of Object.entries(mutants)) {
  for (const [title, mutate] of Object.entries(list)) {
    const mutant = structuredClone(good[name])
    mutate(mutant)
    const { faults, struck } = await faultsOf(name, mutant)
    if (faults.length === 0) problems.push(`${name}: ${title}: the mutant was not refused`)
    else killed++
    for (const shape of struck) vocabularies[name].struck.add(shape)
  }
  for (const constraint of vocabularies[name].constraints) {
    if (!vocabularies[name].struck.has(constraint)) problems.push(`${constraint}: no mutant was refused by it`)
  }
}

for (const problem of problems) console.error(`linked-data: ${problem}`)
console.log(`linked-data: ${documents.length} documents (${examples} of them examples of the contract), ${quads} statements; ${killed} mutants refused; ${problems.length} findings`)
process.exitCode = problems.length === 0 ? 0 : 1

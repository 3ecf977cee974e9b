// The main job with openapi-fetch, over the types that openapi-typescript makes.

import createClient from 'openapi-fetch'
import type { paths } from './contract.js'
import { at, found, key, period, recipe, reduced, say, settled, statements, threeCoats, want, type Answered } from './job.js'

const api = createClient<paths>({ baseUrl: at, headers: { Authorization: `Bearer ${key}` } })
const run = statements(`fetch-${Date.now()}`)
let answers = 0
const took = <T>(what: string, answer: Answered<T>): T => {
  answers++
  return want(what, answer)
}

if (!took('the recipe', await api.POST('/v1/compute/make-up', { body: recipe })).steps.length) throw new Error('the recipe has no steps')

const supply = async (material: string) => took('a supply', await api.POST('/v1/supplies', { body: run.supply(material) })).id
const resin = await supply('ethyl-methacrylate-methyl-acrylate-copolymer')
const solvent = await supply('acetone')
const batch = took('the batch', await api.POST('/v1/batches', { body: run.batch(resin, solvent) })).id
const filled = took('the bottle', await api.POST('/v1/batches/{batchId}/bottles', {
  params: { path: { batchId: batch }, header: { 'Idempotency-Key': `${run.number}/bottles` } }, body: run.bottles(),
}))
const bottle = filled.items[0]?.id ?? ''

const specimen = took('the specimen', await api.POST('/v1/specimens', { body: run.specimen() })).id
found(took('the lookup', await api.GET('/v1/specimen-lookup', { params: { query: { number: run.number } } })), specimen)

const treatment = took('the treatment', await api.POST('/v1/treatments', { body: run.treatment(specimen, bottle) })).id
threeCoats(took('the amendment', await api.POST('/v1/records/{recordId}/amendments', {
  params: { path: { recordId: treatment }, header: { 'If-Match': '*' } },
  headers: { 'Content-Type': 'application/merge-patch+json' }, body: run.corrected,
})))
took('the removal', await api.POST('/v1/treatments', { body: run.removal(specimen, treatment) }))

reduced(took('the present state', await api.GET('/v1/specimens/{specimenId}/present-state', { params: { path: { specimenId: specimen } } })), treatment)
await settled(async () => want('the report', await api.GET('/v1/reports/reversible-treatments', { params: { query: period } })), treatment)

say(`TypeScript, openapi-typescript and openapi-fetch: ${answers + 1} answers`)

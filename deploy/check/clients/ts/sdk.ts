// The main job with the client that @hey-api/openapi-ts makes.

import { createClient } from './sdk/client/index.js'
import * as api from './sdk/index.js'
import { at, found, key, period, recipe, reduced, say, settled, statements, threeCoats, want, type Answered } from './job.js'

const client = createClient({ baseUrl: at, auth: key })
const run = statements(`sdk-${Date.now()}`)
let answers = 0
const took = <T>(what: string, answer: Answered<T>): T => {
  answers++
  return want(what, answer)
}

if (!took('the recipe', await api.computeMakeUp({ client, body: recipe })).steps.length) throw new Error('the recipe has no steps')

const supply = async (material: string) => took('a supply', await api.createSupply({ client, body: run.supply(material) })).id
const resin = await supply('ethyl-methacrylate-methyl-acrylate-copolymer')
const solvent = await supply('acetone')
const batch = took('the batch', await api.createBatch({ client, body: run.batch(resin, solvent) })).id
const filled = took('the bottle', await api.fillBottles({
  client, path: { batchId: batch }, headers: { 'Idempotency-Key': `${run.number}/bottles` }, body: run.bottles(),
}))
const bottle = filled.items[0]?.id ?? ''

const specimen = took('the specimen', await api.createSpecimen({ client, body: run.specimen() })).id
found(took('the lookup', await api.lookUpSpecimen({ client, query: { number: run.number } })), specimen)

const treatment = took('the treatment', await api.createTreatment({ client, body: run.treatment(specimen, bottle) })).id
threeCoats(took('the amendment', await api.amendRecord({
  client, path: { recordId: treatment }, headers: { 'If-Match': '*' },
  body: { reason: run.corrected.reason, statement: { ...run.treatment(specimen, bottle).statement, coats: 3 } },
})))
took('the removal', await api.createTreatment({ client, body: run.removal(specimen, treatment) }))

reduced(took('the present state', await api.readPresentState({ client, path: { specimenId: specimen } })), treatment)
await settled(async () => want('the report', await api.reportReversibleTreatments({ client, query: period })), treatment)

say(`TypeScript, @hey-api/openapi-ts: ${answers + 1} answers`)

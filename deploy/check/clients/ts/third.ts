// The main job, as far as a treatment, with the client that swagger-typescript-api makes.

import { Api } from './third/api.js'
import { at, found, key, recipe, say, statements, threeCoats } from './job.js'

const { v1 } = new Api({ baseUrl: at, baseApiParams: { headers: { Authorization: `Bearer ${key}` } } })
const run = statements(`third-${Date.now()}`)

if (!(await v1.computeMakeUp(recipe)).data) throw new Error('there is no recipe')
const supply = async (material: string) => (await v1.createSupply(run.supply(material))).data.id
const resin = await supply('ethyl-methacrylate-methyl-acrylate-copolymer')
const batch = (await v1.createBatch(run.batch(resin, await supply('acetone')))).data.id
const specimen = (await v1.createSpecimen(run.specimen())).data.id
found((await v1.lookUpSpecimen({ number: run.number })).data, specimen)
const treated = run.treatment(specimen, batch)
const treatment = (await v1.createTreatment(treated)).data
threeCoats((await v1.amendRecord(treatment.id, { reason: run.corrected.reason, statement: { ...treated.statement, coats: 3 } }, {},
  { headers: { 'If-Match': '*' } })).data)
say(`TypeScript, swagger-typescript-api: a ${treatment.kind}, amended`)

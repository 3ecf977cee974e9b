// The main job as statements, held to what openapi-typescript makes of
// the contract. Both clients send them, so what the two generators make of one
// schema has to agree.

import type { components } from './contract.js'

type Schemas = components['schemas']

declare const process: { env: Record<string, string | undefined>, stdout: { write(text: string): void } }

export const at = process.env['AT'] ?? ''
export const key = process.env['KEY'] ?? ''
export const period = { from: '2026-02-01', until: '2026-02-28' }
export const say = (line: string): void => process.stdout.write(`${line}\n`)

// Answered is what a client gives; an answer may also be had as text, which nobody asks for here.
export type Answered<T> = { data?: T | string | undefined, error?: unknown }

// want gives the answer, or ends the job with the problem.
export function want<T>(what: string, { data, error }: Answered<T>): T {
  if (data === undefined || typeof data === 'string') throw new Error(`${what} was answered ${data ?? JSON.stringify(error)}`)
  return data
}

export const recipe = {
  resin: { solid: { material: 'ethyl-methacrylate-methyl-acrylate-copolymer' } },
  solvent: { liquid: { material: 'acetone' } },
  strength: { value: 20, unit: 'g/dL', basis: 'mass-per-solution-volume' },
  amount: { finished: { value: 150, unit: 'mL' } },
} satisfies Schemas['MakeUpRequest']

// A run's statements carry its name, and so do its source records: sent twice,
// they make one record each.
export function statements(run: string) {
  const source = (name: string) => ({ system: 'clients-check', recordId: `${run}/${name}` })
  return {
    number: `LV.${run}`,
    supply: (material: string) => ({
      source: source(material), statement: { code: `${run}/${material}`, material: { id: material } },
    } satisfies Schemas['SupplyCreate']),
    batch: (resin: string, solvent: string) => ({
      source: source('batch'),
      statement: {
        code: `${run}/B`, kind: 'solution', made: { edtf: '2026-02-02' },
        inputs: [
          { from: { supply: { id: resin } }, part: 'solute', amount: { quantity: { value: 30.1, unit: 'g' } } },
          { from: { supply: { id: solvent } }, part: 'solvent', amount: { quantity: { value: 97.9, unit: 'g' } } },
        ],
        finished: { quantity: { value: 150, unit: 'mL' } },
      },
    } satisfies Schemas['BatchCreate']),
    bottles: () => ({
      filled: { edtf: '2026-02-03' }, bottles: [{ code: `${run}/B-1`, amount: { value: 40, unit: 'mL' } }],
    } satisfies Schemas['BottlesRequest']),
    specimen: () => ({
      source: source('specimen'),
      statement: { identifiers: [{ kind: 'catalogue-number', value: `LV.${run}` }], bodyKind: 'bone', areas: [{ path: 'shaft' }] },
    } satisfies Schemas['SpecimenCreate']),
    treatment: (specimen: string, bottle: string) => ({
      source: source('treatment'),
      statement: {
        specimen: { id: specimen }, action: 'consolidation', areas: { paths: ['shaft'] }, method: 'brush', coats: 2,
        dates: { edtf: '2026-02-04' }, people: [{ person: { name: 'Ilse Varga' }, part: 'carried-out' }],
        materials: [{ used: { batch: { id: bottle } }, role: 'consolidant' }],
      },
    } satisfies Schemas['TreatmentCreate']),
    corrected: { reason: 'The card says three coats, by no tool that it names.', statement: { coats: 3, method: null } satisfies Schemas['TreatmentPatch'] },
    removal: (specimen: string, treatment: string) => ({
      source: source('removal'),
      statement: {
        specimen: { id: specimen }, action: 'removal', areas: { paths: ['shaft'] }, method: 'swab',
        dates: { edtf: '2026-03' }, removal: { treatments: [{ id: treatment }], left: 'reduced' },
      },
    } satisfies Schemas['TreatmentCreate']),
  }
}

// threeCoats holds an amendment to what it was to change.
export function threeCoats(record: Schemas['Record']): void {
  const told = record.changed?.items.map(c => `${c.pointer} ${c.change}`).sort().join(', ')
  if (record.kind !== 'treatment' || record.statement?.coats !== 3 || !told?.startsWith('/coats replaced')) {
    throw new Error(`the treatment was not amended: ${JSON.stringify(record)}`)
  }
}

export function found(lookup: Schemas['LookupAnswer'], specimen: string): void {
  if (lookup.specimens.length !== 1 || lookup.specimens[0]?.specimen.id !== specimen) {
    throw new Error(`the number was not found: ${JSON.stringify(lookup)}`)
  }
}

export function reduced(state: Schemas['PresentState'], treatment: string): void {
  const layers = state.areas.filter(a => a.area === 'shaft').flatMap(a => a.layers)
  if (!layers.some(l => l.treatment.id === treatment && l.state === 'reduced')) {
    throw new Error(`the layer is not reduced: ${JSON.stringify(state)}`)
  }
}

// settled waits until the report has looked at what was recorded. The contract
// offers it as a table too, so one generator calls it text or members.
export async function settled(read: () => Promise<Schemas['ReversibleTreatments'] | string>, treatment: string): Promise<void> {
  const until = Date.now() + 30_000
  for (;;) {
    const report = await read()
    if (typeof report === 'string') throw new Error('the report came as a table')
    if (report.remainder.notComputed > 0 && Date.now() < until) {
      await new Promise(resolve => setTimeout(resolve, 100))
      continue
    }
    if (report.items.some(i => i.treatment.id === treatment)) return
    throw new Error(`the report lacks the treatment: ${JSON.stringify(report)}`)
  }
}

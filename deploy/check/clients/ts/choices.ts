// What the compiler has to refuse, with the types of each generator: a choice of no
// member, and of two. A record narrows by its kind. An amendment is of some kind.

import type { components } from './contract.js'
import type * as sdk from './sdk/types.gen.js'
import type * as third from './third/api.js'

type Schemas = components['schemas']

const jar = { id: '0193a5b4-0000-7000-8000-000000000001' }
const millilitres = { value: 150, unit: 'mL' }
const unknown = 'unknown' as const

export const one: [Schemas['Used'], sdk.Used, third.Used] = [{ batch: jar }, { batch: jar }, { batch: jar }]
export const dated: [Schemas['AnswerableDate'], sdk.AnswerableDate, third.AnswerableDate] = [
  { edtf: '2026-02' }, { answer: unknown }, { edtf: '2026-02' }]

// @ts-expect-error a choice has a member
export const usedNone: Schemas['Used'] = {}
// @ts-expect-error a choice has a member
export const usedNoneSdk: sdk.Used = {}
// @ts-expect-error a choice has a member
export const usedNoneThird: third.Used = {}
// @ts-expect-error a choice has one member
export const usedTwo: Schemas['Used'] = { batch: jar, supply: jar }
// @ts-expect-error a choice has one member
export const usedTwoSdk: sdk.Used = { batch: jar, supply: jar }
// @ts-expect-error a choice has one member
export const usedTwoThird: third.Used = { batch: jar, supply: jar }

// @ts-expect-error an amount has a member
export const amountNone: Schemas['AskedAmount'] = {}
// @ts-expect-error an amount has a member
export const amountNoneSdk: sdk.AskedAmount = {}
// @ts-expect-error an amount has a member
export const amountNoneThird: third.AskedAmount = {}
// @ts-expect-error an amount has one member
export const amountTwo: Schemas['AskedAmount'] = { finished: millilitres, solvent: millilitres }
// @ts-expect-error an amount has one member
export const amountTwoSdk: sdk.AskedAmount = { finished: millilitres, solvent: millilitres }
// @ts-expect-error an amount has one member
export const amountTwoThird: third.AskedAmount = { finished: millilitres, solvent: millilitres }

// @ts-expect-error a date is a date, or why there is none
export const dateTwo: Schemas['AnswerableDate'] = { edtf: '2026', answer: unknown }
// @ts-expect-error a date is a date, or why there is none
export const dateTwoSdk: sdk.AnswerableDate = { edtf: '2026', answer: unknown }
// @ts-expect-error a date is a date, or why there is none
export const dateTwoThird: third.AnswerableDate = { edtf: '2026', answer: unknown }

// @ts-expect-error a computation of vapour is asked one thing
export const vapourNone: Schemas['VapourRequest'] = {}
// @ts-expect-error a computation of vapour is asked one thing
export const vapourNoneSdk: sdk.VapourRequest = {}
// @ts-expect-error a computation of vapour is asked one thing
export const vapourNoneThird: third.VapourRequest = {}

// A change's record is of one kind, and its statement of that kind: no casts.
export const specimenOf = (change: Schemas['Change']): string | undefined =>
  change.record.kind === 'treatment' ? change.record.statement?.specimen.id : undefined
export const actionOf = (change: sdk.Change): sdk.Action | undefined =>
  change.record.kind === 'treatment' ? change.record.statement?.action : undefined
export const nameOf = (change: third.Change): string | undefined =>
  change.record.kind === 'person' ? change.record.statement?.name : undefined
// @ts-expect-error a specimen's statement has no action
export const wrong = (change: Schemas['Change']) => change.record.kind === 'specimen' ? change.record.statement?.action : undefined

// A patch is of one kind's members, each of its type, with null for what is taken away.
export const patched: [Schemas['TreatmentPatch'], sdk.TreatmentPatch, third.TreatmentPatch] = [
  { coats: 3, method: null }, { coats: 3, purpose: { text: 'Flaking' } }, { remarks: null }]
// @ts-expect-error coats are a number
export const patchedWrong: Schemas['TreatmentPatch'] = { coats: 'three' }
// @ts-expect-error coats are a number
export const patchedWrongSdk: sdk.TreatmentPatch = { coats: 'three' }
// @ts-expect-error coats are a number
export const patchedWrongThird: third.TreatmentPatch = { coats: 'three' }
// What is inside a member is patched in the same way: null takes away, also the other member of a choice.
export const patchedInside: [Schemas['TreatmentPatch'], sdk.TreatmentPatch, third.TreatmentPatch] = [
  { purpose: { text: 'Flaking', answer: null } }, { environment: { airTemperature: { quantity: { value: 21 } }, ph: null } },
  { drying: { days: null } }] // the third leaves null out of an object's type
// @ts-expect-error days are a number
export const insideWrong: Schemas['TreatmentPatch'] = { drying: { days: 'seven' } }
// @ts-expect-error days are a number
export const insideWrongSdk: sdk.TreatmentPatch = { drying: { days: 'seven' } }
// @ts-expect-error days are a number
export const insideWrongThird: third.TreatmentPatch = { drying: { days: 'seven' } }
// @ts-expect-error a temperature's value is a number
export const deepWrong: Schemas['TreatmentPatch'] = { drying: { temperature: { value: '40' } } }
// @ts-expect-error drying has no such member
export const insideUnknown: Schemas['TreatmentPatch'] = { drying: { dais: 7 } }
// @ts-expect-error drying always has a state
export const insideAway: Schemas['TreatmentPatch'] = { drying: { state: null } }
// @ts-expect-error a treatment's statement always has an action
export const patchedAway: Schemas['AmendmentPatch'] = { reason: 'Read again.', statement: { action: null } }
// @ts-expect-error no statement has such a member
export const patchedUnknown: Schemas['AmendmentPatch'] = { reason: 'Read again.', statement: { coatss: 3 } }
// @ts-expect-error a whole statement says what was done
export const wholeWrong: Schemas['AmendmentRequest'] = { reason: 'Read again.', statement: { coats: 3 } }

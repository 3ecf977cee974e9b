#!/usr/bin/env bash
# Keeps a catalogue in step. AT and KEY are set; numbers.txt is here, a number a line. Needs curl and jq.
set -euo pipefail
: "${AT:?}" "${KEY:?}"
ask() { curl -sS --fail-with-body -H "Authorization: Bearer $KEY" -H "Content-Type: application/json" "$@"; }
page() {
  ask -H "Accept: text/html" "$AT/v1/specimens/$1/summary" -o "summaries/$1.html"
  ask -H "Accept: image/svg+xml" "$AT/v1/specimens/$1/summary" -o "summaries/$1.svg"
}
mkdir -p summaries

jq -nR '{numbers: [inputs | {number: .}]}' numbers.txt | ask "$AT/v1/specimen-lookup" -d @- > known.json
for specimen in $(jq -r '.items[] | select(.answer == "recorded") | .specimens[].specimen.id' known.json); do page "$specimen"; done

# Your record's id makes it one treatment, however often it is sent.
ask "$AT/v1/treatments" -o treatment.json -d '{
  "source": {"system": "catalogue", "recordId": "T-2026-0031"},
  "statement": {
    "specimen": {"identifier": {"kind": "catalogue-number", "value": "LV.1987/0042", "collection": "palaeontology"}},
    "action": "cleaning", "method": "swab", "areas": {"paths": ["skull/right-orbit"]}, "dates": {"edtf": "2026-02"},
    "people": [{"person": {"name": "Ilse Varga"}, "part": "carried-out"}]}}'

new=1
while [ "$new" -gt 0 ]; do
  ask "$AT/v1/changes?limit=500$([ ! -s cursor.txt ] || echo "&cursor=$(cat cursor.txt)")" -o changes.json
  new=$(jq '.items | length' changes.json)
  for specimen in $(jq -r '.items[].record | select(.kind == "treatment") | .statement.specimen.id // empty' changes.json | sort -u); do page "$specimen"; done
  jq -er .cursor changes.json > cursor.new
  mv cursor.new cursor.txt # whole or not at all
done

#!/usr/bin/env bash
# Checks by other people's tools, and by the contract's fuzzer. Zero findings, or
# it fails.
#
#   deploy/check.sh            every check in deploy/check
#   deploy/check.sh lint edtf  only these
#
# A check is a file deploy/check/NAME.mjs or NAME.sh. It is run from the top of
# the repository, says what it looked at, and exits with 0 only when nothing was
# found. It needs Node 20 and Go; the tools' versions are pinned in
# deploy/check/package-lock.json.
set -uo pipefail
cd "$(dirname "$0")/.."

checks=deploy/check
if ! cmp -s "$checks/package-lock.json" "$checks/node_modules/.installed-from"; then
  echo "check: installing the tools"
  (cd "$checks" && npm ci --ignore-scripts --no-progress --loglevel=error) || exit 1
  cp "$checks/package-lock.json" "$checks/node_modules/.installed-from"
fi

run() {
  case $1 in
    *.mjs) node "$1" ;;
    *.sh) bash "$1" ;;
  esac
}

passed=0 failed=() times=()
for file in "$checks"/*.mjs "$checks"/*.sh; do
  [ -e "$file" ] || continue
  name=$(basename "${file%.*}")
  [ $# -eq 0 ] || [[ " $* " == *" $name "* ]] || continue
  echo "check: $name"
  began=$SECONDS
  if run "$file"; then passed=$((passed + 1)); else failed+=("$name"); fi
  times+=("$(printf '%5d s  %s' $((SECONDS - began)) "$name")")
done

printf 'check: %s\n' "${times[@]}"

[ ${#failed[@]} -eq 0 ] || echo "check: failed: ${failed[*]}"
echo "checks: $passed passed, ${#failed[@]} failed"
[ "$passed" -gt 0 ] && [ ${#failed[@]} -eq 0 ]

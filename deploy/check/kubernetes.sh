#!/usr/bin/env bash
# Reads deploy/kubernetes strictly into the types of Kubernetes's own API, in a module of
# its own, so that the service does not carry them; a manifest that is broken on purpose
# has to be found.
set -euo pipefail

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
sed 1d deploy/check/kubernetes/main.go > "$work/main.go" # its constraint keeps it out of the service's module
cat > "$work/go.mod" <<'MOD'
module manifests

go 1.26

require (
	k8s.io/api v0.37.2
	k8s.io/apimachinery v0.37.2
	sigs.k8s.io/yaml v1.6.0
)
MOD
(cd "$work" && go mod tidy 2> tidy.log || { cat tidy.log; exit 1; }
 go build -trimpath -o kubernetes . )

"$work/kubernetes" README.md deploy/kubernetes/*.yaml

broken() { # WHAT SED: a change that has to be found
  mkdir -p "$work/broken"
  cp deploy/kubernetes/*.yaml "$work/broken/"
  sed -i "$2" "$work/broken/"*.yaml
  if "$work/kubernetes" README.md "$work/broken/"*.yaml > "$work/said" 2>&1; then
    echo "not found: $1"
    return 1
  fi
}
broken "a member that the API has not" 's/maxReplicas:/mostReplicas:/'
broken "a port that no container has" 's/targetPort: http/targetPort: https/'
broken "a label that no pod has" '0,/matchLabels: {/s//matchLabels: {tier: web, /'
broken "a setting that the README has not" 's/MENISCUS_DRAIN_DELAY/MENISCUS_DRAIN/'

#!/usr/bin/env bash
# verify.sh ID TIMESTAMP SIGNATURES < body: ends with 0 for a genuine delivery, and otherwise never.
# The three are the headers webhook-id, webhook-timestamp and webhook-signature. SECRET is the webhook's. Needs openssl.
set -euo pipefail
key=$(printf %s "${SECRET:?}" | sed -n 's/^whsec_//p' | base64 -d | od -An -v -tx1 | tr -d ' \n')
[ "${#key}" -ge 48 ] || { echo "SECRET is no secret of a webhook" >&2; exit 2; }
[[ "$2" =~ ^[0-9]{1,12}$ ]] || exit 1
age=$(($(date +%s) - 10#$2))
[ "${age#-}" -lt 300 ] || exit 1
made=$( (printf '%s.%s.' "$1" "$2"; cat) | openssl dgst -sha256 -mac HMAC -macopt "hexkey:$key" -binary | base64)
[ "${#made}" -eq 44 ] # 32 bytes: a digest was made
printf '%s\n' $3 | grep -qxF "v1,$made"

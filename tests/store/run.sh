#!/usr/bin/env bash
# Starts a server that speaks Amazon's S3 protocol (moto, a library for tests, in a Python environment of its own under
# target/) on a free port, runs what is given with a bucket's folder in HOUSELIGHTS_S3, and stops it again:
#
#     bash tests/store/run.sh cargo test --features many-machines
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)

target=${CARGO_TARGET_DIR:-$here/../../target}
environment=$target/store-venv
if ! cmp -s "$here/requirements.txt" "$environment/installed.txt"; then
  python3 -m venv --clear "$environment"
  "$environment/bin/pip" install --quiet --disable-pip-version-check --requirement "$here/requirements.txt"
  cp "$here/requirements.txt" "$environment/installed.txt"
fi

log=$(mktemp)
server=
stop() {
  [ -z "$server" ] || kill "$server" 2>/dev/null || true
  rm -f "$log"
}
trap stop EXIT

port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
"$environment/bin/moto_server" -H 127.0.0.1 -p "$port" >"$log" 2>&1 &
server=$!
bucket=houselights-test
made=
for _ in $(seq 100); do
  if python3 - "http://127.0.0.1:$port/$bucket" 2>/dev/null <<'PYTHON'; then made=1; break; fi
import sys, urllib.request
urllib.request.urlopen(urllib.request.Request(sys.argv[1], method="PUT"), timeout=5)
PYTHON
  sleep 0.1
done
if [ -z "$made" ]; then
  cat "$log" >&2
  echo "the store's server does not start" >&2
  exit 1
fi

AWS_ENDPOINT="http://127.0.0.1:$port" AWS_ALLOW_HTTP=true AWS_REGION=us-east-1 \
  AWS_ACCESS_KEY_ID=test AWS_SECRET_ACCESS_KEY=test HOUSELIGHTS_S3="s3://$bucket/night" "$@"

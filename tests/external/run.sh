#!/usr/bin/env bash
# Compares the built program with outside libraries (check.py says which and how). Makes a Python environment of its own under
# target/, once; after that it needs no network. HOUSELIGHTS_RAWS names a folder with real raw files; without it their checks are
# skipped, and said to be.
set -euo pipefail
cd "$(dirname "$0")/../.."

target=${CARGO_TARGET_DIR:-$PWD/target}
environment=$target/external-venv
wanted=tests/external/requirements.txt
if ! cmp -s "$wanted" "$environment/installed.txt"; then
  python3 -m venv --clear "$environment"
  "$environment/bin/pip" install --quiet --disable-pip-version-check --requirement "$wanted"
  cp "$wanted" "$environment/installed.txt"
fi

# As the tests have it: the development profile is optimised too, and gives the same pictures.
cargo build --quiet --bin houselights --example dump-mosaic --example noise-stage --example printer-profile
exec "$environment/bin/python" -B tests/external/check.py "$target/debug"

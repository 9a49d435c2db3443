#!/usr/bin/env bash
# The row kernels' copies for 64-bit ARM, and the pictures of the demo frames, on a machine that has no such processor: compiled for
# one and run in emulation (Debian's qemu-user and gcc-aarch64-linux-gnu, installed where they are not there):
#
#     bash tests/arm/run.sh
#
# Its pictures must be those that this machine makes. What may differ is the digest of the correction: solving takes logarithms from
# the system, whose last bit is each system's own, and pictures do not show it.
set -euo pipefail
cd "$(dirname "$0")/../.."

architecture=aarch64-unknown-linux-gnu
if ! command -v aarch64-linux-gnu-gcc >/dev/null || ! [ -e /proc/sys/fs/binfmt_misc/qemu-aarch64 ]; then
  as_root=()
  [ "$(id -u)" = 0 ] || as_root=(sudo)
  "${as_root[@]}" apt-get update -qq
  # A worker is started by its own name, so that the system must know how to run what is not for its processor.
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
    qemu-user qemu-user-binfmt binfmt-support gcc-aarch64-linux-gnu libc6-dev-arm64-cross >/dev/null
fi
rustup target add "$architecture"

export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc
export CC_aarch64_unknown_linux_gnu=aarch64-linux-gnu-gcc QEMU_LD_PREFIX=/usr/aarch64-linux-gnu

printf '\n== row kernels\n'
# Their tests say so in their names, but for that of black bodies.
cargo test -p houselights --target "$architecture" --lib -- copy copies level many_temperatures lossless_jpeg

printf '\n== pictures of the demo frames\n'
cargo build -p houselights --bin houselights
cargo build -p houselights --bin houselights --target "$architecture"
target=${CARGO_TARGET_DIR:-target}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
carry() {
  "$1/houselights" carry demo-frames --to "$scratch/$2" --reference demo-frames/one-0401.dng --neutral 0.831,0.828,0.02 --readings none
}
carry "$target/debug" here
carry "$target/$architecture/debug" there
without_digest() { LC_ALL=C sed 's/CorrectionDigest>[0-9a-f]*/CorrectionDigest>/' "$1"; }
pictures=0
for picture in "$scratch"/here/*.jpg; do
  cmp <(without_digest "$picture") <(without_digest "$scratch/there/$(basename "$picture")")
  pictures=$((pictures + 1))
done
[ "$pictures" -gt 0 ] && [ "$pictures" = "$(find "$scratch/there" -name '*.jpg' | wc -l)" ]
echo "$pictures pictures are the same"

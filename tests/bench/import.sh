#!/usr/bin/env bash
# Exports a record, imports it into empty places and into plain tables of the
# sqlite3 shell, in turn, and prints the times as JSON.
#
#   bash tests/bench/import.sh DATA_FOLDER [ROUNDS]
#
# DATA_FOLDER holds a record such as `onetrip demo --jobs 1000000 --prepare-only`
# makes. ONETRIP names the program; absent: the release build.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
target=${CARGO_TARGET_DIR:-$here/../../target}
export ONETRIP=${ONETRIP:-$target/release/onetrip}
command -v sqlite3 > /dev/null || { apt-get update && apt-get install -y sqlite3; } >&2
exec python3 "$here/import.py" "$@"

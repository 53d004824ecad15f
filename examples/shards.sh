#!/usr/bin/env bash
# A lot over several benches, by the command alone: a part for each file (map), then one decision over all parts (reduce).
# The order of the parts makes no difference: the merged part is the same byte for byte.
#
#     examples/shards.sh netlists/lots/cue-microphones.netlist netlists/lots/floor-same-contact.netlist
set -euo pipefail
backshell="${BACKSHELL:-target/release/backshell}"
work="$(mktemp -d)"
trap 'rm -r "$work"' EXIT

# map: each file on its own; `xargs -P` stands for the machines. A lot that isn't accepted has exit status 1.
printf '%s\n' "$@" | nl -ba | xargs -P 4 -L 1 sh -c '"$0" lot "$3" --part-out "$1/$2.json" >"$1/$2.txt" || [ $? = 1 ]' "$backshell" "$work"

# reduce
"$backshell" lot --merge "$work"/*.json

#!/usr/bin/env bash
# Drawings of cables, checked on each change of them: a step for any pipeline that runs a shell.
#
#     examples/drawings-in-ci/check-drawings.sh netlists/drawings
#
# Every .netlist, .csv and .tsv file of the folders is checked. The step writes two files, for the pipeline to keep:
#
#     target/drawings/drawings.sarif      findings at their lines, for code hosts and editors that show SARIF 2.1.0
#     target/drawings/drawings.xml        a case for each drawing, for build servers that show JUnit XML
#
# and prints what it found for people. It fails with the exit status of the check: 1 where a drawing fails or can't be
# decided, 2 where one can't be used. OUT names another folder for the files, BACKSHELL another program, and OPTIONS holds
# further options of `backshell check`, such as "--maps cables".
set -euo pipefail
backshell="${BACKSHELL:-target/release/backshell}"
out="${OUT:-target/drawings}"
read -r -a options <<<"${OPTIONS:-}"

drawings=()
while IFS= read -r -d '' file; do
  drawings+=("$file")
done < <(find "${@:-drawings}" -type f \( -name '*.netlist' -o -name '*.csv' -o -name '*.tsv' \) -print0 | LC_ALL=C sort -z)
if [ "${#drawings[@]}" = 0 ]; then
  echo "no drawing in ${*:-drawings}" >&2
  exit 2
fi
mkdir -p "$out"

# each run gives the same exit status; the last one's is that of the step
check() { "$backshell" check "${options[@]}" --format "$1" -- "${drawings[@]}"; }
check sarif >"$out/drawings.sarif" || true
check junit >"$out/drawings.xml" || true
check human

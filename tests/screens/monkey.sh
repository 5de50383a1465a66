#!/usr/bin/env bash
# Random valid input to the real trainer in a real window, from a seed (tools/monkey says what is a fault).
#
# usage: monkey.sh MONKEY PLANEKEEPER PK SOURCE_FOLDER FOLDER MINUTES SEED [WIDTHxHEIGHT of the display]
# exit status: 0 no fault, 1 a fault, 77 skipped with a printed reason
set -euo pipefail

monkey=$1
program=$2
pk=$3
source_folder=$4
folder=$5
minutes=$6
seed=$7
size=${8:-1600x1000}
pictures=$folder
[ -x "$monkey" ] || { echo "skipped: built without libxtst-dev (see tools/packages.txt)"; exit 77; }
rm -rf "$folder"
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
"$monkey" "$program" "$pk" "$folder" --minutes "$minutes" --seed "$seed" || {
  echo "FAILED with seed $seed"
  tail -n 60 "$(ls -t "$folder"/errors-*.txt | head -n 1)" || true
  exit 1
}
echo "no fault in $minutes minutes, seed $seed"

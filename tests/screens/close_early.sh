#!/usr/bin/env bash
# A window that is closed while a patient is being prepared is gone at once, and the next start is as good as any.
#
# usage: close_early.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=1280x720
mark=early
most_s=5
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
export XDG_CACHE_HOME=$work/cache  # nothing is kept yet: preparing takes long
start_display
for turn in 1 2; do
  start_trainer --scenario single_vector
  await 'screen loading' 30 "the patient is being prepared"
  sleep $turn
  grep -q 'screen practice' "$journal" && { echo "skipped: this machine prepares a patient within $turn s"; exit 77; }
  before=$SECONDS
  stop_trainer
  [ $((SECONDS - before)) -le $most_s ] || fail "the window is held open for $((SECONDS - before)) s"
  grep -q ' closed$' "$journal" || fail "it did not end as it should"
done
echo "closed while a patient was being prepared, and gone within $most_s s"

#!/usr/bin/env bash
# Kills the trainer's window in mid-pass at random moments. Each attempt file must still be intact, unfinished, and lack
# no more than the last second that was simulated.
#
# usage: kill_window.sh PLANEKEEPER PK SOURCE_FOLDER TIMES SEED
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
pk=$2
source_folder=$3
times=$4
seed=$5
size=1280x720
pictures=$(mktemp -d)
mark=kill
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
trap 'cleanup; rm -rf "$pictures"' EXIT
start_display
steps_a_second=250
most_lost=$steps_a_second

RANDOM=$seed
for turn in $(seq "$times"); do
  after_ms=$((RANDOM % 5000))
  start_trainer --scenario first_pass >/dev/null
  await 'places .*entry\.1' 60 "practice" >/dev/null
  xdotool key 1
  await 'event instrument taken subject 0' 30 "needle" >/dev/null
  click entry.1
  await 'event entry chosen' 30 "entry" >/dev/null
  hold_until w 'event layer crossed subject 2' "in fat" >/dev/null
  hold_until s 'event entry opened' "open" >/dev/null
  xdotool key 2
  await 'event instrument taken subject 1' 30 "cannula" >/dev/null
  xdotool keydown w
  await 'event track opened' 30 "the pass has begun" >/dev/null
  sleep "$(printf '%d.%03d' $((after_ms / 1000)) $((after_ms % 1000)))"
  kill -KILL "$trainer"
  wait "$trainer" 2>/dev/null || true
  trainer=
  xdotool keyup w

  file=$(grep -E '^[0-9]+ recording ' "$journal" | tail -n 1 | cut -d' ' -f3-)
  [ -s "$file" ] || fail "turn $turn, $after_ms ms: no attempt file at all"
  verdict=$("$pk" verify "$file" | head -n 1) || fail "turn $turn, $after_ms ms: pk verify refuses $file: $verdict"
  grep -q 'intact, unfinished' <<<"$verdict" || fail "turn $turn, $after_ms ms: $verdict"
  simulated=$(grep -E '^[0-9]+ steps ' "$journal" | tail -n 1 | cut -d' ' -f3)
  kept=$(grep -o '"to":[0-9]*' "$file" | tail -n 1 | cut -d: -f2)
  [ "$kept" -ge $((simulated - most_lost)) ] || fail "turn $turn, $after_ms ms: $simulated steps simulated, $kept kept"
  echo "turn $turn: killed $after_ms ms into the pass, $simulated steps or more simulated, $kept kept: intact, unfinished"
  rm -rf "$work/data/planekeeper/attempts"
done
echo "$times kills, seed $seed: every attempt intact, none lacks more than its last second"

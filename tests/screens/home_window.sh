#!/usr/bin/env bash
# The screens around an attempt: another learner is added by typing and has records of their own, another anatomy is asked
# for and told in the record, progress has its plots, and a graded attempt that was killed is not shown before its end.
#
# usage: home_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER PK WIDTHxHEIGHT
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
pk=$4
size=$5
mark=home_$size
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display

# headers FOLDER: the first lines of its attempts
headers() { head -qn 1 "$1"/attempts/*.attempt; }

echo "-- a learner is added"
start_trainer
await 'places .*start\.learners' 60 "the start screen"
click start.learners
await 'screen learners' 30 "the screen of learners"
await 'places .*learners\.add' 30 "a name can be typed"
focus_on learners.add
xdotool type --delay 60 'Ana Bx'
xdotool key BackSpace
xdotool key Return
await 'places .*learners\.1=' 30 "the first learner can be worked as again"
picture learners
[ -d "$work/data/planekeeper/learners/2" ] || fail "the second learner has no folder"
grep -q '"name": "Ana B"' "$work/data/planekeeper/learners.json" || fail "the name is not Ana B"

echo "-- an attempt of hers on another anatomy, left in the middle"
xdotool key Escape
await_again 'screen start' 2 30 "back at the start"
await_again 'places .*start\.variant\.2' 1 30 "the anatomy can be chosen"
click start.variant.2
sleep 0.5
picture start
scroll_to start.skirt_the_artery start.first_pass
click start.skirt_the_artery
await 'screen practice' 120 "the attempt begins"
sleep 1
picture practice
click practice.leave
xdotool key Escape
await_again 'screen start' 3 60 "left"
stop_trainer
no_misfits
headers "$work/data/planekeeper/learners/2" | grep -Eq '"variant_seed":[1-9]' || fail "the anatomy is the written one"
[ ! -e "$work/data/planekeeper/attempts" ] || fail "the first learner has an attempt"

echo "-- she works at the next start; then the first learner again"
start_trainer
await 'places .*start\.go_on' 60 "her attempt can be gone on with"

click start.progress
await 'screen progress' 30 "the screen of progress"
sleep 0.5
picture progress_empty
xdotool key Escape
await_again 'screen start' 2 30 "back at the start"

click start.learners
await_again 'places .*learners\.1=' 1 30 "the learners"
click learners.1
await 'learner Learner 1' 30 "the first learner works"
stop_trainer
no_misfits

echo "-- a graded attempt: hidden anatomy, killed, and not shown before its end"
start_trainer --mode graded --scenario skirt_the_artery
await 'screen practice' 120 "the attempt begins"
sleep 2  # what a killed program had not written yet is at most a second
picture graded
kill -KILL "$trainer"
wait "$trainer" 2>/dev/null || true
headers "$work/data/planekeeper" | grep -Eq '"mode":"graded","variant_seed":[1-9]' || fail "its anatomy is the written one"
start_trainer
await 'places .*start\.past' 60 "the start screen"
await ' attempts [1-9]' 60 "what is kept has been read, and the buttons stand where they stay"
sleep 0.5
click start.past
await 'places .*past\.go_on\.1' 60 "it can be gone on with"
sleep 0.5
picture graded_stopped
[ -z "$(where 'past\.1')" ] || fail "it can be looked at before its end"
stop_trainer
no_misfits
file=("$work"/data/planekeeper/attempts/*.attempt)
if "$program" --replay "${file[0]}" --picture "$work/replay.png" --screen score 2>"$work/words"; then
  fail "a graded attempt that is not finished is replayed"
fi
grep -q 'graded and not finished' "$work/words" || fail "why it is not replayed: $(cat "$work/words")"
echo "done"

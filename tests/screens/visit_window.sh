#!/usr/bin/env bash
# A visit in a real window: the history by keyboard, a decision with its reason, the score; then every stage of a whole
# visit is shown once. Fails on text without room.
#
# usage: visit_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT TEXT_PERCENT
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=$4
text=$5
mark=visit_${size}_$text
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
start_trainer --text "$text" --scenario treat_or_defer
await 'screen practice' 300 "practice screen"
await 'places .*visit\.ask\.0' 30 "the consult lies open"
picture consult
for item in 0 1 2 3 4 5 6 7 8 9; do
  focus_on "visit.ask.$item"
  xdotool key Return
  await_again 'event deed done subject 0' $((item + 1)) 30 "question $item is asked"
done
picture answers
focus_on visit.decide.1
xdotool key Return
focus_on visit.reason.4
picture reason
xdotool key Return
await 'event decided subject 1' 30 "deferred for the infection"
xdotool key 0
await_gone visit.close 30 "back to the instruments"
click practice.finish
await 'screen score' 120 "score screen"
picture visit_score
stop_trainer

no_misfits
start_trainer --text "$text" --scenario whole_visit
await 'screen practice' 300 "practice screen of a whole visit"
for stage in consult mark prepare numb enter pass anchor review finish follow_up; do
  await 'places .*visit\.close' 30 "stage $stage"
  picture "stage_$stage"
  [ "$stage" = follow_up ] || click visit.on
  sleep 0.4
done
no_misfits
stop_trainer
echo "done"

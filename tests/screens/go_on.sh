#!/usr/bin/env bash
# Stops an attempt in the middle in each way there is (the program killed, the window closed, left by the button) and goes
# on with it. In the end it is one attempt, finished, intact, that says how often it was taken up.
#
# usage: go_on.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER PK
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
pk=$4
size=1280x720
mark=go_on
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display

ask() {
  focus_on "visit.ask.$1"
  xdotool key Return
}
kill_trainer() {
  kill -KILL "$trainer"
  wait "$trainer" 2>/dev/null || true
  trainer=
}

echo "-- a visit, killed in the middle"
start_trainer --scenario treat_or_defer
await 'places .*visit\.ask\.0' 120 "the consult lies open"
for item in 0 1 2; do
  ask "$item"
  await_again 'event deed done subject 0' $((item + 1)) 30 "question $item is asked"
done
sleep 1.5  # a killed program loses what it had not written yet: at most a second
kill_trainer

echo "-- gone on with from the start screen, then the window is closed"
start_trainer
await 'places .*start\.go_on' 60 "the start screen offers to go on"
picture start
click start.go_on
await 'taken up [0-9]+ steps, [1-9]' 120 "taken up"
await 'places .*visit\.ask\.3' 60 "the consult lies open again"
picture taken_up
for item in 3 4 5; do
  ask "$item"
  await_again 'event deed done subject 0' $((item - 2)) 30 "question $item is asked"
done
stop_trainer

echo "-- gone on with, then left by the button"
start_trainer
await 'places .*start\.go_on' 60 "the start screen offers to go on"
click start.go_on
await 'places .*visit\.ask\.6' 120 "the consult lies open again"
for item in 6 7 8 9; do
  ask "$item"
  await_again 'event deed done subject 0' $((item - 5)) 30 "question $item is asked"
done
xdotool key 0
await_gone visit.close 30 "back to the instruments"
click practice.leave
xdotool key Escape
await_again 'screen start' 2 60 "left"

echo "-- gone on with from the list of attempts, and finished"
click start.past
await 'places .*past\.go_on\.1' 60 "the list offers to go on"
picture past
click past.go_on.1
await_again 'taken up [0-9]+ steps, [1-9]' 2 120 "taken up"
await_again 'places .*visit\.ask\.0' 1 60 "the consult lies open again"
focus_on visit.decide.1
xdotool key Return
focus_on visit.reason.4
xdotool key Return
await 'event decided subject 1' 30 "deferred for the infection"
xdotool key 0
await_gone visit.close 30 "back to the instruments"
click practice.finish
await 'screen score' 120 "score screen"
picture score
stop_trainer
no_misfits

files=("$work"/data/planekeeper/attempts/*.attempt)
[ ${#files[@]} -eq 1 ] || fail "one attempt, not ${#files[@]}"
verdict=$("$pk" verify "${files[0]}" | head -n 1)
grep -q 'intact, finished' <<<"$verdict" || fail "the attempt: $verdict"
[ "$(grep -c resumed_at "${files[0]}")" -eq 3 ] || fail "the attempt tells of $(grep -c resumed_at "${files[0]}") goings on, not 3"
"$pk" score "${files[0]}" | grep -q '^pass: ' || fail "ten questions and the right decision do not pass: $("$pk" score "${files[0]}" | sed -n 2p)"

echo "-- a pass, killed with the cannula in the tissue"
rm -f "${files[0]}"
begin_pass
xdotool keydown w
sleep 2
kill_trainer
xdotool keyup w
start_trainer
await 'places .*start\.go_on' 60 "the start screen offers to go on"
click start.go_on
await 'taken up [0-9]+ steps, [1-9]' 120 "taken up"
picture pass_taken_up
sleep 1
hold_until s 'event track closed' "drawn out"
click practice.finish
sleep 0.5
xdotool key Return  # the planned pass was not made: it is asked once more
await 'screen score' 120 "score screen"
stop_trainer
files=("$work"/data/planekeeper/attempts/*.attempt)
[ ${#files[@]} -eq 1 ] || fail "one attempt, not ${#files[@]}"
"$pk" verify "${files[0]}" | grep -q 'intact, finished' || fail "the pass is not intact"
"$pk" resimulate "${files[0]}" || fail "the pass does not come out as recorded"
echo "done"

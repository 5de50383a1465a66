#!/usr/bin/env bash
# Marks by people, from the desk to the window and back: attempts are handed out to raters, one of them rates a replay by
# mouse and key and ties a remark to a moment, and what they gave comes back as a table. Neither a score nor what leads to
# one is on the rater's screens.
#
# usage: rating_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER PK WIDTHxHEIGHT [TEXT_PERCENT]
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
pk=$4
size=$5
text=${6:-100}
mark=rating_${size}_$text
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display

echo "-- handed out"
mkdir -p "$work/made"
"$pk" rehearse hold_the_plane --script hold_the_plane.careless --out "$work/made/poor.attempt" >/dev/null
"$pk" rehearse hold_the_plane --script hold_the_plane.capable --out "$work/made/good.attempt" >/dev/null
"$pk" ratings hand-out "$work/made" --raters A,B --seed 4 --out "$work/ratings" >"$work/words"
[ "$(grep -c ': 2 attempts' "$work/words")" = 2 ] || fail "not two attempts for each of two: $(cat "$work/words")"

echo "-- rated"
start_trainer --text "$text" --rate "$work/ratings/A"
await 'places .*rating\.open\.2=' 30 "the list"
sleep 0.5
picture list
click rating.open.1
await 'screen score rating A-001' 120 "the first attempt"
await 'places .*rating\.point\.1=' 30 "its anchors"
sleep 1
picture page
for shown in score.paper score.again debrief.loss debrief.measure; do
  grep -q "places .*$shown" "$journal" && fail "$shown is on a rater's screen"
done
grep -qE 'screen score .* of ' "$journal" && fail "the score is told"
scroll_to rating.point.4 rating.point.1
sleep 0.3
click rating.point.4
sleep 0.3
for point in 2 3 1 5 4; do
  xdotool key "$point"
  sleep 0.3
done
xdotool key Right
sleep 0.3
scroll_to rating.comment rating.point.4
click rating.comment
await 'focus rating\.comment' 30 "the field has the focus"
xdotool type --delay 40 'looks twice 12345'
sleep 0.3
xdotool key Return
scroll_to rating.take_back.1 rating.point.4
sleep 0.5
picture remark
xdotool key Escape
await 'focus nothing' 30 "out of the field"
xdotool key Escape
await_again 'screen rating' 2 30 "back at the list"
sleep 0.5
grep -q 'screen start' "$journal" && fail "the key that left the replay left the list, too"
picture rated
stop_trainer
no_misfits

echo "-- taken in"
"$pk" ratings take-in "$work/ratings/A" "$work/ratings/B" --csv "$work/all.csv" --marks "$work/marks.csv" >"$work/words"
grep -q 'A: 1 of 2 rated' "$work/words" || fail "not one of two: $(cat "$work/words")"
grep -q 'B: 0 of 2 rated' "$work/words" || fail "B has rated"
points=$(grep -oE ',A,(plan|depth|danger|answer|thread|order),[1-5],' "$work/all.csv" | cut -d, -f3,4 | sort | tr '\n' ' ')
[ "$points" = "answer,1 danger,3 depth,2 order,4 plan,4 thread,5 " ] || fail "other points: $points"
grep -q ',0\.100,looks twice 12345' "$work/all.csv" || fail "the remark is not at its moment: $(cat "$work/all.csv")"
grep -qE '^[0-9a-f]{64},3\.16667' "$work/marks.csv" || fail "the mean is not 19/6: $(cat "$work/marks.csv")"
"$pk" statistics icc "$work/marks.csv" >/dev/null 2>"$work/words" && fail "one rater is enough for agreement"
echo "done"

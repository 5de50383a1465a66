#!/usr/bin/env bash
# The whole way of a school, by window and by pk: a case is written and published, issued to two stations, sat by two
# learners with real keys, handed in, collected into the school's records, rated by two raters, looked at as a cohort, and
# printed: a debrief for each learner and the cohort report.
#
# usage: full_walk.sh PLANEKEEPER PK SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
pk=$2
source_folder=$3
pictures=$4
size=$5
mark=walk_$size
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
desk=$work/desk school=$work/school.db

echo "-- a case of one's own, in the window"
export XDG_DATA_HOME=$desk
start_trainer --author own_vector --scenario single_vector
await 'authoring draft own_vector' 60 "the draft is begun"
await 'places .*authoring\.field\.title' 30 "its words"
click authoring.field.title
await 'focus authoring\.field\.title' 30 "its title can be typed"
xdotool key End
xdotool type --delay 60 ' of our own'
sleep 2
picture case
click authoring.publish
await 'authoring tried pass fail published' 600 "hands tried it, and it is published"
picture published
no_misfits
stop_trainer
"$pk" case check own_vector >/dev/null || fail "it is not as it was published"

echo "-- issued to two stations"
keys_of() { XDG_DATA_HOME=$work/room$1 "$pk" session keys | awk -v who="$2" '$1 == who { print $2 }'; }
cat >"$work/plan.json" <<JSON
{"schema_version": 1, "title": "Autumn session", "opens_at": "2026-01-01T00:00:00Z", "closes_at": "2099-01-01T00:00:00Z",
 "minutes": 30, "anatomy": "common", "scenarios": ["own_vector"],
 "learners": [{"name": "L01", "keys": ["$(keys_of 1 learner)"]}, {"name": "L02", "keys": ["$(keys_of 2 learner)"]}],
 "stations": [{"name": "Room 1", "keys": ["$(keys_of 1 station)"]}, {"name": "Room 2", "keys": ["$(keys_of 2 station)"]}]}
JSON
XDG_DATA_HOME=$desk "$pk" session issue "$work/plan.json" --out "$work/issued" >/dev/null

# sit ROOM SECONDS: the learner of that room opens the entry, passes the cannula for so long, finishes and hands in
sit() {
  export XDG_DATA_HOME=$work/room$1
  start_trainer --session "$work/issued/Room_$1.bundle"
  await 'places .*sessions\.slot\.1=' 30 "room $1: the slot"
  [ "$1" = 2 ] || picture slot
  click sessions.slot.1
  await 'places .*entry\.1' 180 "room $1: the attempt begins"
  enter_and_pass
  hold_for w "$2"
  [ "$1" = 2 ] || picture pass
  xdotool key Return
  sleep 0.5
  xdotool key Return
  await 'slot ended' 60 "room $1: the attempt has ended"
  grep -q 'screen score' "$journal" && fail "a result is shown"
  await 'places .*sessions\.hand_in\.0' 30 "room $1: it can be handed in"
  click sessions.hand_in.0
  await 'handed_in ' 30 "room $1: handed in"
  returned+=("$(grep -E '^[0-9]+ handed_in ' "$journal" | tail -n 1 | cut -d' ' -f3-)")
  no_misfits
  stop_trainer
}
returned=()
sit 1 2
sit 2 4

echo "-- collected into the school's records"
export XDG_DATA_HOME=$desk
"$pk" records init --records "$school" >/dev/null
"$pk" session collect "$work/issued/issued.session" "${returned[@]}" --out "$work/accepted" --into-records --new-learners \
  --records "$school" >"$work/words"
[ "$(grep -c 'own_vector .*accepted' "$work/words")" = 2 ] || fail "not both are accepted: $(cat "$work/words")"
"$pk" records check --records "$school" >/dev/null || fail "the records are not in order"

echo "-- rated, blind"
"$pk" ratings hand-out "$work/accepted" --raters A,B --seed 4 --out "$work/ratings" >/dev/null
for rater in A B; do
  start_trainer --rate "$work/ratings/$rater"
  for attempt in 1 2; do
    await "places .*rating\.open\.$attempt=" 60 "rater $rater: the list"
    click "rating.open.$attempt"
    await "screen score rating $rater-00$attempt" 180 "rater $rater: attempt $attempt"
    await 'places .*rating\.point\.1=' 60 "its anchors"
    # each rater has an order of their own: one tells the two apart, the other does not
    higher=$([ $rater = A ] && echo $attempt || echo 1)
    for point in $((higher + 1)) 3 $((higher + 2)) 2 3 4; do
      xdotool key "$point"
      sleep 0.4
    done
    [ "$rater$attempt" = A1 ] && picture rated
    before=$(grep -cE '^[0-9]+ screen rating' "$journal")
    xdotool key Escape
    await_again '^[0-9]+ screen rating' $((before + 1)) 30 "back at the list"
  done
  no_misfits
  stop_trainer
done
"$pk" ratings take-in "$work/ratings/A" "$work/ratings/B" --csv "$work/all.csv" --marks "$work/marks.csv" >"$work/words"
grep -q 'A: 2 of 2 rated' "$work/words" && grep -q 'B: 2 of 2 rated' "$work/words" || fail "not all rated: $(cat "$work/words")"
"$pk" statistics icc "$work/marks.csv" >"$work/words" || fail "no agreement: $(cat "$work/words")"
grep -q 'ICC(1,1)' "$work/words" || fail "no ICC(1,1): $(cat "$work/words")"
# two attempts are no ground for a mark by regression: judges say what a borderline learner would reach
printf 'judge,plane,clearance,barbs\nA,0.6,0.8,0.7\nB,0.7,0.8,0.6\nC,0.65,0.75,0.7\n' >"$work/angoff.csv"
"$pk" statistics angoff "$work/angoff.csv" >/dev/null || fail "judges give no mark"
"$pk" records mark own_vector --share 0.7 --reason "three judges, Angoff" --records "$school" >/dev/null
"$pk" records mark own_vector --share 0.3 --reason "told otherwise" --records "$school" >"$work/words"
grep -q 'version 2: 30.0 %' "$work/words" || fail "the second decision is no second version: $(cat "$work/words")"
[ "$("$pk" records list marks --records "$school" | grep -c own_vector)" = 2 ] || fail "an earlier mark is gone"
"$pk" records mark own_vector --share 1.2 --reason "too much" --records "$school" 2>/dev/null && fail "a share beyond 1 is kept"
"$pk" records check --records "$school" >/dev/null || fail "the records are not in order with marks"

echo "-- the cohort, and what is printed"
start_trainer --records "$school"
await 'cohort 2 learners 1 scenarios' 60 "both stand in the cohort"
await 'places .*cohort\.session' 20 "a session can be chosen"
click cohort.session
await_again 'cohort 2 learners 1 scenarios' 2 30 "the session's"
click cohort.cell.2.1
await 'places .*cohort\.all' 20 "one learner"
picture cohort
click cohort.paper
await 'paper .*cohort-.*\.pdf' 30 "the cohort on paper"
cp "$(grep -E '^[0-9]+ paper ' "$journal" | tail -n 1 | cut -d' ' -f3-)" "$pictures/walk_cohort.pdf"
no_misfits
stop_trainer
session=$("$pk" records list sessions --records "$school" | awk 'NR == 1 { print $1 }')
"$pk" records board --records "$school" --session "$session" --pdf "$work/board.pdf" --csv "$work/board.csv" >/dev/null
[ "$(grep -c own_vector "$work/board.csv")" = 2 ] || fail "the table has other lines: $(cat "$work/board.csv")"
for attempt in "$work"/accepted/*.attempt; do
  "$pk" report "$attempt" --pdf "$pictures/walk_debrief.pdf" >/dev/null || fail "no debrief of $attempt"
done
if command -v pdftotext >/dev/null; then
  for pdf in "$pictures/walk_cohort.pdf" "$work/board.pdf"; do
    said=$(pdftotext -layout "$pdf" - | tr -s ' \n' '  ')
    for words in 'Autumn session' 'L01' 'L02' 'of our own' 'not a medical device'; do
      grep -q "$words" <<<"$said" || fail "$pdf does not say $words"
    done
  done
  said=$(pdftotext "$pictures/walk_debrief.pdf" -)
  grep -q 'Debrief' <<<"$said" || fail "the debrief says nothing"
fi
echo "from a new case to a cohort report, at $size"

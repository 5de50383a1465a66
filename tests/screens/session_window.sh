#!/usr/bin/env bash
# A graded session from the desk to the window and back: an instructor issues it, a station takes it in, a learner makes
# an attempt that is killed and gone on with and another whose time runs out, the station hands in, and the instructor
# finds nothing against either; an attempt that was edited at the station is found.
#
# usage: session_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER PK WIDTHxHEIGHT [TEXT_PERCENT]
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
pk=$4
size=$5
text=${6:-100}
mark=session_${size}_$text
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display

# at_desk COMMAND...: pk as the instructor, on another machine
at_desk() { XDG_DATA_HOME=$work/desk "$pk" session "$@"; }

# plan TITLE MINUTES SCENARIOS: what the instructor writes
plan() {
  local keys learner station
  keys=$("$pk" session keys)
  learner=$(awk '/^learner/ { print $2 }' <<<"$keys")
  station=$(awk '/^station/ { print $2 }' <<<"$keys")
  cat >"$work/plan.json" <<JSON
{"schema_version": 1, "title": "$1", "opens_at": "2026-01-01T00:00:00Z", "closes_at": "2099-01-01T00:00:00Z",
 "minutes": $2, "anatomy": "common", "scenarios": [$3],
 "learners": [{"name": "L01", "keys": ["$learner"]}], "stations": [{"name": "Room 1", "keys": ["$station"]}]}
JSON
}

echo "-- issued, taken in, begun, killed"
plan "Spring session" 30 '"first_pass", "treat_or_defer"'
at_desk issue "$work/plan.json" --out "$work/issued" >"$work/words"
grep -q 'Room_1.bundle: for Room 1' "$work/words" || fail "no bundle: $(cat "$work/words")"
start_trainer --text "$text" --session "$work/issued/Room_1.bundle"
await 'places .*sessions\.slot\.1=' 30 "the slots"
sleep 0.5
picture sessions
click sessions.slot.1
await 'screen practice' 120 "the attempt begins"
sleep 2
picture practice
# graded work has no pause: time goes on while the settings are open, and keys that are typed there steer nothing
steps() { grep -E '^[0-9]+ steps ' "$journal" | tail -n 1 | cut -d' ' -f3; }
xdotool key 1
await 'event instrument taken subject 0' 30 "needle"
click entry.1
await 'event entry chosen' 30 "at the entry"
xdotool key o
await 'settings open' 30 "the settings lie over the tray"
before=$(steps)
hold_for w 2
[ "$(steps)" -gt "$((before + 100))" ] || fail "time stood still behind the settings: $before, $(steps)"
grep -q 'event skin punctured' "$journal" && fail "a key that was typed into the settings steers"
xdotool key Escape
await 'settings closed' 30 "the settings are closed"
kill -KILL "$trainer"
wait "$trainer" 2>/dev/null || true

echo "-- gone on with and finished; no result is shown"
start_trainer --text "$text"
await 'places .*start\.next' 60 "the start screen"
scroll_to start.sessions start.next
click start.sessions
await 'places .*sessions\.slot\.1=' 30 "the slots again"
sleep 0.5
picture begun
click sessions.slot.1
await 'screen practice' 120 "the attempt goes on"
xdotool key Return
sleep 0.5
xdotool key Return
await 'slot ended' 60 "the attempt has ended"
await_again 'screen sessions' 2 30 "back at the session"
grep -q 'screen score' "$journal" && fail "a result is shown"
scroll_to sessions.hand_in.0 sessions.slot.2
sleep 0.3
picture ended
click sessions.hand_in.0
await 'handed_in ' 30 "handed in"
sleep 0.5
picture handed_in
returned=$(grep -E '^[0-9]+ handed_in ' "$journal" | tail -n 1 | cut -d' ' -f3-)
stop_trainer
no_misfits
at_desk collect "$work/issued/issued.session" "$returned" --out "$work/accepted" | tee "$work/words"
grep -q 'L01 .*first_pass .*accepted' "$work/words" || fail "it is not accepted"
grep -q '1 of 2 slots without an attempt' "$work/words" || fail "the other slot is not told"
[ "$("$pk" verify "$work"/accepted/*.attempt | head -n 1 | grep -c 'intact, finished')" = 1 ] || fail "not kept whole"

echo "-- into a school's store, twice, and its board"
XDG_DATA_HOME=$work/desk "$pk" records init --records "$work/school.db" >/dev/null
if at_desk collect "$work/issued/issued.session" "$returned" --into-records --records "$work/school.db" 2>"$work/words" >/dev/null; then
  fail "whoever the store does not know is kept"
fi
grep -q '1 not kept' "$work/words" || fail "it is not said: $(cat "$work/words")"
for times in '1 attempts kept, 0 there' '0 attempts kept, 1 there'; do
  at_desk collect "$work/issued/issued.session" "$returned" --into-records --new-learners --records "$work/school.db" \
    2>"$work/words" >/dev/null || fail "not kept: $(cat "$work/words")"
  grep -q "$times" "$work/words" || fail "not $times: $(cat "$work/words")"
done
"$pk" records board --records "$work/school.db" | tee "$work/words"
grep -q '^L01' "$work/words" && grep -q '^ *first_pass  *1 ' "$work/words" || fail "the board does not show it"

echo "-- handed in to the store itself"
"$pk" session hand-in --title "Spring session" --records "$work/school.db" >/dev/null || fail "not handed in to the store"
if "$pk" session hand-in --title "Spring session" 2>/dev/null; then fail "handed in to nowhere"; fi
at_desk collect "$work/issued/issued.session" --from-records --into-records --records "$work/school.db" --take-away \
  >"$work/found" 2>"$work/words" || fail "what the store holds is not accepted: $(cat "$work/found" "$work/words")"
grep -q 'L01 .*first_pass .*accepted' "$work/found" || fail "another attempt: $(cat "$work/found")"
grep -q '0 attempts kept, 1 there' "$work/words" && grep -q '1 of what was handed in taken away' "$work/words" ||
  fail "not once: $(cat "$work/words")"
"$pk" records check --records "$work/school.db" >/dev/null || fail "the records are not in order"

echo "-- time runs out"
plan "A short one" 0.2 '"first_pass"'
at_desk issue "$work/plan.json" --out "$work/short" >/dev/null
start_trainer --text "$text" --session "$work/short/Room_1.bundle"
await 'places .*sessions\.slot\.1=' 30 "the slot"
click sessions.slot.1
await 'slot time is up' 120 "time is up"
await 'slot ended' 30 "the attempt has ended"
stop_trainer
"$pk" session hand-in --title "A short one" --out "$work/short.returned" >/dev/null
at_desk collect "$work/short/issued.session" "$work/short.returned" || fail "it is not accepted"

echo "-- a window that is closed does not stop the clock"
plan "Another short one" 0.2 '"first_pass"'
at_desk issue "$work/plan.json" --out "$work/shut" >/dev/null
start_trainer --text "$text" --session "$work/shut/Room_1.bundle"
await 'places .*sessions\.slot\.1=' 30 "the slot"
click sessions.slot.1
await 'screen practice' 120 "the attempt begins"
stop_trainer
sleep 13
start_trainer --text "$text" --session "$work/shut/Room_1.bundle"
await 'places .*sessions\.slot\.1=' 30 "the slot again"
click sessions.slot.1
await 'slot time is up' 120 "its time has passed meanwhile"
await 'slot ended' 30 "and it has ended"
stop_trainer

echo "-- an attempt that was edited at the station"
slot=$(basename "$work"/accepted/*.attempt .attempt)
kept=$(find "$work/data/planekeeper/stations" -name "$slot.attempt")
sed -i '2s/"to":\([0-9]*\)/"to":1\1/' "$kept"
"$pk" session hand-in --title "Spring session" --out "$work/edited.returned" >/dev/null
if at_desk collect "$work/issued/issued.session" "$work/edited.returned" >"$work/words"; then
  fail "an edited attempt is accepted"
fi
grep -q 'changed: ' "$work/words" || fail "what was done is not named: $(cat "$work/words")"
echo "done"

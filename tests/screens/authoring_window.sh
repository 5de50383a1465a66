#!/usr/bin/env bash
# A case is written in the window: begun from the start screen, its patient changed while the head follows, a vector's end
# drawn along the skin, a figure that is refused as it is typed, a member duplicated, all of it undone and done again, an aid set
# off, kept through a kill; then scripted hands try it, it is published, and a learner finds it in the list.
#
# usage: authoring_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER PK WIDTHxHEIGHT
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
pk=$4
size=$5
mark=authoring_$size
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display

drafts=$work/data/planekeeper/drafts
scenario=$drafts/easy_jowl/cases/easy_jowl.json
patient=$drafts/easy_jowl/patients/easy_jowl.json
# kept FILE PATTERN WHAT: within a few seconds the file says so
kept() {
  local i
  for i in $(seq 60); do
    tr -d '\n ' <"$1" | grep -Eq "$2" && { echo "kept: $3"; return 0; }
    sleep 0.2
  done
  fail "not kept in $1: $3"
}

echo "-- begun like another"
start_trainer
await 'places .*start\.authoring' 60 "the start screen"
click start.authoring
await 'places .*authoring\.name' 30 "the list of drafts"
# the list begins with flat tissue: on to the first scenario with a head
for i in 1 2; do
  click authoring.like.on
  sleep 0.3
done
picture drafts
click authoring.name
await 'focus authoring\.name' 30 "the name can be typed"
xdotool type --delay 60 'easy jowl'
sleep 0.5
picture name_refused
xdotool key Home
for i in 1 2 3 4; do xdotool key Right; done
xdotool key Delete
xdotool type --delay 60 '_'
xdotool key Return
await 'authoring draft easy_jowl' 30 "the draft is begun"
[ -f "$scenario" ] || fail "it has no file"

echo "-- the patient, live"
await 'places .*authoring\.section\.2=' 30 "its parts"
click authoring.section.2
await 'authoring section 2' 30 "the patient's page"
sleep 2
picture patient
scroll_to authoring.field.jowl_left authoring.field.age_years
click authoring.field.jowl_left
await 'focus authoring\.field\.jowl_left' 30 "a figure can be typed"
for i in $(seq 8); do xdotool key BackSpace; done
xdotool type --delay 60 '1.7'
sleep 0.5
picture refused
if tr -d '\n ' <"$patient" | grep -q '"jowl_left":1.7'; then fail "what is refused is kept"; fi
for i in 1 2 3; do xdotool key BackSpace; done
xdotool type --delay 60 '0.83'
kept "$patient" '"jowl_left":0.83[,}]' "the jowl"

echo "-- a vector, on the head"
click authoring.section.4
await 'places .*authoring\.end\.1' 60 "the vector is on the head"
before=$(tr -d '\n ' <"$scenario" | grep -o '"end_mm":\[[^]]*\]' | head -n 1)
read -r x y <<<"$(where 'authoring\.end\.1')"
xdotool mousemove "$x" "$y"
sleep 0.2
xdotool mousedown 1
for i in 1 2 3 4 5 6; do
  xdotool mousemove_relative -- 4 3
  sleep 0.1
done
xdotool mouseup 1
await 'authoring placed end 1' 30 "its end is drawn along the skin"
sleep 1.5
after=$(tr -d '\n ' <"$scenario" | grep -o '"end_mm":\[[^]]*\]' | head -n 1)
[ "$before" != "$after" ] || fail "the end stays at $before"
picture vector
click 'authoring.field.plan/0.duplicate'
kept "$scenario" '"plan":\[\{.*\},\{.*\}\],' "a second vector"
xdotool key ctrl+z
xdotool key ctrl+z
sleep 1.5
[ "$(tr -d '\n ' <"$scenario" | grep -o '"end_mm":\[[^]]*\]' | head -n 1)" = "$before" ] || fail "undone, the end is not at $before"
xdotool key ctrl+y
kept "$scenario" "$(sed 's/[][]/\\&/g' <<<"$after")" "done again, its end"

echo "-- one aid off"
click authoring.section.6
await 'authoring section 6' 30 "aids and lesson"
sleep 1
scroll_to authoring.field.aids.2 authoring.field.ultrasound.1
sleep 1
click authoring.field.aids.2
kept "$scenario" '"aids":\["depthtrace","structures","force","advice","section"\]' "all aids but the cut-away"
picture aids

echo "-- its name, then the program is killed"
click authoring.section.1
await_again 'authoring section 1$' 2 30 "the words"
sleep 1
click authoring.field.title
xdotool key End
xdotool type --delay 60 ' B'
kept "$scenario" '"title":"[^"]*B"' "the title"
no_misfits
kill -KILL "$trainer"
wait "$trainer" 2>/dev/null || true

echo "-- tried and published"
start_trainer --author easy_jowl
await 'authoring draft easy_jowl' 60 "it is there again"
await 'places .*authoring\.publish' 30 "it can be published"
sleep 1
click authoring.publish
await 'authoring trying to publish' 30 "hands try it"
await 'authoring tried [a-z]+ [a-z]+ [a-z ]+' 600 "they have tried it"
sleep 1
picture tried
grep -Eq 'authoring tried pass fail published' "$journal" || fail "not published: $(grep 'authoring tried' "$journal")"
xdotool key Escape
await 'places .*authoring\.open\.easy_jowl' 30 "the list of drafts"
picture list
xdotool key Escape
await 'screen start' 30 "the start screen"
stop_trainer
no_misfits
"$pk" case check easy_jowl || fail "it is not as it was published"
start_trainer --scenario easy_jowl
await 'screen practice' 180 "a learner practises it"
await 'places .*aid\.vessels=' 60 "the aids that it allows"
[ -z "$(where 'aid\.cutaway')" ] || fail "the cut-away is offered, though it is off in the case"
stop_trainer
echo "done"

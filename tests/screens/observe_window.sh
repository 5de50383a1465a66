#!/usr/bin/env bash
# Looking on: a learner makes a graded attempt in one window, and an observer follows it in another, on another display
# and with other folders, from the learner's file alone. What the learner does is seen within seconds; freezing holds the
# observer's picture and nothing else; the end, a file that goes and one that is none are told. The observer writes nothing.
#
# usage: observe_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER PK WIDTHxHEIGHT [TEXT_PERCENT]
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
pk=$4
size=$5
text=${6:-100}
mark=observe_${size}_$text
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"

# two people, each with a display, a journal and a window
declare -A displays servers windows
who=
cleanup_both() {
  [ -z "$who" ] || windows[$who]=$trainer
  for one in "${windows[@]}" "${servers[@]}"; do [ -n "$one" ] && kill "$one" 2>/dev/null; done
  server='' trainer=''
  cleanup
}
trap cleanup_both EXIT
# be learner|observer: whose window is driven and whose journal is read from here on
be() {
  [ -z "$who" ] || windows[$who]=$trainer
  who=$1
  journal=$work/journal_$who
  trainer=${windows[$who]:-}
  if [ -z "${displays[$who]:-}" ]; then
    start_display
    displays[$who]=$DISPLAY
    servers[$who]=$server
  fi
  export DISPLAY=${displays[$who]}
}
count() { grep -Ec "$1" "$journal" || true; }
# what lies in the class's folder: names, rights, sizes, times and bytes
class_now() {
  find "$work/class" -printf '%P %m %s %T@\n' | sort
  find "$work/class" -type f -print0 | sort -z | xargs -0 sha256sum
}
# await_place NAME SECONDS: a named place stands on the screen that is shown now
await_place() {
  local deadline=$((SECONDS + $2))
  until [ -n "$(where "$1")" ]; do
    [ $SECONDS -lt $deadline ] || fail "not reached within $2 s: $1 on the screen"
    sleep 0.1
  done
}
names_now() { find "$work/class" -type f -printf '%f\n' | sort; }

echo "-- a learner begins a graded attempt in room 1"
be learner
export XDG_DATA_HOME="$work/class/Room 1" XDG_CONFIG_HOME=$work/learner_config
mkdir -p "$XDG_DATA_HOME"
start_trainer --mode graded --scenario hold_the_plane
await 'places .*entry\.1' 120 "practice"
record=$(grep -E '^[0-9]+ recording ' "$journal" | tail -n 1 | cut -d' ' -f3-)
names_now >"$work/names_before"

echo "-- an observer looks on"
be observer
export XDG_DATA_HOME=$work/desk XDG_CONFIG_HOME=$work/desk_config
start_trainer --text "$text" --observe "$work/class"
await 'observed rows 1 .* live' 10 "the list shows it live"
await_place observed.1 10
sleep 0.5
picture list
click observed.1
await 'screen observing attempt' 120 "the attempt is looked on at"
await 'observed standing live' 10 "it is live"

echo "-- what the learner does is seen"
be learner
xdotool key 1
await 'event instrument taken subject 0' 30 "needle"
click entry.1
await 'event entry chosen' 30 "at the entry"
hold_until w 'event layer crossed subject 2' "in fat"
be observer
await 'observed Instrument taken' 5 "the needle is seen"
await 'observed Entry chosen' 5 "the entry is seen"
await 'observed Layer crossed' 5 "the layer is seen"
sleep 0.5
picture live

echo "-- frozen: the picture stands, the learner goes on"
xdotool key k
await 'frozen [0-9]+' 10 "frozen"
at=$(grep -E '^[0-9]+ frozen ' "$journal" | tail -n 1 | cut -d' ' -f3)
be learner
hold_until s 'event entry opened' "open"
xdotool key 2
await 'event instrument taken subject 1' 30 "cannula"
hold_until w 'event track opened' "the pass has begun"
sleep 3
be observer
[ "$(count 'observed Entry opened')" = 0 ] || fail "a frozen picture went on"
seen=$(grep -E '^[0-9]+ observed steps ' "$journal" | tail -n 1 | cut -d' ' -f4)
[ "$seen" -le "$at" ] || fail "frozen at step $at, the picture stands at $seen"
picture frozen
xdotool key k
await 'present [0-9]+' 10 "to the present"
await 'observed Track opened' 10 "what came meanwhile is seen"
[ "$(count 'observed Entry opened')" = 1 ] || fail "an event was lost while the picture stood still"

echo "-- an event leads to its moment, and back"
[ "$text" = 100 ] || click observe.page.2
await 'places .*observe\.event\.[0-9]' 10 "the list of events"
sleep 0.5
picture events
newest=$(grep -E '^[0-9]+ places ' "$journal" | tail -n 1 | grep -oE 'observe\.event\.[0-9]+' | sort -t. -k3 -n | tail -n 1)
click "$newest"
await_again 'frozen [0-9]+' 2 10 "stands at the event"
sleep 0.5
[ "$(grep -E '^[0-9]+ frozen ' "$journal" | tail -n 1 | cut -d' ' -f3)" -gt "$at" ] || fail "not the newest event's moment"
[ "$text" = 100 ] || { click observe.page.3; sleep 0.5; picture inside; click observe.page.1; }
xdotool key Escape
await_again 'screen observing list' 2 10 "back at the list"
await_place observed.1 10
click observed.1
await_again 'screen observing attempt' 2 60 "and to the attempt again, in its middle"

echo "-- the file goes, and comes back"
mv "$record" "$work/away"
await 'trouble .*No such file' 10 "it is told"
sleep 0.5
picture gone
mv "$work/away" "$record"
await 'trouble over' 10 "it is followed again"

echo "-- the learner gives up"
be learner
xdotool key Escape
sleep 0.5
xdotool key Escape
await 'screen start' 30 "the attempt was left"
stop_trainer
be observer
await 'observed standing given up' 10 "its end is seen"
sleep 0.5
picture ended
grep -qE 'screen score| of [0-9]+ points' "$journal" && fail "a score is told to an observer"

echo "-- nothing was written"
class_now >"$work/before"
sleep 3
xdotool key Escape
await_again 'screen observing list' 3 10 "at the list"
await 'observed rows 1 .* given up' 10 "which says so"
sleep 2
class_now >"$work/after"
cmp "$work/before" "$work/after" || fail "the class's folder changed under an observer: $(diff "$work/before" "$work/after")"
names_now | comm -13 "$work/names_before" - >"$work/new"
grep -vE '\.seal$|^finished\.jsonl$' "$work/new" && fail "files that no trainer made: $(cat "$work/new")"
[ "$("$pk" verify "$record" | head -n 1 | grep -c 'intact, finished')" = 1 ] || fail "the record is not whole"

echo "-- what is no attempt is told by name"
mkdir -p "$work/class/Room 2/attempts"
echo "not an attempt" >"$work/class/Room 2/attempts/odd.attempt"
sleep 2
picture odd
xdotool key Escape
await 'screen start' 10 "to the trainer's start"
stop_trainer
no_misfits
echo "done"

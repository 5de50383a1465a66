#!/usr/bin/env bash
# Drives the real trainer in a real window with real mouse and key events, from the start screen to the score, and
# leaves a picture of each screen. What was reached is read from the journal that the trainer writes.
#
# usage: drive_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=$4
for tool in Xvfb xdotool import convert; do
  command -v "$tool" >/dev/null || { echo "skipped: $tool is not installed (see tools/packages.txt)"; exit 77; }
done

mkdir -p "$pictures"
work=$(mktemp -d)
journal=$work/journal
server= trainer=
cleanup() {
  [ -n "$trainer" ] && kill "$trainer" 2>/dev/null
  [ -n "$server" ] && kill "$server" 2>/dev/null
  wait 2>/dev/null || true
  rm -rf "$work"
}
trap cleanup EXIT

fail() {
  echo "FAILED: $1"
  import -window root "$pictures/failed_$size.png" 2>/dev/null || true
  echo "-- last of the journal:"
  tail -n 30 "$journal" | cut -c 1-300
  exit 1
}

# await PATTERN SECONDS WHAT: the journal gains a line that matches
await() {
  local deadline=$((SECONDS + $2))
  until grep -Eq "$1" "$journal" 2>/dev/null; do
    [ $SECONDS -lt $deadline ] || fail "not reached within $2 s: $3"
    kill -0 "$trainer" 2>/dev/null || fail "the trainer ended before: $3"
    sleep 0.1
  done
  echo "reached: $3"
}

# where NAME: "X Y" of a named place on the screen that is shown now
where() {
  grep -E '^[0-9]+ places ' "$journal" | tail -n 1 | tr ' ' '\n' | grep -E "^$1=" | tail -n 1 | cut -d= -f2 | tr ',' ' '
}
click() {
  local at
  at=$(where "$1")
  [ -n "$at" ] || fail "there is no $1 on the screen"
  # shellcheck disable=SC2086
  xdotool mousemove $at
  sleep 0.2
  xdotool mousedown 1
  sleep 0.1
  xdotool mouseup 1
}
# hold KEY until PATTERN appears in the journal
hold_until() {
  xdotool keydown "$1"
  local failed=0
  await "$2" 60 "$3" || failed=1
  xdotool keyup "$1"
  return $failed
}
hold_for() {
  xdotool keydown "$1"
  sleep "$2"
  xdotool keyup "$1"
}
picture() {
  sleep 0.4
  import -window root "$pictures/$1_$size.png"
  local colours
  colours=$(convert "$pictures/$1_$size.png" -format '%k' info:)
  [ "$colours" -gt 100 ] || fail "the picture of the $1 screen is nearly blank: $colours colours"
}

exec 3< <(exec Xvfb -displayfd 1 -screen 0 "${size}x24" -nolisten tcp 2>/dev/null & echo "pid $!"; wait)
read -r _ server <&3
read -r display <&3
export DISPLAY=:$display
unset WAYLAND_DISPLAY SDL_VIDEODRIVER
export XDG_DATA_HOME=$work/data XDG_CACHE_HOME=$work/cache XDG_CONFIG_HOME=$work/config PLANEKEEPER_HOME=$source_folder

"$program" --size "$size" --journal "$journal" &
trainer=$!
await 'screen start' 60 "start screen"
await 'places .*start\.hold_the_plane' 30 "the drill on the start screen"
window=$(xdotool search --sync --onlyvisible --name '^Planekeeper$' | head -n 1)
xdotool windowmove "$window" 0 0 2>/dev/null || true
xdotool windowfocus "$window" 2>/dev/null || true
picture start

click start.hold_the_plane
await 'screen practice' 120 "practice screen"
await 'places .*entry\.1' 30 "the planned entry on the screen"
picture practice

click tray.1
await 'event instrument taken subject 0' 20 "pilot needle taken with the mouse"
click entry.1
await 'event entry chosen' 20 "entry chosen with the mouse"
hold_until w 'event layer crossed subject 2' "the pilot is in superficial fat"
picture pilot
hold_until s 'event entry opened' "the pilot is out and the entry open"

xdotool key 2
await 'event instrument taken subject 1' 20 "cannula taken with its key"
hold_until w 'event track opened' "the cannula is in"
hold_for w 2  # through the skin at the slope of the opening, then along the fat
hold_for q 1
hold_for w 4
picture pass
hold_until s 'event withdrawal began' "withdrawal"
hold_until s 'event track closed' "the cannula is out"
xdotool key Return
await 'screen score' 60 "score screen"
await 'places .*debrief\.loss\.2' 30 "what cost points, in a list"
click debrief.loss.2
await 'selected 2 At 00:' 20 "a loss leads to its moment, said in words"
xdotool key Down
xdotool key Right Right Left
picture score
click debrief.trace
click debrief.page.3
await 'places .*debrief\.beside\.2' 20 "side by side"
click debrief.beside.2
picture beside
click debrief.page.1
xdotool key p
await '[0-9]+ paper .*\.pdf' 60 "the debrief on paper"
paper=$(grep -E '^[0-9]+ paper ' "$journal" | tail -n 1 | cut -d' ' -f3-)
[ "$(head -c 5 "$paper")" = '%PDF-' ] || fail "$paper is no PDF"

xdotool key Escape
deadline=$((SECONDS + 20))
until [ "$(grep -c 'screen start' "$journal")" -ge 2 ]; do
  [ $SECONDS -lt $deadline ] || fail "Escape does not lead back to the list"
  sleep 0.1
done
echo "reached: back at the list"

attempt=$(grep -E '^[0-9]+ attempt ' "$journal" | tail -n 1 | cut -d' ' -f3-)
[ -s "$attempt" ] || fail "no attempt was kept"
# the record that was kept is shown again, with the same words
"$program" --replay "$attempt" --screen score --picture "$pictures/replay_$size.png" --size "$size" --journal "$work/replay" ||
  fail "the kept attempt cannot be shown again"
grep -q 'screen score replay' "$work/replay" || fail "the replay does not reach the score"

if grep -E '^[0-9]+ misfit ' "$journal"; then fail "text found too little room"; fi
echo "all screens reached; pictures in $pictures"

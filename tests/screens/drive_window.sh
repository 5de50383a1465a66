#!/usr/bin/env bash
# A whole pass with real events in a real window, on any scenario, from the start screen to the score and back; then the
# record that was kept is shown again.
#
# usage: drive_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT [SCENARIO]
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=$4
scenario=${5:-hold_the_plane}
mark=${scenario}_$size
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
start_trainer
await 'places .*start\.first_pass' 30 "the list on the start screen"
scroll_to "start.$scenario" start.first_pass
picture start

click "start.$scenario"
await 'screen practice' 300 "practice screen"
await 'places .*entry\.1' 60 "the planned entry on the screen"
picture practice

click tray.1
await 'event instrument taken subject 0' 60 "pilot needle taken with the mouse"
click entry.1
await 'event entry chosen' 60 "entry chosen with the mouse"
hold_until w 'event layer crossed subject 2' "the pilot is in superficial fat"
picture pilot
hold_until s 'event entry opened' "the pilot is out and the entry open"

# where a thread is to be set, its cannula stands after the bare one
cannula=1
[ "$scenario" = set_one_thread ] && cannula=2
xdotool key $((cannula + 1))
await "event instrument taken subject $cannula" 60 "cannula taken with its key"
if [ "$scenario" = set_one_thread ]; then
  # a thread stays where it lies in fat: as steep as the opening through the skin, then flat along the layer
  hold_for e 1.2
  hold_until w 'event track opened' "the cannula is in"
  hold_for w 0.8
  hold_for q 2.2
  hold_for w 8
else
  hold_until w 'event track opened' "the cannula is in"
  hold_for w 2  # through the skin, then along the fat
  hold_for q 1
  hold_for w 4
fi
picture pass
hold_until s 'event withdrawal began' "withdrawal"
hold_until s 'event track closed' "the cannula is out"
if [ "$scenario" = set_one_thread ]; then
  await '[0-9]+ tissue ready' 300 "the tissue has come"
  await 'event thread left' 20 "the thread stays in the tissue"
  click thread.stroke.softer
  click thread.stroke.softer
  xdotool key k
  await 'event stroked subject 1' 60 "the tissue is stroked from the far end"
  click thread.stroke_entry
  await_again 'event stroked subject 1' 2 60 "and from the entry, with the mouse"
  picture thread
  # the other hand is laid over the far end and pushes the skin back: a skin-shift test
  xdotool key m
  hold_until z 'event hand settled subject 2' "the skin is pushed by the other hand"
  picture other_hand
  # a pass made without looking holds little: whether it holds this pull or comes out, the tissue has answered
  hold_until r 'event (traction|thread out) subject 1' "the tail is pulled, and the tissue has settled under it"
fi
# the planned pass is not made to its end: the first Enter is asked about, the second ends it
xdotool key Return
sleep 0.7
grep -q 'screen score' "$journal" && fail "an unfinished pass ends without being asked about"
xdotool key Return
await 'screen score' 120 "score screen"
if [ "$scenario" = hold_the_plane ]; then
  # a pass that costs points for certain: from the losses to their moments, another path beside it, and onto paper
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
else
  picture score
fi

xdotool key Escape
await_again 'screen start' 2 30 "back at the list"
await 'attempts 1$' 60 "the list knows the attempt"
picture list

attempt=$(grep -E '^[0-9]+ attempt ' "$journal" | tail -n 1 | cut -d' ' -f3-)
[ -s "$attempt" ] || fail "no attempt was kept"
# the record that was kept is shown again, with the same words
"$program" --replay "$attempt" --screen score --picture "$pictures/replay_$mark.png" --size "$size" --journal "$work/replay" ||
  fail "the kept attempt cannot be shown again"
grep -q 'screen score replay' "$work/replay" || fail "the replay does not reach the score"
no_misfits
echo "all screens reached; pictures in $pictures"

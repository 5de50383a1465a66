#!/usr/bin/env bash
# Every screen in a real window at one size and one size of text, by keyboard alone but for the click on the skin. Fails
# on text that is cut, overlaps, is covered or leaves its panel (measured from what was drawn); leaves pictures.
#
# usage: walk_screens.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT TEXT_PERCENT
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=$4
text=$5
mark=${size}_$text
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
start_trainer --text "$text"
await 'places .*start\.next' 60 "start screen"
picture start

focus_on start.settings
picture start_focus
xdotool key Return
await 'screen settings' 30 "settings, by keyboard"
focus_on settings.motion.1
picture settings
xdotool key Right
focus_on settings.motion.2 Right
xdotool key Return
sleep 0.5
grep -q '"reduced_motion": true' "$work/config/planekeeper/settings.json" || fail "a setting made by keyboard is not kept"
focus_on settings.captions.2
picture settings_end
xdotool key Escape
await_again 'screen start' 2 30 "Escape leads back"

focus_on start.past
xdotool key space
await 'screen past' 30 "past attempts, by keyboard"
picture past_empty
xdotool key Escape
await_again 'screen start' 3 30 "Escape leads back"

xdotool key 1
await 'screen practice first_pass' 120 "the first lesson, by its number"
await 'places .*entry\.1' 30 "the planned entry on the screen"
picture lesson
xdotool key 1
await 'lesson 1 of' 30 "first step done"
click entry.1
await 'lesson 2 of' 30 "entry chosen"
hold_until w 'lesson 3 of' "the pilot is in superficial fat"
hold_until s 'lesson 4 of' "the entry is open"
xdotool key 2
await 'lesson 5 of' 30 "cannula taken"
hold_until e 'lesson 6 of' "sloping as the needle did"
hold_until w 'lesson 7 of' "7 mm in"
hold_until q 'lesson 8 of' "level"
hold_until space 'lesson 9 of' "depth checked"
picture lesson_trace
xdotool key i
await 'places .*section\.close' 20 "the section along the shaft, by key"
picture lesson_section
xdotool key i
xdotool key o
await 'settings open' 20 "settings over the tray, by key"
before=$(grep -E '^[0-9]+ steps ' "$journal" | tail -n 1 | cut -d' ' -f3)
sleep 0.7
picture lesson_settings
after=$(grep -E '^[0-9]+ steps ' "$journal" | tail -n 1 | cut -d' ' -f3)
[ "$before" = "$after" ] || fail "time goes on behind the settings: step $before, then $after"
xdotool key Escape
await 'settings closed' 20 "back to the attempt"
hold_until w 'lesson 10 of' "30 mm in"
hold_until s 'lesson 11 of' "the cannula is out"
picture lesson_end
xdotool key Return
await 'screen score pass' 60 "who does what the lesson says passes"
picture score
xdotool key Escape
await_again 'screen start' 4 30 "Escape leads back"
await 'attempts 1$' 60 "the list knows the attempt"
echo "not an attempt" >"$work/data/planekeeper/attempts/broken.attempt"
focus_on start.past
xdotool key Return
await_again 'screen past' 2 30 "past attempts"
xdotool key Escape
await 'attempts 2$' 60 "the broken one is listed"
focus_on start.past
xdotool key Return
await_again 'screen past' 3 30 "past attempts"
picture past
focus_on past.1
xdotool key Return
await_again 'screen score' 2 60 "a past attempt is shown"
xdotool key i
await 'places .*debrief\.layer\.2' 20 "depth, structures and section, by key"
focus_on debrief.layer.2
xdotool key Return
await 'layers made' 60 "the layers under the skin"
focus_on kind.veins
xdotool key Return
sleep 0.5
grep -q '"show_veins": false' "$work/config/planekeeper/settings.json" || fail "a kind that was put out is not kept"
picture inside
no_misfits
echo "every screen at $size, text $text %; pictures in $pictures"

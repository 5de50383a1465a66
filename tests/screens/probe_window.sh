#!/usr/bin/env bash
# The ultrasound probe in a real window: taken from the tray by mouse, laid on the skin, slid by a drag over its
# picture, turned by the wheel, put away. In graded work too. Fails on text without room.
#
# usage: probe_window.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=$4
mark=probe_$size
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
start_trainer --scenario skirt_the_artery --mode graded
await 'screen practice' 300 "practice screen"
await 'places .*tray\.probe' 30 "the probe lies on the tray"
click tray.probe
await 'event aid used subject 6' 30 "taking it up is recorded"
xdotool key m
await 'places .*probe\.picture' 30 "its picture is live where the other hand lies"
sleep 1
picture laid
read -r x y < <(where probe.picture)
xdotool mousemove "$x" "$y" mousedown 1
for step in 1 2 3 4 5 6; do xdotool mousemove "$((x - 8 * step))" "$y"; sleep 0.05; done
xdotool mouseup 1
for _ in 1 2 3; do xdotool click 4; done
sleep 1
picture slid
[ -s "$pictures/laid_$mark.png" ] && ! cmp -s "$pictures/laid_$mark.png" "$pictures/slid_$mark.png" || fail "a drag changes nothing"
click probe.close
await_gone probe.picture 30 "it is put away"
no_misfits
stop_trainer
echo "all reached"

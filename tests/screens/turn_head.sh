#!/usr/bin/env bash
# A patient who lies back and turns the head, by keys and by mouse, in a real window.
#
# usage: turn_head.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER WIDTHxHEIGHT [TEXT_PERCENT]
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
source_folder=$2
pictures=$3
size=$4
text=${5:-100}
mark=turn_${size}_$text
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
start_trainer --scenario set_one_thread --text "$text"
await 'screen practice' 300 "practice screen"
await 'tissue the head can be turned' 600 "the tissue is there, and what a turn needs"
# where there is little room the switches are folded away
folded=
[ "$text" = 200 ] && folded=yes
[ -n "$folded" ] && click patient.fold && sleep 1
click practice.posture
await 'posture reclined 40°, Head straight' 60 "reclined"
sleep 2
xdotool key p
await 'posture lying, Head straight' 60 "lying"
sleep 2
click turn.left
await 'posture lying, Head 15° left' 60 "turned with the mouse"
sleep 2
xdotool key y
await 'posture lying, Head 30° left' 60 "turned further with the key"
sleep 2
picture left_close
xdotool key f
sleep 1
xdotool mousemove 500 400
for _ in 1 2 3 4 5; do xdotool click 5; done
sleep 1
picture left_whole
click turn.straight
await_again 'posture lying, Head straight' 2 60 "straight again"
sleep 2
xdotool key shift+y
await 'posture lying, Head 15° right' 60 "to the other side"
sleep 2
click turn.right
await 'posture lying, Head 30° right' 60 "and further"
sleep 2
picture right_whole
no_misfits

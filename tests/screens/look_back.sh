#!/usr/bin/env bash
# An earlier attempt is watched in place of the one that is looked back at, from the page of layers and structures, with
# layers faded, in a real window with real events.
#
# usage: look_back.sh PLANEKEEPER PK SOURCE_FOLDER PICTURE_FOLDER
# exit status: 0 all reached, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
pk=$2
source_folder=$3
pictures=$4
size=1280x720
mark=$size
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
mkdir -p "$work/data/planekeeper/attempts"
for hands in capable careless; do
  "$pk" rehearse hold_the_plane --script "hold_the_plane.$hands" \
    --out "$work/data/planekeeper/attempts/hold_the_plane-$hands.attempt" >/dev/null || fail "no $hands attempt"
done
start_trainer --replay "$work/data/planekeeper/attempts/hold_the_plane-careless.attempt"
await 'screen score replay' 120 "the debrief"
await 'places .*debrief\.page' 20 "its pages"
xdotool key i
await 'places .*debrief\.layer\.2' 20 "layers, structures and section"
click debrief.layer.2
await 'layers made' 60 "the layers under the skin"
picture inside_now
xdotool key b b b w
await 'watching earlier attempt' 60 "the earlier attempt is watched"
xdotool key Home Right Right Right
await 'places .*debrief\.layer\.2' 20 "still on the page of layers"
click debrief.layer.3
xdotool key k
sleep 1
xdotool key k
picture inside_earlier
xdotool key w
await 'watching this attempt' 20 "back at this attempt"
picture inside_back
no_misfits
echo "an earlier attempt was watched; pictures in $pictures"

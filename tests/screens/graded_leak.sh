#!/usr/bin/env bash
# Graded work gives nothing away: every screen of it is the same picture, bit for bit, whatever course the patient's vessels
# and nerves take. Where they are shown, in coached work, the two differ.
#
# usage: graded_leak.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER
set -euo pipefail

program=$1
pictures=$3
command -v convert >/dev/null || { echo "skipped: ImageMagick is not installed (see tools/packages.txt)"; exit 77; }
mkdir -p "$pictures"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset DISPLAY WAYLAND_DISPLAY
export SDL_VIDEODRIVER=offscreen XDG_DATA_HOME=$work/data XDG_CONFIG_HOME=$work/config PLANEKEEPER_HOME=$2
export XDG_CACHE_HOME=${XDG_CACHE_HOME:-$work/cache}
fail() {
  echo "FAILED: $1"
  exit 1
}

# two NAME arguments...: the still in the commonest anatomy and in one whose left facial artery runs otherwise. How far the
# tissue of a turned head has come is told in a row of the screen, and hangs on the clock: that row is left out.
two() {
  local name=$1 variant
  shift
  for variant in 0 8; do
    "$program" "$@" --variant $variant --picture "$work/$name.png" 2>"$work/words" || fail "no picture: $(cat "$work/words")"
    convert "$work/$name.png" -fill black -draw 'rectangle 0,60 800,100' "$pictures/leak_${name}_$variant.png"
  done
}
differ() {
  [ "$(convert "$pictures/leak_$1_0.png" "$pictures/leak_$1_8.png" -metric AE -compare -format '%[distortion]' info:)" != 0 ]
}

hands="--scenario skirt_the_artery --script skirt_the_artery.capable --at 12"
while read -r name rest; do
  # shellcheck disable=SC2086
  two "$name" --mode graded $rest
  if differ "$name"; then fail "$name shows which course the vessels take"; fi
  echo "the same in both: $name"
done <<END
pass $hands --vessels
section $hands --over section --vessels
settings $hands --over settings
visit --scenario whole_visit --script whole_visit.capable --at 5
END
# shellcheck disable=SC2086
two coached --mode coached $hands --vessels
differ coached || fail "the two anatomies are the same in coached work: this test sees nothing"
echo "done"

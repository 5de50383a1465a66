#!/usr/bin/env bash
# Stills without a display: not blank, the skin looks like skin, the cut shows fat, no text is cut off; and the trainer
# says what it needs where there is no OpenGL 3.3.
#
# usage: still_pictures.sh PLANEKEEPER SOURCE_FOLDER PICTURE_FOLDER
set -euo pipefail

program=$1
pictures=$3
command -v convert >/dev/null || { echo "skipped: ImageMagick is not installed (see tools/packages.txt)"; exit 77; }
mkdir -p "$pictures"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset DISPLAY WAYLAND_DISPLAY
export SDL_VIDEODRIVER=offscreen XDG_DATA_HOME=$work/data XDG_CACHE_HOME=$work/cache XDG_CONFIG_HOME=$work/config PLANEKEEPER_HOME=$2
fail() {
  echo "FAILED: $1"
  exit 1
}

# average FILE X Y W H: mean "R G B" of a part of the picture, 0..255
average() { convert "$1" -crop "$4x$5+$2+$3" +repage -resize '1x1!' -format '%[fx:int(255*r)] %[fx:int(255*g)] %[fx:int(255*b)]\n' info:; }

for size in 1280x720 1920x1080; do
  for screen in start practice score; do
    file=$pictures/still_${screen}_$size.png
    "$program" --scenario hold_the_plane --script hold_the_plane.capable $([ $screen = practice ] && echo --at 12) \
      --screen $screen --picture "$file" --size $size 2> "$work/words" || fail "no picture of $screen at $size: $(cat "$work/words")"
    [ ! -s "$work/words" ] || fail "$screen at $size: $(cat "$work/words")"
    colours=$(convert "$file" -format '%k' info:)
    [ "$colours" -gt 100 ] || fail "$file is nearly blank: $colours colours"
    echo "drawn: $screen at $size, $colours colours"
  done
done

# twice the text in the smallest window: panels scroll or fold, nothing is cut or lies on something else
for screen in start practice; do
  file=$pictures/still_${screen}_1280x720_200.png
  "$program" --scenario hold_the_plane --script hold_the_plane.capable $([ $screen = practice ] && echo --at 12) \
    --screen $screen --picture "$file" --size 1280x720 --text 200 2> "$work/words" || fail "no picture of $screen at 200 %"
  [ ! -s "$work/words" ] || fail "$screen at 200 %: $(cat "$work/words")"
done

# what opens over the tray, and the page of layers, structures and section, in the smallest room and the largest
for size_and_text in "1280x720 100" "1280x720 200" "3840x2160 100" "3840x2160 200"; do
  read -r size text <<<"$size_and_text"
  for still in "section practice --at 12 --over section" "settings practice --at 12 --over settings" "inside score --page 6 --layers 2110"; do
    read -r name screen rest <<<"$still"
    file=$pictures/still_${name}_${size}_$text.png
    # shellcheck disable=SC2086
    "$program" --scenario hold_the_plane --script hold_the_plane.capable --screen "$screen" $rest \
      --picture "$file" --size "$size" --text "$text" 2> "$work/words" || fail "no picture of $name at $size, $text %"
    [ ! -s "$work/words" ] || fail "$name at $size, $text %: $(cat "$work/words")"
    colours=$(convert "$file" -format '%k' info:)
    [ "$colours" -gt 100 ] || fail "$file is nearly blank: $colours colours"
  done
  echo "drawn: section, settings over the tray, layers and structures at $size, text $text %"
done

# the probe's picture over the tray, where the other hand has laid it
printf 'touch 45.6 -75.5 40.0\nwait 0.1 s\n' > "$work/probe.script"
for size_and_text in "1280x720 100" "1920x1080 200"; do
  read -r size text <<<"$size_and_text"
  file=$pictures/still_probe_${size}_$text.png
  "$program" --scenario skirt_the_artery --script "$work/probe.script" --screen practice --over probe \
    --picture "$file" --size "$size" --text "$text" 2> "$work/words" || fail "no picture of the probe at $size, $text %"
  [ ! -s "$work/words" ] || fail "probe at $size, $text %: $(cat "$work/words")"
  echo "drawn: probe at $size, text $text %"
done

"$program" --scenario hold_the_plane --script hold_the_plane.careless --screen score \
  --picture "$pictures/still_careless.png" --size 1280x720 2> "$work/words"
[ ! -s "$work/words" ] || fail "a score with many deductions: $(cat "$work/words")"

# skin where the slab's skin lies: redder than green, greener than blue, neither black nor white
"$program" --scenario hold_the_plane --view whole --picture "$pictures/still_whole.png" --size 1280x720
read -r r g b < <(average "$pictures/still_whole.png" 440 300 60 40)
[ "$r" -gt "$g" ] && [ "$g" -gt "$b" ] && [ "$r" -gt 110 ] && [ "$r" -lt 250 ] || fail "the skin is not skin-coloured: $r $g $b"
echo "skin-coloured: $r $g $b"

status=0
SDL_VIDEODRIVER=dummy "$program" --scenario hold_the_plane --picture "$work/no.png" 2> "$work/words" || status=$?
[ $status -eq 1 ] || fail "without OpenGL the exit status is $status, not 1"
grep -q "OpenGL 3.3 is needed" "$work/words" || fail "without OpenGL it does not say what is needed: $(cat "$work/words")"
echo "refused with words: $(head -c 120 "$work/words")"

status=0
PLANEKEEPER_HOME=$work/nowhere "$program" --picture "$work/no.png" --screen start 2> "$work/words" || status=$?
[ $status -ne 139 ] && [ $status -ne 134 ] || fail "missing assets crash"

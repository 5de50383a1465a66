#!/usr/bin/env bash
# The disk that keeps attempts fills up in mid-pass: it is said on the screen while the hands work, the pass goes on,
# nothing on the disk is harmed, and all is written once there is room again. Where there never is, the record stays
# intact, unfinished, and every later step says what it could not keep.
#
# usage: full_disk.sh PLANEKEEPER PK SOURCE_FOLDER PICTURE_FOLDER [disk|limit]
#   disk: a small disk of its own (needs mounts); limit: the greatest file size of the trainer instead; by default disk
#   where it can be had
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
pk=$2
source_folder=$3
pictures=$4
means=${5:-any}
size=1280x720
mark=$size
if [ "$means" != limit ] && [ -z "${OWN_MOUNTS:-}" ]; then
  probe=$(mktemp -d)
  for own in "unshare --mount" "unshare --user --map-root-user --mount"; do
    # shellcheck disable=SC2086
    if $own mount -t tmpfs -o size=1m none "$probe" 2>/dev/null; then
      rmdir "$probe"
      # shellcheck disable=SC2086
      OWN_MOUNTS=1 exec $own "$0" "$program" "$pk" "$source_folder" "$pictures" disk
    fi
  done
  rmdir "$probe"
  [ "$means" = any ] || { echo "skipped: no disk can be mounted here"; exit 77; }
  means=limit
fi
command -v prlimit >/dev/null || { echo "skipped: prlimit is not installed"; exit 77; }
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display
disk=$work/data
mkdir -p "$disk"
export XDG_CONFIG_HOME=$disk/config
if [ "$means" = disk ]; then
  mount -t tmpfs -o size=1m none "$disk"
  trap 'umount -l "$disk"; cleanup' EXIT
  fill() { head -c 4M /dev/zero >"$disk/filler" 2>/dev/null || true; }
  make_room() { rm -f "$disk/filler"; }
else
  # a write beyond the greatest file size is refused as one to a full disk is; the journal goes through a pipe
  trap '' XFSZ
  mkfifo "$work/pipe"
  journal_to=$work/pipe
  fill() { prlimit --pid "$trainer" --fsize="$(stat -c %s "$record")":; }
  make_room() { prlimit --pid "$trainer" --fsize=unlimited:; }
fi
echo "means: $means"

verdict() { "$pk" verify "$1" | head -n 1; }
steps_now() { grep -E '^[0-9]+ steps ' "$journal" | tail -n 1 | cut -d' ' -f3; }

# the disk is full: told in the pass, which goes on
lose_the_record() {
  fill
  local before after
  before=$(steps_now)
  hold_until w '[0-9]+ record .*(No space left|File too large)' "the trouble is told in the pass"
  await 'places .*record\.trouble' 20 "and stands on the screen"
  hold_for w 2
  picture "$1"
  after=$(steps_now)
  [ "$after" -gt $((before + 250)) ] || fail "the pass does not go on: step $before, then $after"
  grep -qE '^[0-9]+ (attempt|screen score)' "$journal" && fail "the attempt was ended"
  [[ $(verdict "$record") == *'intact, unfinished'* ]] || fail "with a full disk: $(verdict "$record")"
}

# a pass that is not made to its end is asked about first
end_it() {
  xdotool key Return
  sleep 0.7
  xdotool key Return
}

# 1: there is room again before the end
begin_pass
lose_the_record full_disk
make_room
hold_until w '[0-9]+ record written again' "written again"
await_gone record.trouble 20 "the words go away"
hold_until s 'event track closed' "the cannula is out"
end_it
await 'screen score' 120 "score"
[[ $(verdict "$record") == *'intact, finished'* ]] || fail "with room again: $(verdict "$record")"
"$pk" score "$record" >/dev/null || fail "the record cannot be scored"
whole=$record
whole_sum=$(sha256sum <"$whole")
stop_trainer

# 2: there never is
rm -rf "$disk/planekeeper/debriefs"
begin_pass
lose_the_record full_disk_again
hold_until s 'event track closed' "the cannula is out"
end_it
await 'screen score' 120 "the debrief, from memory"
await '[0-9]+ trouble ' 20 "what could not be kept is told"
picture full_disk_debrief
[[ $(verdict "$record") == *'intact, unfinished'* ]] || fail "never room: $(verdict "$record")"
if [ "$means" = disk ]; then
  xdotool key p
  await '[0-9]+ trouble .*debriefs.*No space left' 60 "no room for the debrief on paper"
  picture full_disk_paper
  [ -z "$(find "$disk/planekeeper/debriefs" -type f 2>/dev/null)" ] || fail "a piece of a PDF was left"
  xdotool key r
  await_again 'screen practice' 2 120 "practice without a record"
  await_again 'places .*record\.trouble' 2 30 "it is said from the beginning"
  xdotool key 1
  await_again 'event instrument taken subject 0' 2 30 "and can be practised all the same"
  picture full_disk_not_kept
  xdotool key Escape
  await_again 'screen start' 1 30 "start"
else
  xdotool key Escape
  await_again 'screen start' 1 30 "start"
fi
picture full_disk_start
stop_trainer
[ "$(sha256sum <"$whole")" = "$whole_sum" ] || fail "an attempt of before was changed"
[[ $(verdict "$whole") == *'intact, finished'* ]] || fail "an attempt of before: $(verdict "$whole")"
[[ $(verdict "$record") == *'intact, unfinished'* ]] || fail "after the end: $(verdict "$record")"
echo "a full disk harms nothing and is told; pictures in $pictures"

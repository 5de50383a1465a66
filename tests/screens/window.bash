# Shared by the scripts that drive the real trainer in a real window with real mouse and key events. What was reached is
# read from the journal that the trainer writes. To be sourced after `program`, `source_folder`, `pictures` and `size`.

for tool in Xvfb xdotool import convert; do
  command -v "$tool" >/dev/null || { echo "skipped: $tool is not installed (see tools/packages.txt)"; exit 77; }
done

mkdir -p "$pictures"
work=$(mktemp -d)
journal=$work/journal
mark=${mark:-$size}  # ends the names of pictures
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
  import -window root "$pictures/failed_$mark.png" 2>/dev/null || true
  echo "-- last of the journal:"
  tail -n 30 "$journal" | cut -c 1-300
  exit 1
}

# without -noreset the server begins anew when its last client is killed, and for a moment nobody can reach it
start_display() {
  exec 3< <(exec Xvfb -noreset -displayfd 1 -screen 0 "${size}x24" -nolisten tcp 2>/dev/null & echo "pid $!"; wait)
  read -r _ server <&3
  read -r display <&3
  export DISPLAY=:$display
  unset WAYLAND_DISPLAY SDL_VIDEODRIVER
  export PLANEKEEPER_HOME=$source_folder XDG_CACHE_HOME=${XDG_CACHE_HOME:-$work/cache}
  export XDG_DATA_HOME=$work/data XDG_CONFIG_HOME=$work/config
}

# start_trainer arguments...: begins with an empty journal and waits for the window
start_trainer() {
  : >"$journal"
  # a test may have the journal come through a pipe
  if [ -n "${journal_to:-}" ]; then cat "$journal_to" >>"$journal" & fi
  "$program" --size "$size" --journal "${journal_to:-$journal}" "$@" &
  trainer=$!
  await 'screen (start|loading|sessions|rating|authoring|observing|cohort)' 60 "the window is there"
  local window
  window=$(xdotool search --sync --onlyvisible --name '^Planekeeper$' | head -n 1)
  xdotool windowmove "$window" 0 0 2>/dev/null || true
  xdotool windowfocus "$window" 2>/dev/null || true
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
# await_again PATTERN COUNT SECONDS WHAT: the journal has so many lines that match
await_again() {
  local deadline=$((SECONDS + $3))
  until [ "$(grep -Ec "$1" "$journal")" -ge "$2" ]; do
    [ $SECONDS -lt $deadline ] || fail "not reached within $3 s: $4"
    kill -0 "$trainer" 2>/dev/null || fail "the trainer ended before: $4"
    sleep 0.1
  done
  echo "reached: $4"
}

# stop_trainer: as a session's end asks it to, and it ends well
stop_trainer() {
  kill -TERM "$trainer"
  local status=0
  wait "$trainer" || status=$?
  trainer=
  [ $status -eq 0 ] || fail "the trainer ends with status $status"
}
# await_gone NAME SECONDS WHAT: a named place is no longer on the screen
await_gone() {
  local deadline=$((SECONDS + $2))
  while [ -n "$(where "$1")" ]; do
    [ $SECONDS -lt $deadline ] || fail "not reached within $2 s: $3"
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
# scroll_to NAME OVER: the wheel turned over a named place until another stands on the screen
scroll_to() {
  local at i
  at=$(where "$2")
  [ -n "$at" ] || fail "there is no $2 on the screen"
  # shellcheck disable=SC2086
  xdotool mousemove $at
  for i in $(seq 60); do
    [ -n "$(where "$1")" ] && return 0
    xdotool click 5
    sleep 0.3
  done
  fail "not reached with the wheel: $1"
}
# hold_until KEY PATTERN WHAT: until the journal gains the pattern
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
# focus_on NAME [KEY]: by Tab, or that key, until a control has the focus: the journal says which
focus_on() {
  local i
  for i in $(seq 60); do
    [ "$(grep -E '^[0-9]+ focus ' "$journal" | tail -n 1 | cut -d' ' -f3-)" = "$1" ] && return 0
    local before after
    before=$(grep -cE '^[0-9]+ focus ' "$journal" || true)
    xdotool key "${2:-Tab}"
    # one press, one move: a slow machine is waited for
    for after in $(seq 20); do
      [ "$(grep -cE '^[0-9]+ focus ' "$journal" || true)" -gt "$before" ] && break
      sleep 0.1
    done
  done
  fail "the keyboard does not reach $1"
}
# enter_and_pass: on the practice screen, the entry opened with the needle, and in the skin with the cannula
enter_and_pass() {
  xdotool key 1
  await 'event instrument taken subject 0' 30 "needle"
  click entry.1
  await 'event entry chosen' 30 "entry"
  hold_until w 'event layer crossed subject 2' "in fat"
  hold_until s 'event entry opened' "open"
  xdotool key 2
  await 'event instrument taken subject 1' 30 "cannula"
  hold_until w 'event track opened' "the pass has begun"
}
# begin_pass: a drill started, and in the skin with the cannula; its attempt's file is in $record
begin_pass() {
  start_trainer --scenario hold_the_plane
  await 'places .*entry\.1' 120 "practice"
  record=$(grep -E '^[0-9]+ recording ' "$journal" | tail -n 1 | cut -d' ' -f3-)
  enter_and_pass
}
picture() {
  sleep 0.4
  import -window root "$pictures/$1_$mark.png"
  local colours
  colours=$(convert "$pictures/$1_$mark.png" -format '%k' info:)
  [ "$colours" -gt 100 ] || fail "the picture of the $1 screen is nearly blank: $colours colours"
}
# nothing on any screen so far was cut off, overlapped, covered or out of its panel
no_misfits() {
  if grep -E '^[0-9]+ misfit ' "$journal"; then fail "text found too little room"; fi
}

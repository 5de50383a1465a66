#!/usr/bin/env bash
# The package, installed on a bare Debian 12, works without a display and leaves nothing behind when it is removed.
# Started by tools/clean_root deb, as root and inside that root.
set -euo pipefail
fail() {
  echo "FAILED: $1"
  exit 1
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export HOME=$work/home
cd "$work"

start=$(date +%s.%N)
pk check hold_the_plane || fail "pk check"
echo "first answer after $(date +%s.%N | awk -v s="$start" '{printf "%.2f", $1 - s}') s"
pk rehearse hold_the_plane --script hold_the_plane.capable --out demo.attempt
pk score demo.attempt | tee score.txt
grep -q "points" score.txt || fail "no score"
pk verify demo.attempt
pk report demo.attempt --pdf demo.pdf
[ "$(head -c 5 demo.pdf)" = "%PDF-" ] || fail "no debrief on paper"
start=$(date +%s.%N)
planekeeper --picture start.png --screen start || fail "no still of the start screen"
echo "start screen drawn after $(date +%s.%N | awk -v s="$start" '{printf "%.2f", $1 - s}') s"
planekeeper --language de --picture german.png --screen settings 2>words.txt || fail "no still in German: $(cat words.txt)"
! grep -q "English" words.txt || fail "no German words: $(cat words.txt)"
status=0
planekeeper 2>words.txt || status=$?
[ $status -eq 1 ] && [ -s words.txt ] || fail "without a display it does not say why: $status"
for page in planekeeper pk; do zcat /usr/share/man/man1/$page.1.gz | grep -q "^.TH" || fail "no manual page $page"; done
[ -s /usr/share/doc/planekeeper/copyright ] || fail "no copyright file"

dpkg -L planekeeper | sort >files.txt
apt-get -qy remove planekeeper >/dev/null
while read -r file; do
  [ -d "$file" ] || [ ! -e "$file" ] || fail "$file is left behind"
done <files.txt
[ ! -e /usr/share/planekeeper ] || fail "/usr/share/planekeeper is left behind"
[ -e "$HOME/.local/share/planekeeper" ] || fail "the learner's records went with the package"
echo "installed, used and removed"

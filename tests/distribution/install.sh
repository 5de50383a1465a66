#!/usr/bin/env bash
# An installed copy that was moved finds its own data and words, with no PLANEKEEPER_HOME and without leaning on the source,
# and writes nothing below itself. What tells a desktop of it is accepted by the desktop's own checkers.
#
# usage: install.sh BUILD_FOLDER SOURCE_FOLDER
set -euo pipefail
build=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
  echo "FAILED: $1"
  exit 1
}

cmake --install "$build" --prefix "$work/first" >"$work/installed" || fail "cmake --install: $(tail -5 "$work/installed")"
mv "$work/first" "$work/moved"
prefix=$work/moved
# a scenario that is nowhere else: who finds it has looked here
sed 's/"title": "[^"]*"/"title": "Only here"/' "$prefix/share/planekeeper/scenarios/drills/hold_the_plane.json" \
  >"$prefix/share/planekeeper/scenarios/drills/only_here.json"
find "$prefix" -type f | sort >"$work/before"
run() { (cd "$work" && env -i PATH=/usr/bin:/bin HOME="$work/home" SDL_VIDEODRIVER=offscreen "$@"); }

run "$prefix/bin/pk" check only_here || fail "pk does not find the scenario of its own prefix"
run "$prefix/bin/pk" rehearse only_here --script hold_the_plane.capable --out "$work/a.attempt"
run "$prefix/bin/pk" score "$work/a.attempt" | grep "points" || fail "no score"
run LANG=de_DE.UTF-8 "$prefix/bin/planekeeper" --picture "$work/p.png" --screen settings 2>"$work/words" || fail "no still: $(cat "$work/words")"
! grep "English" "$work/words" || fail "no German words in the prefix"
[ -s "$work/p.png" ] || fail "the still is empty"

find "$prefix" -type f | sort | diff "$work/before" - || fail "something was written below the prefix"
[ -d "$work/home/.local/share/planekeeper" ] || fail "nothing of the learner's lies in the home folder"
for page in planekeeper pk; do [ -s "$prefix/share/man/man1/$page.1.gz" ] || fail "no manual page $page"; done
for name in $(run "$prefix/bin/pk" --help | awk 'found {print $1} /^Subcommands/ {found = 1}'); do
  zcat "$prefix/share/man/man1/pk.1.gz" | grep -q "^.fB$name.fR" || fail "pk.1 does not tell of $name"
done
for part in "" $(run "$prefix/bin/pk" records --help | awk 'found {print $1} /^Subcommands/ {found = 1}'); do
  # shellcheck disable=SC2086
  for option in $(run "$prefix/bin/pk" records $part --help | grep -o -- '--[a-z-]*' | sort -u | sed 's/-/\\-/g'); do
    [ "$option" = '\-\-help' ] || zcat "$prefix/share/man/man1/pk.1.gz" | grep -qF -- "$option" || fail "pk.1 does not tell of $option of pk records $part"
  done
  zcat "$prefix/share/man/man1/pk.1.gz" | grep -q "^.fB${part:-records}.fR" || fail "pk.1 does not tell of pk records $part"
done
for option in $(run "$prefix/bin/planekeeper" --help | grep -o -- '--[a-z-]*' | sort -u | sed 's/-/\\-/g'); do
  zcat "$prefix/share/man/man1/planekeeper.1.gz" | grep -qF -- "$option" || fail "planekeeper.1 does not tell of $option"
done

if command -v desktop-file-validate >/dev/null; then
  desktop-file-validate "$prefix/share/applications/planekeeper.desktop" || fail "the desktop file is not accepted"
fi
if command -v appstreamcli >/dev/null; then
  appstreamcli validate --no-net "$prefix"/share/metainfo/*.xml || fail "the metainfo file is not accepted"
fi
echo "an installed copy stands on its own"

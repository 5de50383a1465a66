#!/usr/bin/env bash
# A school's records in the real trainer, by real events: begun from the start screen, filled with what was made at this
# machine, one learner looked at, printed; then records with accounts, where a wrong pass phrase shows nothing and a
# learner sees their own lines alone.
#
# usage: cohort_window.sh PLANEKEEPER PK SOURCE_FOLDER PICTURES SIZE [TEXT_PERCENT]
# exit status: 0 as it should be, 1 not, 77 skipped with a printed reason
set -euo pipefail

program=$1
pk=$2
source_folder=$3
pictures=$4
size=$5
percent=${6:-100}
mark=${size}_${percent}
# shellcheck source=tests/screens/window.bash
. "$(dirname "$0")/window.bash"
start_display

# a learner at this machine and one elsewhere, each with a key of their own
made=$XDG_DATA_HOME/planekeeper
rehearse() {  # rehearse DATA_HOME SCRIPT SEED NAME
  mkdir -p "$1/planekeeper/attempts"
  XDG_DATA_HOME=$1 "$pk" rehearse first_pass --script "first_pass.$2" --seed "$3" \
    --out "$1/planekeeper/attempts/$4.attempt" >/dev/null
}
rehearse "$work/data" capable 1 20260301-1
rehearse "$work/data" capable 2 20260302-1
rehearse "$work/other" careless 1 20260301-2

start_trainer --text "$percent"
await 'places .*start\.next' 60 "the start screen"
scroll_to start.cohort start.next
click start.cohort
await 'screen cohort' 20 "the cohort"
await 'places .*cohort\.begin' 20 "there are no records yet"
picture cohort_none
click cohort.begin
await 'cohort 0 learners' 30 "records are begun"
click cohort.put_in
await 'cohort 1 learners 1 scenarios' 60 "what was made here is put in"
picture cohort
click cohort.cell.1.1
await 'records attempts' 20 "one learner is asked for"
await 'places .*cohort\.all' 20 "one learner is shown"
picture cohort_one
click cohort.all
await_gone cohort.all 10 "back at all"
click cohort.paper
await 'paper .*cohort-.*\.pdf' 30 "the cohort on paper"
paper=$(grep -E '^[0-9]+ paper ' "$journal" | tail -n 1 | cut -d' ' -f3-)
if command -v pdftotext >/dev/null; then
  said=$(pdftotext -layout "$paper" -)
  grep -q 'Learner 1' <<<"$said" || fail "the paper does not name the learner"
  grep -q 'not a medical device' <<<"$said" || fail "the paper has no caution"
fi
xdotool key Escape
await_again 'screen start' 2 20 "back at the start"
no_misfits
stop_trainer

# records of a school, with accounts
records=$work/school.db
printf 'a phrase of some length\n' >"$work/secret"
"$pk" records init --records "$records" >/dev/null
"$pk" records add --records "$records" --new-learner Ada "$made"/attempts/*.attempt >/dev/null
"$pk" records add --records "$records" --new-learner Bob "$work"/other/planekeeper/attempts/*.attempt >/dev/null
"$pk" records account add ada --role learner --learner Ada --new-passphrase-file "$work/secret" --records "$records" >/dev/null
"$pk" records account add carla --role instructor --new-passphrase-file "$work/secret" --records "$records" >/dev/null

log_in() {  # log_in NAME PHRASE
  await 'places .*cohort\.login' 60 "asked who one is"
  click cohort.login
  await 'focus cohort.login' 10 "the log-in"
  for _ in $(seq 20); do xdotool key BackSpace; done
  xdotool type --delay 60 "$1"
  xdotool key Tab
  await 'focus cohort.passphrase' 10 "the pass phrase"
  xdotool type --delay 60 "$2"
  xdotool key Return
}
start_trainer --text "$percent" --records "$records"
log_in carla "another phrase altogether"
await 'trouble' 60 "a wrong phrase is refused"
grep -q 'cohort .* learners' "$journal" && fail "a wrong phrase shows a cohort"
picture cohort_refused
grep -q 'another phrase altogether' "$journal" && fail "a wrong pass phrase stands in the journal"
log_in carla "a phrase of some length"
await 'cohort 2 learners 1 scenarios' 60 "an instructor sees everybody"
picture cohort_instructor
no_misfits
stop_trainer
start_trainer --text "$percent" --records "$records"
log_in ada "a phrase of some length"
await 'cohort 1 learners 1 scenarios' 60 "a learner sees their own lines"
[ -z "$(where cohort.put_in)" ] || fail "a learner may put in others' attempts"
picture cohort_learner
grep -Eq 'a phrase of some length|another phrase altogether' "$journal" && fail "the pass phrase stands in the journal"
no_misfits
stop_trainer
echo "records begun, filled, printed; roles kept, at $size with text at $percent %"

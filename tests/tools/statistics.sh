#!/usr/bin/env bash
# pk statistics, kind after kind: the figures that a published or hand-worked table must give, what is refused and how, and
# that the manual page names every option.
#
# usage: statistics.sh PK SOURCE_FOLDER
set -euo pipefail
pk=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
export XDG_DATA_HOME=$work/data XDG_CONFIG_HOME=$work/config XDG_CACHE_HOME=$work/cache
fail() {
  echo "FAILED: $1"
  exit 1
}
# is "EXPRESSION of s" true, where s is the JSON that the rest of the line prints?
expect() {
  local what=$1
  shift
  "$pk" statistics "$@" --json >out.json || fail "pk statistics $*"
  python3 -c "import json, sys
s = json.load(open('out.json')); f = s['figures']; t = s['tables']
near = lambda a, b, e: abs(a - b) <= e
assert \"supervisor's decision\" in s['caution']
sys.exit(0 if ($what) else 1)" || fail "$what: $(cat out.json)"
  "$pk" statistics "$@" | grep -q "supervisor's decision" || fail "no caution: pk statistics $*"
}
refused() {
  local status=$1 message=$2
  shift 2
  local got=0
  "$pk" statistics "$@" >out 2>&1 || got=$?
  [ "$got" = "$status" ] || fail "pk statistics $* ended with $got, not $status: $(cat out)"
  grep -qF -- "$message" out || fail "pk statistics $* says: $(cat out)"
}

# Shrout and Fleiss 1979, Psychol Bull 86:420-8
printf 'target,j1,j2,j3,j4\r\nA,9,2,5,8\r\nB,6,1,3,2\r\nC,8,4,6,8\r\nD,7,1,2,6\r\nE,10,5,6,9\r\nF,6,2,4,7\r\n' >icc.csv
expect "near(t['forms'][1]['icc']['value'], .29, .005) and near(t['forms'][5]['icc']['value'], .91, .005)" icc icc.csv
# a kappa of 0.4 by hand: (0.7 - 0.5) / (1 - 0.5)
{ echo first,second; for i in {1..20}; do echo 1,1; done; for i in {1..5}; do echo 1,2; done; for i in {1..10}; do echo 2,1; done
  for i in {1..15}; do echo 2,2; done; } >kappa.csv
expect "near(f['kappa']['value'], .4, 1e-9)" kappa kappa.csv --grades 2 --weights none
# the same table of Shrout and Fleiss as a generalisability study: G of four judges is ICC(3,k), phi ICC(2,k)
{ echo person,rater,mark; awk -F'[,\r]' 'NR > 1 {for (j = 2; j <= 5; ++j) print $1 ",j" j "," $j}' icc.csv; } >g.csv
expect "near(t['decision_study'][0]['g'], .91, .005) and near(t['decision_study'][0]['phi'], .62, .005)" gstudy g.csv --raters 4 --cut 5
# by hand: two of three pass item a
printf 'name,a,b\nA,1,1\nB,1,0\nC,0,0\n' >items.csv
expect "near(t['items'][0]['difficulty'], 2 / 3, 1e-9)" items items.csv
# by hand: (3 x 2) / (1 x 2)
printf 'group,pass\npad,1\npad,1\npad,1\npad,0\nkeys,1\nkeys,1\nkeys,0\nkeys,0\n' >bias.csv
expect "near(f['odds_ratio']['value'], 3, 1e-9) and len(s['warnings']) == 3" bias bias.csv --group pad
# by hand: the line is 10 g + 30
printf 'grade,score\n1,40\n2,50\n3,60\n' >line.csv
expect "near(f['cut']['value'], 50, 1e-9) and 'below 50' in s['warnings'][0]" borderline line.csv --borderline 2
printf 'judge,a,b,c,d\n1,.6,.7,.5,.8\n2,.5,.8,.6,.7\n3,.7,.6,.5,.9\n' >angoff.csv
expect "near(f['cut']['value'], 7.9 / 3, 1e-9)" angoff angoff.csv
printf 'judge,least_cut,most_cut,least_fail,most_fail\n1,45,55,0,1\n' >hofstee.csv
expect "45 < f['cut'] < 55" hofstee hofstee.csv --scores line.csv
# eleven successes in a row reach 1.25: 11 ln(0.9/0.8) = 1.296
{ echo learner,attempt,pass; for i in {1..19}; do echo "A,$i,1"; echo "B,$i,0"; done; } >pass.csv
expect "[r['signal'] for r in t['learners']] == [11, None] and near(f['false_pass'], .653, .001)" lccusum pass.csv --limit 1.25
expect "f['false_pass'] <= .05 and f['limit'] > 1.25" lccusum pass.csv
expect "t['learners'][0]['crossings'] == '19 acceptable'" cusum pass.csv
{ echo learner,attempt,score; awk 'BEGIN {for (i = 1; i <= 12; ++i) print "A," i "," 80 - 40 * exp(-i / 5)}'; } >curve.csv
expect "near(t['curves'][0]['rate']['value'], 5, .01) and f['median']['value'] == 7" curve curve.csv --mark 70

# plots: whole files of their kind, with the words in them
plots() {
  local word=$1
  shift
  "$pk" statistics "$@" --plot plot.svg >/dev/null || fail "no plot: pk statistics $*"
  python3 -c "import xml.etree.ElementTree as e; assert e.parse('plot.svg').getroot().tag.endswith('svg')" || fail "plot.svg is no SVG"
  "$pk" statistics "$@" --plot plot.pdf >/dev/null
  if command -v pdftotext >/dev/null; then
    local said
    said=$(pdftotext -layout plot.pdf -)
    grep -qF -- "$word" <<<"$said" || fail "the plot does not say $word: $said"
    grep -q "supervisor's decision" <<<"$said" || fail "no caution on the plot"
  fi
}
plots "person x rater, and the rest" gstudy g.csv
plots "pass mark 50.0" borderline line.csv --borderline 2
plots "limit 1.25" lccusum pass.csv --limit 1.25
plots "h1, from the start" cusum pass.csv
plots "mark 70" curve curve.csv --mark 70
refused 2 'neither .svg nor .pdf' cusum pass.csv --plot plot.png

# line, column, value, range
printf 'grade,score\n1,40\n2,"4,5"\n' >bad.csv
refused 1 'pk: bad.csv: line 3, column 2 (score): "4,5" is not accepted; accepted: a number from' borderline bad.csv --borderline 2
refused 1 'accepted: a column named grade' borderline pass.csv --borderline 2
printf 'grade,"score\n1,2\n' >open.csv
refused 1 'open.csv: line 1, column 2: a quote that is not closed' borderline open.csv --borderline 2
printf 'grade,score\n2,40\n2,50\n2,60\n' >same.csv
refused 1 'pk: same.csv: grades: the same grade everywhere is not accepted' borderline same.csv --borderline 2
refused 1 'none.csv' icc none.csv
refused 1 'inadequate rate: 0.05 is not accepted; accepted: above 0.1' lccusum pass.csv --inadequate 0.05
refused 2 '--borderline is required' borderline line.csv
refused 2 '' nonsense line.csv

# every option of every kind stands in the manual
for kind in $("$pk" statistics --help | awk 'found {print $1} /^Subcommands/ {found = 1}'); do
  grep -q "^.fB$kind.fR" "$source/assets/man/pk.1" || fail "pk.1 does not tell of statistics $kind"
  for option in $("$pk" statistics "$kind" --help | grep -o -- '^ *--[a-z-]*' | tr -d ' ' | sort -u | sed 's/-/\\-/g'); do
    grep -qF -- "$option" "$source/assets/man/pk.1" || fail "pk.1 does not tell of $option of statistics $kind"
  done
done
echo "pk statistics gives what the tables ask for"

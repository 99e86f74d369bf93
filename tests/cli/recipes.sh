#!/bin/sh
# The README's recipes as written there: jq, awk, SQLite, the Makefile of a day's folder, the array job.
# They run in a scratch folder on the demo day, and are held against each other.
set -eu
LC_ALL=C
export LC_ALL
top=$(cd "$(dirname "$0")/../.." && pwd)
program=${BRAKETALLY:-$top/build/braketally}
case $program in /*) ;; *) program=$PWD/$program ;; esac
for tool in jq sqlite3 make; do
    command -v $tool >/dev/null || { echo "recipes: skipped, no $tool"; exit 0; }
done
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
mkdir "$scratch/bin" "$scratch/day" "$scratch/day/zones"
ln -s "$program" "$scratch/bin/braketally"
PATH=$scratch/bin:$PATH
bad() {
    echo "FAILED recipes: $*"
    exit 1
}

# Block number N of a language below "## In pipes": block LANGUAGE N
block() {
    awk -v open="\`\`\`$1" -v want="$2" '/^## In pipes/ { on = 1 } /^## The library/ { on = 0 }
        on && $0 == open { n++; inside = 1; next } /^```/ { inside = 0 } inside && n == want' "$top/README.md"
}

cd "$scratch/day"
cp "$top/testdata/demo/car.csv" "$top/testdata/demo/map.csv" .
for n in 1 2 3 4 5; do cp "$top/testdata/demo/saltmarsh_run$n.csv.gz" run$n.csv.gz; done
n=1
while [ -n "$(block sh $n)" ]; do
    block sh $n >"block$n.sh"
    n=$((n + 1))
done
recipe() { grep -l "$1" block*.sh; }
run() { # the recipe with this word, and what it prints
    KNOW='-c car.csv -m map.csv' sh -eu "$(recipe "$1")" 2>/dev/null
}

run 'drift zones.csv' >drift.out
[ "$(wc -l <zones.csv)" = 469 ] || bad "zones.csv has $(wc -l <zones.csv) lines" # 90 zones a run, run 2 has 108
run 'jq -s' >jq.out
grep -q '{"run":"run2","zones":108,' jq.out || bad "jq: $(cat jq.out)"
grep -q '^run5 346.68 s: ' jq.out || bad "jq: $(cat jq.out)"
run 'recovered_kj' >awk.out
[ "$(wc -l <awk.out)" = 5 ] || bad "awk: $(cat awk.out)"
run 'sqlite3 -box' >sqlite.out
[ "$(sqlite3 day.db 'select count(*), sum(typeof(recovered_kj) = "real") from zones')" = '468|468' ] || bad sqlite
[ "$(sqlite3 day.db "select run || printf(' %.0f kJ', sum(recovered_kj)) from zones group by run")" = "$(sort awk.out)" ] ||
    bad "sqlite and awk differ"

block make 1 >Makefile
MAKEFLAGS='' make -s
MAKEFLAGS='' make -q || bad "make would do it again"
[ "$(wc -l <day.csv)" = 6 ] || bad "day.csv"
grep -q '</html>' day.html || bad "day.html"

ls run?.csv.gz >logs.txt
cp "$(recipe SLURM)" task.sh
for n in 1 2 3; do SLURM_ARRAY_TASK_ID=$n sh task.sh; done
for n in 4 5; do PBS_ARRAY_INDEX=$n sh task.sh; done
run 'drift zones/' >pooled.csv
cmp pooled.csv drift.csv || bad "the pool of the array job"
echo "recipes: as written"

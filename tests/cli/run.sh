#!/bin/sh
# The whole program against case files.  A case is
#
#   == what it proves
#   $ a shell command; more lines with $ belong to it
#   > a line of stdout it must print
#   2> a line of stderr it must print
#   ? the exit status; 0 if there is no such line
#
# Commands run in a scratch folder of their case file, one after another; $top is the
# project, `braketally` the program ($BRAKETALLY, else build/braketally) and `plant` the simulator
# ($PLANT, else build/plant).
set -u
LC_ALL=C
export LC_ALL
unset COLUMNS

top=$(cd "$(dirname "$0")/../.." && pwd) || exit 2
program=${BRAKETALLY:-$top/build/braketally}
case $program in
/*) ;;
*) program=$PWD/$program ;;
esac
plant=${PLANT:-$top/build/plant}
case $plant in
/*) ;;
*) plant=$PWD/$plant ;;
esac
[ -x "$program" ] || { echo "no program at $program" >&2; exit 2; }

scratch=$(mktemp -d) || exit 2
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP
mkdir "$scratch/bin"
ln -s "$program" "$scratch/bin/braketally"
ln -s "$plant" "$scratch/bin/plant"
PATH=$scratch/bin:$PATH
export PATH top

passed=0
failed=0

begin() {
    name=$1
    want=0
    : >"$scratch/command"
    : >"$scratch/out.want"
    : >"$scratch/err.want"
}

# The files of a case: want on the left, got on the right.
differ() {
    [ "$failing" = yes ] || printf 'FAILED %s: %s\n' "$file" "$name"
    failing=yes
    printf '%s\n' "$1"
}

finish() {
    [ -n "$name" ] || return 0
    failing=no
    (cd "$scratch/work" && sh "$scratch/command") \
        >"$scratch/out.got" 2>"$scratch/err.got" </dev/null
    got=$?
    for stream in out err; do
        diff "$scratch/$stream.want" "$scratch/$stream.got" >"$scratch/diff" ||
            differ "std$stream, < wanted, > got:
$(cat "$scratch/diff")"
    done
    [ "$got" = "$want" ] || differ "status: wanted $want, got $got"
    if [ "$failing" = yes ]; then
        failed=$((failed + 1))
    else
        passed=$((passed + 1))
    fi
    name=
}

run_file() {
    file=$1
    name=
    rm -rf "$scratch/work"
    mkdir "$scratch/work"
    while IFS= read -r line || [ -n "$line" ]; do
        case $line in
        '== '*)
            finish
            begin "${line#== }"
            ;;
        '$ '*) printf '%s\n' "${line#\$ }" >>"$scratch/command" ;;
        '> '*) printf '%s\n' "${line#> }" >>"$scratch/out.want" ;;
        '>') echo >>"$scratch/out.want" ;;
        '2> '*) printf '%s\n' "${line#2> }" >>"$scratch/err.want" ;;
        '? '*) want=${line#\? } ;;
        '' | '#'*) ;;
        *)
            echo "$file: expected a line of a case, found '$line'" >&2
            exit 2
            ;;
        esac
    done <"$file"
    finish
}

[ $# -gt 0 ] || set -- "$top"/tests/cli/*.cases
for file; do
    run_file "$file"
done
echo "$passed passed, $failed failed"
[ "$failed" = 0 ]

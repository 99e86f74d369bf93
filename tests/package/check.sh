#!/bin/sh
# The package as others meet it: sh tests/package/check.sh [BUILD].  Installed below a scratch folder,
# used by clients that pkg-config helps to compile, taken away again.
set -u
LC_ALL=C
export LC_ALL
build=${1:-build}
CC=${CC:-cc}
CFLAGS=${CFLAGS:--O1}
failed=0
bad() {
    echo "FAILED package: $*"
    failed=1
}

scratch=$(mktemp -d) || exit 2
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP
root=$scratch/root
to() { MAKEFLAGS='' make -s BUILD="$build" DESTDIR="$root" PREFIX=/opt/tally "$1" >"$scratch/log" 2>&1 || {
    cat "$scratch/log"
    bad "make $1"
}; }

# -- the header alone --
cp lib/braketally.h "$scratch/"
for as in '-x c -std=c11' '-x c++ -std=c++11' '-x c++ -std=c++17'; do
    # shellcheck disable=SC2086
    clang $as -pedantic -Wall -Wextra -Werror -fsyntax-only "$scratch/braketally.h" || bad "header $as"
done

to install
prefix=$root/opt/tally
PKG_CONFIG_PATH=$prefix/lib/pkgconfig PKG_CONFIG_SYSROOT_DIR=$root
LD_LIBRARY_PATH=$prefix/lib
export PKG_CONFIG_PATH PKG_CONFIG_SYSROOT_DIR LD_LIBRARY_PATH

# -- the shared library shows what the header declares, no more and no less --
$CC -E -P "$prefix/include/braketally.h" | grep -o '\bbt_[a-z0-9_]*(' | tr -d '(' | sort -u >"$scratch/declared"
nm -D --defined-only "$prefix/lib/libbraketally.so" | awk '$2 ~ /[A-Z]/ && $3 !~ /^_/ { print $3 }' |
    sort >"$scratch/shown"
[ "$(wc -l <"$scratch/declared")" -gt 40 ] || bad "only $(wc -l <"$scratch/declared") functions in the header"
diff "$scratch/declared" "$scratch/shown" || bad "< in the header, > in the library"
version=$("$prefix/bin/braketally" --version)
version=${version#braketally }
[ "$(pkg-config --modversion braketally)" = "$version" ] || bad "version of the .pc file"
numbers=$(printf '#include <braketally.h>\nBT_VERSION_MAJOR BT_VERSION_MINOR BT_VERSION_PATCH\n' |
    $CC -E -P -I"$prefix/include" - | tail -n 1 | tr ' ' .)
[ "$numbers" = "$version" ] || bad "version $numbers in numbers, $version in words"
soname=$(objdump -p "$prefix/lib/libbraketally.so" | awk '$1 == "SONAME" { print $2 }')
case libbraketally.so.$version in
"$soname".*) ;;
*) bad "soname $soname of version $version" ;;
esac
[ -e "$prefix/lib/$soname" ] || bad "no $soname"

# -- the examples as clients, with the shared library and with the static one --
demo=testdata/demo
for c in tests/examples/*.c; do
    name=$(basename "$c" .c)
    # shellcheck disable=SC2046,SC2086
    $CC -std=c11 -pedantic -Wall -Wextra -Werror $CFLAGS $(pkg-config --cflags braketally) -o "$scratch/$name" "$c" \
        $(pkg-config --libs braketally) || bad "$c"
    # shellcheck disable=SC2046,SC2086
    $CC -std=c11 $CFLAGS $(pkg-config --cflags braketally) -o "$scratch/$name.static" "$c" \
        "$prefix/lib/libbraketally.a" $(pkg-config --static --libs-only-l braketally | sed 's/-lbraketally//') ||
        bad "$c, static"
    case $name in
    feed) set -- ;;
    events) set -- $demo/car.csv $demo/map.csv $demo/saltmarsh_run5.csv.gz ;;
    *) set -- $demo/car.csv $demo/map.csv $demo/saltmarsh_run1.csv.gz ;;
    esac
    "$scratch/$name" "$@" >"$scratch/$name.out" || bad "$name ends with $?"
    (unset LD_LIBRARY_PATH; "$scratch/$name.static" "$@") | cmp -s - "$scratch/$name.out" || bad "$name, static"
    [ ! -f README.md ] || awk 'NR == FNR { want = want $0 "\n"; next } { have = have $0 "\n" }
        END { exit !index(have, "```c\n" want "```\n") }' "$c" README.md || bad "README.md does not show $c"
done
# The plan in feed.c: three brakings of 24 m/s in 3 s with 60 bar; the edges of the smoothing cost some.
awk '/^zone/ { n++; if ($3 < 39.5 || $6 > 16.5 || $8 < 7.8 || $8 > 8.05 || $11 != 60) wrong = 1 }
    END { exit n != 3 || wrong }' "$scratch/feed.out" || { cat "$scratch/feed.out"; bad "figures of feed"; }
table() {
    name=$1
    shift
    "$prefix/bin/braketally" "$name" -q -f csv -c $demo/car.csv -m $demo/map.csv -o "$scratch/$name.csv" "$@" ||
        bad "table $name"
}
table zones $demo/saltmarsh_run1.csv.gz
rows=$(wc -l <"$scratch/zones.csv")
if [ "$rows" -lt 2 ] || [ "$(wc -l <"$scratch/zones.out")" != $((rows - 1)) ]; then bad "zones of the client"; fi
table events $demo/saltmarsh_run5.csv.gz
grave=$(grep -c -e ,watch, -e ,stop, "$scratch/events.csv")
if [ "$grave" = 0 ] || [ "$grave" != "$(grep -c -v ' (lasts): ' "$scratch/events.out")" ]; then
    bad "events of the client"
fi

# -- the tables are what their metadata says --
table runs $demo/saltmarsh_run5.csv.gz
table trace --every 0.5 $demo/saltmarsh_run5.csv.gz
table inspect $demo/saltmarsh_run5.csv.gz
table drift "$scratch/zones.csv"
table fit "$scratch/zones.csv"
table bypass "$scratch/zones.csv"
table compare "$scratch/zones.csv" $demo/saltmarsh_run5.csv.gz
"$prefix/bin/braketally" columns zones -f csv -o "$scratch/columns.csv"
python3 tests/package/csvw.py "$prefix/bin/braketally" "$scratch"/*.csv || bad "metadata of the tables"

# -- completion knows the words of the help --
complete=$prefix/share/bash-completion/completions/braketally
"$prefix/bin/braketally" --help >"$scratch/help"
{
    sed -n '/^commands:/,/^$/s/^  \([a-z]*\) .*/\1/p' "$scratch/help"
    grep -o -e '--[a-z][a-z-]*' "$scratch/help"
} | sort -u | while read -r word; do
    for file in "$complete" "$prefix/share/zsh/site-functions/_braketally"; do
        grep -q -e "[ '*|]${word}[ '=:[|)]" "$file" || echo "${file##*/}: $word"
    done
done | grep . && bad "words of the help are missing"
bash -c '. "$1"; COMP_WORDS=(braketally zones --nom) COMP_CWORD=2; _braketally; [ "${COMPREPLY[*]}" = --nominal ] &&
    COMP_WORDS=(braketally drift --against "") COMP_CWORD=3 && _braketally && [ "${COMPREPLY[*]}" = "lap time run" ] &&
    COMP_WORDS=(braketally zones --format = j) COMP_CWORD=4 && _braketally && [ "${COMPREPLY[*]}" = json ]' \
    - "$complete" || bad "completion of bash"
for page in man/*.[0-9]; do
    [ -s "$prefix/share/man/man${page##*.}/${page##*/}" ] || bad "no page $page"
done

to uninstall
left=$(find "$root" ! -type d)
[ -z "$left" ] || bad "left behind: $left"
[ $failed = 0 ] && echo "package: installed, used, taken away"
exit $failed

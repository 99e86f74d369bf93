#!/bin/sh
# The table of reference checks through the whole program, as the check programs print it.
#   sh tests/reference/table.sh BUILD          to stdout; fails if a check does
#   sh tests/reference/table.sh BUILD README   puts it between the marks of README as well
set -eu
build=$1 readme=${2:-}
rows=$(mktemp) page=$(mktemp)
trap 'rm -f "$rows" "$page"' EXIT
for check in check_reference check_reference_car check_reference_numbers; do
    BRAKETALLY_TABLE=$rows CK_VERBOSITY=minimal "$build/tests/$check" >&2
done
{
    echo '| figure | source | value | ours | tolerance | seen as | test |'
    echo '| --- | --- | --- | --- | --- | --- | --- |'
    cat "$rows"
} >"$page"
cat "$page"
[ -n "$readme" ] || exit 0
awk -v page="$page" '
    /<!-- table begins -->/ { print; while ((getline line < page) > 0) print line; skip = 1 }
    /<!-- table ends -->/ { skip = 0 }
    !skip' "$readme" >"$rows"
cat "$rows" >"$readme"

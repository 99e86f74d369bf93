#!/bin/sh
# Two builds are the same to the bit, in folders of their own, from the tarball alone.
#   sh tests/package/reproducible.sh [BUILD]
set -eu
build=${1:-build}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP
unset MAKEFLAGS MAKELEVEL BUILD

cp "$build"/braketally-*.tar.gz "$scratch/first.tar.gz"
tar=$scratch/first.tar.gz
for where in here "somewhere/else"; do
    mkdir -p "$scratch/$where"
    tar -xzf "$tar" -C "$scratch/$where" --strip-components=1
    make -s -j2 -C "$scratch/$where" all completions dist
done
cd "$scratch/here/build"
failed=0
for made in braketally libbraketally.a libbraketally.so.*.*.* completion/* braketally-*.tar.gz; do
    cmp "$made" "$scratch/somewhere/else/build/$made" || failed=1
done
cmp braketally-*.tar.gz "$tar" || failed=1
grep -rlF "$scratch" braketally libbraketally.a libbraketally.so.*.*.* && failed=1
[ $failed = 0 ] && echo "reproducible: the same bits twice, and the tarball makes itself"
exit $failed

#!/bin/sh
# Data goes one way: an include in lib/ points to its own room or one upstream of it, and the
# program knows the public header alone.
rooms='base rows samples signals inspect zones verdict run saved laps drift plan fit story out'
grep -Ho '#include "[^"]*"' lib/*/*.[ch] cli/*.[ch] | awk -v rooms="$rooms" '
    BEGIN { n = split(rooms, r, " "); for (i = 1; i <= n; i++) order[r[i]] = i }
    {
        split($0, part, ":#include "); file = part[1]; split(file, from, "/")
        target = part[2]; gsub(/"/, "", target); split(target, to, "/")
        if (target == "braketally.h") next
        if (from[1] == "cli" ? target ~ /\// : !(order[to[1]] && order[to[1]] <= order[from[2]])) {
            print file ": includes " target ", which is not upstream of it"; bad = 1
        }
    }
    END { exit bad }'

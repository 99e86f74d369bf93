/* Wider registers where the processor has them: asked at run time, so that one program serves all, and
 * of no effect on any result.  -DBT_NARROW leaves them out, for tests of what other processors get. */
#ifndef BT_WIDE_H
#define BT_WIDE_H

#include <stdbool.h>

#if defined(__x86_64__) && defined(__GNUC__) && !defined(BT_NARROW)
#define BT_WIDE        1
#define BT_WIDE_TARGET __attribute__((target("avx2,bmi,popcnt")))
static inline bool bt_is_wide(void)
{
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("bmi") &&
           __builtin_cpu_supports("popcnt");
}
#else
#define BT_WIDE 0
#endif

#endif

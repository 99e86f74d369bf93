/* Did a figure move at once, or slowly?  METHODS 11.
 *
 * The laps are pooled over places (trend.h); the break is where the CUSUM of the
 * pooled values about their mean strays farthest.  Two questions, two p-values, each
 * by permuting whole laps (seed and number fixed, so the same every time):
 *   p_level  could laps that all have one level do this?  Statistic: the largest
 *            |CUSUM|.  Small for a slow drift as well, whose CUSUM strays too.
 *   p_line   could a straight line do this?  Statistic: rss_line / rss_step.  Small
 *            only where two levels fit so much better as chance hardly ever does.
 * A change is there if p_level is small; rss_step < rss_line says that a step
 * describes it better than a slow drift does, and p_line how sure that is.  The
 * CUSUM of the line's own residuals was tried for p_line: at the same rate of false
 * alarms it found a third of the steps that this finds. */
#ifndef BT_BREAKPOINT_H
#define BT_BREAKPOINT_H

#include "drift/trend.h"

typedef struct {
    size_t laps;            /* with a value */
    size_t at;              /* index in the panel of the first lap of the new level; 0 = none */
    double size;            /* mean of the pooled laps from there on minus before; NaN if none */
    double excursion;       /* largest |CUSUM|, unit of the figure times laps */
    double rss_step;        /* residual sum of squares of the pooled laps about the two levels, */
    double rss_line;        /* about the least-squares line, */
    double rss_level;       /* and about one level; all NaN if at = 0 */
    double p_level, p_line; /* NaN with fewer than BT_BREAK_LAPS_MIN laps */
} bt_break;
#define BT_BREAK_LAPS_MIN 5 /* with four, no order of laps is rarer than 2 in 24 */
/* slope: the trend of the panel, to pool it with (trend.h). */
bt_status bt_find_break(const bt_panel *panel, double slope, bt_break *out,
                        bt_error *err) BT_MUST_USE;

#endif

/* A line that does not follow its request: see stall.h (METHODS 8). */
#include "verdict/stall.h"

#include <math.h>

#define SLICE  0.1 /* s: long enough for noise to average out */
#define SLICES 5
#define MOVING 3 /* the first ones, in which the request has to move */

typedef struct {
    double line, request; /* Pa, means of a slice */
    bool lives;           /* the line moves in it at all */
} slice;

static double spread(const slice *s, int n, bool request)
{
    double least = INFINITY, most = -INFINITY;
    for (int i = 0; i < n; i++) {
        const double x = request ? s[i].request : s[i].line;
        if (isnan(x)) return NAN;
        least = fmin(least, x);
        most = fmax(most, x);
    }
    return most - least;
}

/* The last SLICES slices, the latest at the end. */
static void judge(const slice ring[SLICES], double end, bt_stall *out)
{
    if (!(spread(ring, SLICES, false) < BT_STALL_STILL)) return;
    if (!(spread(ring, MOVING, true) >= BT_STALL_MOVES)) return;
    bool lives = false;
    for (int i = 0; i < SLICES; i++) lives = lives || ring[i].lives;
    if (!lives) return;
    const double apart = ring[SLICES - 1].line - ring[MOVING - 1].request;
    if (!(out->time > 0)) out->start = end - SLICES * SLICE;
    out->time = end - out->start;
    if (fabs(apart) >= fabs(out->apart)) {
        out->apart = apart;
        out->line = ring[SLICES - 1].line;
    }
}

bt_stall bt_stall_find(const double *t, const double *request, const double *left,
                       const double *right, size_t n)
{
    bt_stall out = {0};
    slice ring[SLICES];
    for (int i = 0; i < SLICES; i++) ring[i] = (slice){NAN, NAN, false};
    for (size_t lo = 0, hi; lo < n; lo = hi) {
        double line = 0, asked = 0;
        bool lives = false;
        for (hi = lo; hi < n && t[hi] - t[lo] < SLICE; hi++) {
            line += 0.5 * (left[hi] + right[hi]);
            asked += request[hi];
            lives = lives || left[hi] < left[lo] || left[hi] > left[lo];
        }
        for (int i = 1; i < SLICES; i++) ring[i - 1] = ring[i];
        ring[SLICES - 1] = (slice){line / (double)(hi - lo), asked / (double)(hi - lo), lives};
        judge(ring, t[hi - 1], &out);
    }
    return out;
}

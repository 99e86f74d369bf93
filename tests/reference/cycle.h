/* The European drive cycle (UN R83 Annex 4a, NEDC) from its tabulated operations, as straight pieces of a
 * speed trace: exact at any time, so that logs of any rate can be made of it. */
#ifndef BT_REFERENCE_CYCLE_H
#define BT_REFERENCE_CYCLE_H

#include "tests/reference/support.h"

#define NEDC "UN R83 Annex 4a, operations"
enum { CORNERS = 256, NEDC_ZONES = 18 };

/* Straight pieces of a speed trace: s, km/h. */
typedef struct {
    double t[CORNERS], v[CORNERS];
    size_t n;
} trace;

static inline void trace_add(trace *c, const char *table, double offset)
{
    ref_row row;
    FILE *f = ref_table(table);
    while (ref_next(f, &row)) {
        if (c->n == 0)
            c->t[0] = offset + ref_number(&row, 8), c->v[0] = ref_number(&row, 5), c->n = 1;
        c->t[c->n] = offset + ref_number(&row, 9);
        c->v[c->n++] = ref_number(&row, 6);
    }
    fclose(f);
}

static inline trace nedc(void)
{
    trace c = {.n = 0};
    for (int k = 0; k < 4; k++) trace_add(&c, "ece15_cycle", 195 * k);
    trace_add(&c, "eudc", 780);
    return c;
}

static inline double trace_at(const trace *c, double t)
{
    size_t i = 1;
    while (i + 1 < c->n && c->t[i] < t) i++;
    return c->v[i - 1] + (c->v[i] - c->v[i - 1]) * (t - c->t[i - 1]) / (c->t[i] - c->t[i - 1]);
}

/* A falling part: pieces [first, last] of the trace, from corner first to corner last + 1. */
typedef struct {
    size_t first, last;
} fall;

static inline size_t trace_falls(const trace *c, fall *falls)
{
    size_t n = 0;
    for (size_t i = 0; i + 1 < c->n; i++) {
        if (!(c->v[i + 1] < c->v[i])) continue;
        if (n && falls[n - 1].last == i - 1)
            falls[n - 1].last = i;
        else
            falls[n++] = (fall){i, i};
    }
    return n;
}

static inline double slope(const trace *c, size_t piece)
{
    return (c->v[piece] - c->v[piece + 1]) * REF_KMH / (c->t[piece + 1] - c->t[piece]);
}

static inline double trace_distance(const trace *c, double to)
{
    double s = 0;
    for (size_t i = 0; i + 1 < c->n && c->t[i] < to; i++) {
        const double end = fmin(c->t[i + 1], to);
        s += 0.5 * REF_KMH * (c->v[i] + trace_at(c, end)) * (end - c->t[i]);
    }
    return s;
}

#endif

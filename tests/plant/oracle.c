/* The change point of one who knows the rest: see oracle.h. */
#include "oracle.h"

#include <math.h>
#include <stdlib.h>

#define PEDAL_ON_BAR 1.5
#define SUPPORT      2.0 /* nats below the most likely moment */
#define LAGS         12.0 /* time constants after which nothing is left of where the line came from */

/* Measured values less their true offsets, and what they would be; bar and N*m at the shaft. */
typedef struct {
    double t, line, wire, pipe, torque, wire_torque;
} reading;

struct plant_oracle {
    const plant_config *cfg;
    reading *row;
    size_t n, cap;
};

plant_oracle *plant_oracle_new(const plant_config *cfg)
{
    plant_oracle *o = calloc(1, sizeof *o);
    if (o) o->cfg = cfg;
    return o;
}

void plant_oracle_free(plant_oracle *o)
{
    if (!o) return;
    free(o->row);
    free(o);
}

void plant_oracle_row(plant_oracle *o, const plant_row *row)
{
    const plant_state *p = row->truth;
    if (!(p->pedal_rear_bar > PEDAL_ON_BAR)) return;
    if (o->n == o->cap) {
        const size_t cap = o->cap ? 2 * o->cap : 4096;
        reading *grown = realloc(o->row, cap * sizeof *grown);
        if (!grown) return;
        o->row = grown;
        o->cap = cap;
    }
    const plant_sensor *s = o->cfg->sensor;
    o->row[o->n++] = (reading){
        .t = p->t,
        .line = row->value[PLANT_LINE_REAR] - s[PLANT_LINE_REAR].offset,
        .wire = p->wire_bar,
        .pipe = p->pipe_bar,
        .torque = row->value[PLANT_MOTOR_TORQUE] - s[PLANT_MOTOR_TORQUE].offset,
        .wire_torque = p->wire_torque,
    };
}

static double variance(const plant_sensor *s)
{
    return s->sigma * s->sigma + s->quantum * s->quantum / 12;
}

/* Minus twice the log-likelihood of one reading before, and long after the change. */
typedef struct {
    double line, torque; /* variances */
    bool cut;
} noise;

static double square(double x)
{
    return x * x;
}

static double before(const noise *u, const reading *r)
{
    return square(r->line - r->wire) / u->line +
           (u->cut ? square(r->torque - r->wire_torque) / u->torque : 0);
}

static double after(const noise *u, const reading *r)
{
    return square(r->line - r->pipe) / u->line + (u->cut ? square(r->torque) / u->torque : 0);
}

/* What line and motor still have at r of where they were at the change. */
static double during(const plant_oracle *o, const noise *u, const reading *change, const reading *r)
{
    const plant_control *k = &o->cfg->control;
    const double dt = r->t - change->t;
    const double line = (change->wire - change->pipe) * exp(-dt / k->bypass_lag);
    const double torque = change->wire_torque * exp(-dt / k->motor_lag);
    return square(r->line - r->pipe - line) / u->line +
           (u->cut ? square(r->torque - torque) / u->torque : 0);
}

/* What a change at reading i costs over one at the first reading: readings in between are before it,
 * those just behind it in between. */
static void costs(const plant_oracle *o, const noise *u, size_t lo, size_t hi, double *cost)
{
    const double settled = LAGS * fmax(o->cfg->control.bypass_lag, o->cfg->control.motor_lag);
    double passed = 0;
    for (size_t i = lo; i < hi; i++) {
        const reading *change = &o->row[i];
        cost[i - lo] = passed;
        for (size_t j = i; j < hi && o->row[j].t < change->t + settled; j++)
            cost[i - lo] += during(o, u, change, &o->row[j]) - after(u, &o->row[j]);
        passed += before(u, change) - after(u, change);
    }
}

plant_moment plant_oracle_find(const plant_oracle *o, double from, double to, bool motor_cut)
{
    const plant_sensor *s = o->cfg->sensor;
    const noise u = {variance(&s[PLANT_LINE_REAR]), variance(&s[PLANT_MOTOR_TORQUE]), motor_cut};
    plant_moment out = {NAN, NAN, NAN};
    size_t lo = 0, hi, best = 0;
    while (lo < o->n && o->row[lo].t < from) lo++;
    for (hi = lo; hi < o->n && o->row[hi].t <= to; hi++) continue;
    double *cost = malloc((hi - lo + 1) * sizeof *cost);
    if (!cost || hi == lo) {
        free(cost);
        return out;
    }
    costs(o, &u, lo, hi, cost);
    for (size_t i = 0; i < hi - lo; i++)
        if (cost[i] < cost[best]) best = i;
    out.best = o->row[lo + best].t;
    for (size_t i = 0; i < hi - lo; i++) {
        if (cost[i] > cost[best] + 2 * SUPPORT) continue;
        if (isnan(out.low)) out.low = o->row[lo + i].t;
        out.high = o->row[lo + i].t;
    }
    free(cost);
    return out;
}

/* The trace: see trace.h. */
#include "run/trace.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "signals/slip.h"

#define BALANCE_FORCE_MIN 50.0 /* N; a share of less is noise */

struct bt_tracer {
    const bt_car *car;
    const bt_setup *setup;
    bt_torques torques;
    double *zeroed; /* BT_BLOCK_MAX per channel */
    double *slip[4];
};

bt_status bt_tracer_new(bt_tracer **out, const bt_car *car, const bt_setup *setup, bt_error *err)
{
    *out = NULL;
    bt_tracer *t = calloc(1, sizeof *t);
    if (t) {
        t->car = car;
        t->setup = setup;
        t->zeroed = malloc((size_t)(BT_CH_COUNT + 4) * BT_BLOCK_MAX * sizeof *t->zeroed);
    }
    if (!t || !t->zeroed) {
        bt_tracer_free(t);
        return bt_fail(err, BT_NOMEM, "no memory for the trace");
    }
    for (size_t w = 0; w < 4; w++) t->slip[w] = t->zeroed + (BT_CH_COUNT + w) * BT_BLOCK_MAX;
    *out = t;
    return BT_OK;
}

void bt_tracer_free(bt_tracer *t)
{
    if (!t) return;
    bt_torques_clear(&t->torques);
    free(t->zeroed);
    free(t);
}

/* The same samples with their pressure zeros taken off. */
static void take_zeros(bt_tracer *t, bt_block *s, const double *zero)
{
    for (int c = 0; c < BT_CH_COUNT; c++) {
        if (!s->ch[c] || !(zero[c] < 0 || zero[c] > 0)) continue;
        double *to = t->zeroed + (size_t)c * BT_BLOCK_MAX;
        for (size_t i = 0; i < s->n; i++) to[i] = s->ch[c][i] - zero[c];
        s->ch[c] = to;
    }
}

static double at(const double *x, size_t i)
{
    return x ? x[i] : NAN;
}

/* Front share of the brake force at one sample; NaN where hardly any is there. */
static double balance(const bt_car *car, double front, double rear, double motor)
{
    const double rf = car->value[BT_CAR_ROLLING_RADIUS_FRONT];
    const double rr = car->value[BT_CAR_ROLLING_RADIUS_REAR];
    const double force_front = (front + (car->motor_axle == BT_FRONT ? motor : 0)) / rf;
    const double force_rear = (rear + (car->motor_axle == BT_REAR ? motor : 0)) / rr;
    const double force = force_front + force_rear;
    return force > BALANCE_FORCE_MIN ? force_front / force : NAN;
}

/* The exact split of the blend error where the requests are logged (METHODS 7).  A motor that is not
 * known counts as none, but then its part was not measured and stays blank. */
static void split(bt_trace *out, const bt_car *car, const bt_torques *q, bool motor_known, size_t i)
{
    const bool with_motor = car->motor_axle == car->bywire_axle;
    const double friction = at(car->bywire_axle == BT_REAR ? q->rear : q->front, i);
    const double request = at(q->req_motor, i);
    out->blend_motor = !motor_known ? NAN : with_motor ? at(q->motor, i) - request : 0;
    out->blend_actuator = friction - at(q->req_friction, i);
    out->blend_controller = (with_motor ? request : 0) + at(q->req_friction, i) - at(q->demand, i);
}

static void sample(const bt_tracer *t, const bt_block *s, const bt_trace_context *context, size_t i,
                   bt_trace *out)
{
    const bt_torques *q = &t->torques;
    out->t = s->t[i] + context->offset;
    out->speed = at(s->ch[BT_SIG_SPEED], i);
    out->decel = at(s->ch[BT_SIG_DECEL], i);
    out->front = at(q->front, i);
    out->rear_friction = at(q->rear, i);
    const bool motor_known = s->ch[BT_CH_MOTOR_TORQUE] || !isnan(t->car->value[BT_CAR_MOTOR_RATIO]);
    out->motor = motor_known ? at(q->motor, i) : NAN;
    out->demand = at(q->demand, i);
    out->blend = at(q->delivered, i) - out->demand;
    out->balance = balance(t->car, out->front, out->rear_friction, at(q->motor, i));
    split(out, t->car, q, motor_known, i);
    for (size_t w = 0; w < 4; w++) out->slip[w] = s->ch[BT_CH_WHEEL_FL + w] ? t->slip[w][i] : NAN;
    out->disc_front = context->disc[0][i];
    out->disc_rear = context->disc[1][i];
    out->zone = context->zone;
    const bt_mode mode = context->states ? (bt_mode)context->states[i] : BT_MODE_NONE;
    snprintf(out->mode, sizeof out->mode, "%s", bt_mode_word(mode));
}

static bt_status run_part(bt_tracer *t, bt_block s, const bt_trace_context *context, bt_error *err)
{
    if (context->zero) take_zeros(t, &s, context->zero);
    BT_TRY(bt_torques_make(&t->torques, &s, t->car, err));
    for (size_t w = 0; w < 4; w++)
        if (s.ch[BT_CH_WHEEL_FL + w])
            bt_slip_wheel(s.ch[BT_CH_WHEEL_FL + w], s.ch[BT_SIG_SPEED], s.n, context->trim[w],
                          t->slip[w]);
    for (size_t i = 0; i < s.n; i++) {
        bt_trace row;
        sample(t, &s, context, i, &row);
        BT_TRY(t->setup->trace(t->setup->user, &row, err));
    }
    return BT_OK;
}

bt_status bt_tracer_run(bt_tracer *tracer, const bt_block *run, const bt_trace_context *context,
                        bt_error *err)
{
    for (size_t lo = 0; lo < run->n; lo += BT_BLOCK_MAX) {
        bt_block part = *run;
        bt_trace_context there = *context;
        part.n = run->n - lo < BT_BLOCK_MAX ? run->n - lo : BT_BLOCK_MAX;
        part.t += lo;
        for (int c = 0; c < BT_SIGNALS; c++)
            if (part.ch[c]) part.ch[c] += lo;
        for (int a = 0; a < 2; a++) there.disc[a] += lo;
        if (there.states) there.states += lo;
        BT_TRY(run_part(tracer, part, &there, err));
    }
    return BT_OK;
}

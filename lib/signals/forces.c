/* Torque per axle: see forces.h (METHODS 5). */
#include "signals/forces.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

double bt_motor_axle_torque(double tau, double ratio, double eta)
{
    return -tau * ratio * (tau < 0 ? 1 / eta : eta);
}

void bt_line_pressure(const bt_block *in, bt_axle axle, const double **p_left,
                      const double **p_right)
{
    const bool front = axle == BT_FRONT;
    const double *left = in->ch[front ? BT_CH_LINE_FL : BT_CH_LINE_RL];
    const double *right = in->ch[front ? BT_CH_LINE_FR : BT_CH_LINE_RR];
    const double *both = in->ch[front ? BT_CH_LINE_FRONT : BT_CH_LINE_REAR];
    if (left && right) {
        *p_left = left;
        *p_right = right;
        return;
    }
    if (!both) both = left ? left : right;
    if (!both && front) both = in->ch[BT_CH_PEDAL_FRONT];
    *p_left = *p_right = both;
}

static bt_channel pedal_of(bt_axle axle)
{
    return axle == BT_FRONT ? BT_CH_PEDAL_FRONT : BT_CH_PEDAL_REAR;
}

/* Pressures that make torque.  The plain axle's own pedal pressure stands in for its line; the by-wire
 * axle's never does. */
static void torque_pressure(const bt_block *in, const bt_car *car, bt_axle axle,
                            const double **left, const double **right)
{
    bt_line_pressure(in, axle, left, right);
    const double *pedal = in->ch[pedal_of(axle)];
    if (axle != car->bywire_axle && !*left) *left = *right = pedal;
    if (axle == car->bywire_axle && *left == pedal) *left = *right = NULL;
}

static double efficiency(const bt_car *car)
{
    const double eta = car->value[BT_CAR_MOTOR_EFFICIENCY];
    return isnan(eta) ? 1 : eta;
}

/* Hands out the next array of the store. */
static double *take(bt_torques *out, size_t *used)
{
    return out->store + out->cap * (*used)++;
}

static double *friction(bt_torques *out, size_t *used, const bt_car *car, bt_axle axle,
                        const double *left, const double *right)
{
    const double half = 0.5 * bt_friction_gain(car, axle);
    const double threshold = bt_friction_threshold(car, axle);
    if (!left || isnan(half)) return NULL; /* never one of the two alone */
    double *torque = take(out, used);
    for (size_t i = 0; i < out->n; i++)
        torque[i] = bt_friction_torque(half, threshold, left[i]) +
                    bt_friction_torque(half, threshold, right[i]);
    return torque;
}

/* Axle torque of a shaft torque; `none` = the car has no motor, so that there is none to know. */
static double *motor(bt_torques *out, size_t *used, const bt_car *car, const double *shaft,
                     bool none)
{
    const double ratio = car->value[BT_CAR_MOTOR_RATIO], eta = efficiency(car);
    if (!none && (!shaft || isnan(ratio))) return NULL;
    double *torque = take(out, used);
    for (size_t i = 0; i < out->n; i++)
        torque[i] = none ? 0 : bt_motor_axle_torque(shaft[i], ratio, eta);
    return torque;
}

static double *delivered(bt_torques *out, size_t *used, const bt_car *car)
{
    const double *hydraulic = car->bywire_axle == BT_FRONT ? out->front : out->rear;
    if (!hydraulic || (out->motor_bywire && !out->motor)) return NULL;
    double *torque = take(out, used);
    for (size_t i = 0; i < out->n; i++)
        torque[i] = hydraulic[i] + (out->motor_bywire ? out->motor[i] : 0);
    return torque;
}

static double *demand(bt_torques *out, size_t *used, const bt_car *car, const double *pedal)
{
    if (!pedal || bt_demand_source_of(car) == BT_DEMAND_NONE) return NULL;
    double *torque = take(out, used);
    bt_demand_torques(car, pedal, out->n, torque);
    return torque;
}

enum { TORQUE_ARRAYS = 7 };

static bt_status grow(bt_torques *out, size_t n, bt_error *err)
{
    if (n <= out->cap) return BT_OK;
    size_t cap = n > BT_BLOCK_MAX ? n : BT_BLOCK_MAX;
    if (cap < 2 * out->cap) cap = 2 * out->cap;
    double *store = cap <= SIZE_MAX / sizeof *store / TORQUE_ARRAYS
                        ? malloc(TORQUE_ARRAYS * cap * sizeof *store)
                        : NULL;
    if (!store) return bt_fail(err, BT_NOMEM, "no memory for the torques of %zu samples", n);
    bt_torques_clear(out);
    out->store = store;
    out->cap = cap;
    return BT_OK;
}

bt_status bt_torques_make(bt_torques *out, const bt_block *in, const bt_car *car, bt_error *err)
{
    BT_TRY(grow(out, in->n, err));
    out->n = in->n;
    out->motor_bywire = car->motor_axle == car->bywire_axle;
    const bool no_motor = isnan(car->value[BT_CAR_MOTOR_RATIO]) && !in->ch[BT_CH_MOTOR_TORQUE];
    const double *request = in->ch[BT_CH_LINE_REQUEST];
    const double *left, *right;
    size_t used = 0;
    torque_pressure(in, car, BT_FRONT, &left, &right);
    out->front = friction(out, &used, car, BT_FRONT, left, right);
    torque_pressure(in, car, BT_REAR, &left, &right);
    out->rear = friction(out, &used, car, BT_REAR, left, right);
    out->motor = motor(out, &used, car, in->ch[BT_CH_MOTOR_TORQUE], no_motor);
    out->demand = demand(out, &used, car, in->ch[pedal_of(car->bywire_axle)]);
    out->delivered = delivered(out, &used, car);
    out->req_motor = motor(out, &used, car, in->ch[BT_CH_MOTOR_REQUEST], no_motor);
    out->req_friction = friction(out, &used, car, car->bywire_axle, request, request);
    return BT_OK;
}

void bt_torques_clear(bt_torques *t)
{
    free(t->store);
    *t = (bt_torques){0};
}

/* A comma-separated list in a caller's buffer; what does not fit whole is left out. */
typedef struct {
    char *buf;
    size_t cap, len;
} name_list;

static void list_add(name_list *list, const char *name)
{
    const char *comma = list->len ? ", " : "";
    const size_t need = strlen(comma) + strlen(name);
    if (list->len + need >= list->cap) return;
    snprintf(list->buf + list->len, list->cap - list->len, "%s%s", comma, name);
    list->len += need;
}

static void list_quantity(name_list *list, const bt_car *car, bt_car_quantity quantity)
{
    if (isnan(car->value[quantity])) list_add(list, bt_car_quantity_name(quantity));
}

static void missing_hydraulics(name_list *list, const bt_car *car, bt_axle axle)
{
    const unsigned at = axle == BT_REAR;
    list_quantity(list, car, BT_CAR_PISTON_AREA_FRONT + at);
    list_quantity(list, car, BT_CAR_PAD_FRICTION_FRONT + at);
    list_quantity(list, car, BT_CAR_EFFECTIVE_RADIUS_FRONT + at);
}

static void missing_friction(name_list *list, const bt_channels *channels, const bt_car *car,
                             bt_axle axle)
{
    const bool front = axle == BT_FRONT;
    const bt_channel line = front ? BT_CH_LINE_FRONT : BT_CH_LINE_REAR;
    const bool logged = bt_channels_has(channels, line) ||
                        bt_channels_has(channels, front ? BT_CH_LINE_FL : BT_CH_LINE_RL) ||
                        bt_channels_has(channels, front ? BT_CH_LINE_FR : BT_CH_LINE_RR) ||
                        (axle != car->bywire_axle && bt_channels_has(channels, pedal_of(axle)));
    if (!logged) list_add(list, bt_channel_name(line));
    missing_hydraulics(list, car, axle);
}

static void missing_motor(name_list *list, const bt_channels *channels, const bt_car *car)
{
    const bool logged = bt_channels_has(channels, BT_CH_MOTOR_TORQUE);
    const bool no_motor = isnan(car->value[BT_CAR_MOTOR_RATIO]) && !logged;
    if (no_motor) return;
    if (!logged) list_add(list, bt_channel_name(BT_CH_MOTOR_TORQUE));
    list_quantity(list, car, BT_CAR_MOTOR_RATIO);
}

static void missing_demand(name_list *list, const bt_channels *channels, const bt_car *car)
{
    const bt_channel pedal = pedal_of(car->bywire_axle);
    if (!bt_channels_has(channels, pedal)) list_add(list, bt_channel_name(pedal));
    if (bt_demand_source_of(car) != BT_DEMAND_NONE) return;
    if (isnan(car->value[BT_CAR_BYPASS_RATIO]))
        list_add(list, "demand_gain or demand_curve or bypass_ratio");
    else
        missing_hydraulics(list, car, car->bywire_axle);
}

const char *bt_torque_missing(const bt_channels *channels, const bt_car *car, bt_torque_kind kind,
                              char *buf, size_t cap)
{
    name_list list = {buf, cap, 0};
    if (cap) buf[0] = '\0';
    switch (kind) {
    case BT_TORQUE_FRONT:
        missing_friction(&list, channels, car, BT_FRONT);
        break;
    case BT_TORQUE_REAR:
        missing_friction(&list, channels, car, BT_REAR);
        break;
    case BT_TORQUE_MOTOR:
        missing_motor(&list, channels, car);
        break;
    case BT_TORQUE_DEMAND:
        missing_demand(&list, channels, car);
        break;
    }
    return buf;
}

/* Uncertainty: see uncertain.h.  All headline figures are ratios or sums of zone means that are linear
 * in gain and pressure, so the means and the sheet are enough; no sample is looked at again. */
#include "zones/uncertain.h"

#include <math.h>

#include "signals/demand.h"
#include "signals/forces.h"

/* Sum of squares of independent contributions, and whether there was any. */
typedef struct {
    double square;
    bool any;
} variance;

static void add(variance *v, double contribution)
{
    if (isnan(contribution)) return;
    v->square += contribution * contribution;
    v->any = true;
}

static double root(const variance *v)
{
    return v->any ? sqrt(v->square) : NAN;
}

static double both(double sys, double rnd)
{
    return isnan(sys) ? rnd : isnan(rnd) ? sys : hypot(sys, rnd);
}

/* Relative uncertainty of a sheet quantity; NaN if it has no tolerance. */
static double relative(const bt_car *car, bt_car_quantity q)
{
    return car->u[q] / fabs(car->value[q]);
}

static double tolerance(const bt_channels *channels, bt_channel c)
{
    return bt_channels_has(channels, c) ? channels->ch[c].tolerance : NAN;
}

/* Tolerance of an axle's line pressure: its own sensor, the mean of two, or the front pedal's. */
static double line_tolerance(const bt_channels *channels, bt_axle axle)
{
    const bt_channel one = axle == BT_FRONT ? BT_CH_LINE_FRONT : BT_CH_LINE_REAR;
    const bt_channel left = axle == BT_FRONT ? BT_CH_LINE_FL : BT_CH_LINE_RL;
    const bt_channel right = axle == BT_FRONT ? BT_CH_LINE_FR : BT_CH_LINE_RR;
    if (bt_channels_has(channels, left) && bt_channels_has(channels, right))
        return 0.5 * hypot(tolerance(channels, left), tolerance(channels, right));
    if (bt_channels_has(channels, one)) return tolerance(channels, one);
    return axle == BT_FRONT ? tolerance(channels, BT_CH_PEDAL_FRONT) : NAN;
}

/* Sheet quantities that scale an axle's friction torque. */
static const bt_car_quantity friction_scale[] = {
    BT_CAR_PAD_FRICTION_FRONT, BT_CAR_PISTON_AREA_FRONT, BT_CAR_EFFECTIVE_RADIUS_FRONT};

/* Add what an axle's friction torque T brings to a figure with the slope dfdT. */
static void add_friction(variance *sys, variance *rnd, const bt_channels *channels,
                         const bt_car *car, bt_axle axle, double torque, double slope)
{
    const unsigned at = axle == BT_REAR ? 1 : 0;
    for (size_t i = 0; i < sizeof friction_scale / sizeof *friction_scale; i++)
        add(sys, slope * torque * relative(car, (bt_car_quantity)(friction_scale[i] + at)));
    const double gain = bt_friction_gain(car, axle);
    add(sys, slope * gain * car->u[BT_CAR_THRESHOLD_FRONT + at]);
    add(rnd, slope * gain * line_tolerance(channels, axle));
}

/* The same for the motor's torque at its axle. */
static void add_motor(variance *sys, variance *rnd, const bt_channels *channels, const bt_car *car,
                      double torque, double slope)
{
    add(sys, slope * torque * relative(car, BT_CAR_MOTOR_RATIO));
    add(sys, slope * torque * relative(car, BT_CAR_MOTOR_EFFICIENCY));
    add(rnd, slope * tolerance(channels, BT_CH_MOTOR_TORQUE) * car->value[BT_CAR_MOTOR_RATIO] /
                 car->value[BT_CAR_MOTOR_EFFICIENCY]);
}

static void of_balance(const bt_channels *channels, const bt_car *car, bt_zone *row)
{
    const double radius_front = car->value[BT_CAR_ROLLING_RADIUS_FRONT];
    const double radius_rear = car->value[BT_CAR_ROLLING_RADIUS_REAR];
    const bool motor_front = car->motor_axle == BT_FRONT;
    const double front = (row->front + (motor_front ? row->motor : 0)) / radius_front;
    const double rear = (row->rear_friction + (motor_front ? 0 : row->motor)) / radius_rear;
    const double total = front + rear;
    if (isnan(row->balance) || !(total > 0)) return;
    const double by_front = rear / (total * total), by_rear = -front / (total * total);
    variance sys = {0, false}, rnd = {0, false};
    add_friction(&sys, &rnd, channels, car, BT_FRONT, row->front, by_front / radius_front);
    add_friction(&sys, &rnd, channels, car, BT_REAR, row->rear_friction, by_rear / radius_rear);
    if (bt_channels_has(channels, BT_CH_MOTOR_TORQUE))
        add_motor(&sys, &rnd, channels, car, row->motor,
                  motor_front ? by_front / radius_front : by_rear / radius_rear);
    add(&sys, by_front * front * relative(car, BT_CAR_ROLLING_RADIUS_FRONT));
    add(&sys, by_rear * rear * relative(car, BT_CAR_ROLLING_RADIUS_REAR));
    row->balance_sys = root(&sys);
    row->balance_rnd = root(&rnd);
    row->balance_u = both(row->balance_sys, row->balance_rnd);
}

static void of_motor_share(const bt_channels *channels, const bt_car *car, bt_zone *row)
{
    const bt_axle axle = car->motor_axle;
    const double friction = axle == BT_REAR ? row->rear_friction : row->front;
    const double total = friction + row->motor;
    if (isnan(row->motor_share) || !(total > 0) || !bt_channels_has(channels, BT_CH_MOTOR_TORQUE))
        return;
    variance sys = {0, false}, rnd = {0, false};
    add_friction(&sys, &rnd, channels, car, axle, friction, -row->motor / (total * total));
    add_motor(&sys, &rnd, channels, car, row->motor, friction / (total * total));
    row->motor_share_u = both(root(&sys), root(&rnd));
}

static void of_blend(const bt_channels *channels, const bt_car *car, bt_zone *row)
{
    if (isnan(row->blend_mean)) return;
    const bt_axle axle = car->bywire_axle;
    const double friction = axle == BT_REAR ? row->rear_friction : row->front;
    const bt_channel pedal = axle == BT_REAR ? BT_CH_PEDAL_REAR : BT_CH_PEDAL_FRONT;
    const bt_demand_source source = bt_demand_source_of(car);
    variance sys = {0, false}, rnd = {0, false};
    double per_pascal = NAN;
    /* A demand in terms of the axle's own hydraulics shares their friction: it cancels in part. */
    const double scaled = source == BT_DEMAND_BYPASS ? friction - row->demand : friction;
    add_friction(&sys, &rnd, channels, car, axle, scaled, 1);
    if (car->motor_axle == axle && bt_channels_has(channels, BT_CH_MOTOR_TORQUE))
        add_motor(&sys, &rnd, channels, car, row->motor, 1);
    if (source == BT_DEMAND_BYPASS) {
        per_pascal = bt_friction_gain(car, axle) * car->value[BT_CAR_BYPASS_RATIO];
        add(&sys, row->demand * relative(car, BT_CAR_BYPASS_RATIO));
    } else if (source == BT_DEMAND_GAIN) {
        per_pascal = car->value[BT_CAR_DEMAND_GAIN];
        add(&sys, row->demand * relative(car, BT_CAR_DEMAND_GAIN));
        add(&sys, per_pascal * car->u[BT_CAR_DEMAND_THRESHOLD]);
    } else if (row->pedal_peak > 0) { /* a curve: its mean slope up to the peak */
        per_pascal = bt_demand_torque(car, row->pedal_peak) / row->pedal_peak;
    }
    add(&rnd, per_pascal * tolerance(channels, pedal));
    row->blend_sys = root(&sys);
    row->blend_rnd = root(&rnd);
    row->blend_u = both(row->blend_sys, row->blend_rnd);
}

/* Entry and exit speed are two readings, so the random part counts twice; a wheel's radius scales both. */
static void of_decel(const bt_channels *channels, const bt_car *car, bt_zone *row)
{
    if (isnan(row->decel_mean) || !(row->duration > 0)) return;
    variance sys = {0, false}, rnd = {0, false};
    if (bt_channels_has(channels, BT_CH_SPEED)) {
        add(&rnd, sqrt(2) * channels->ch[BT_CH_SPEED].tolerance / row->duration);
    } else {
        const bt_channel wheels[] = {BT_CH_WHEEL_FL, BT_CH_WHEEL_FR, BT_CH_WHEEL_RL,
                                     BT_CH_WHEEL_RR};
        double least = NAN;
        for (size_t i = 0; i < 4; i++) least = fmin(least, tolerance(channels, wheels[i]));
        add(&rnd, sqrt(2) * least / row->duration);
        add(&sys, row->decel_mean * relative(car, BT_CAR_ROLLING_RADIUS_FRONT));
    }
    row->decel_sys = root(&sys);
    row->decel_rnd = root(&rnd);
    row->decel_u = both(row->decel_sys, row->decel_rnd);
}

void bt_uncertain(const bt_channels *channels, const bt_car *car, bt_zone *row)
{
    of_decel(channels, car, row);
    of_balance(channels, car, row);
    of_motor_share(channels, car, row);
    of_blend(channels, car, row);
}

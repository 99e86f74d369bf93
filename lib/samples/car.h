/* The car as its sheet tells it, and the thresholds (CONTRACT 5).  Read by every stage, changed by
 * none.  The public functions stand in braketally.h. */
#ifndef BT_CAR_H
#define BT_CAR_H

#include "base/error.h"

#define BT_CAR_LIST(X)                                                                             \
    X(MASS, "mass")                                                                                \
    X(WHEELBASE, "wheelbase")                                                                      \
    X(CG_HEIGHT, "cg_height")                                                                      \
    X(STATIC_FRONT_SHARE, "static_front_share")                                                    \
    X(INERTIA_FACTOR, "inertia_factor")                                                            \
    X(ROAD_LOAD_A, "road_load_a")                                                                  \
    X(ROAD_LOAD_B, "road_load_b")                                                                  \
    X(ROAD_LOAD_C, "road_load_c")                                                                  \
    X(ROLLING_RADIUS_FRONT, "rolling_radius_front")                                                \
    X(ROLLING_RADIUS_REAR, "rolling_radius_rear")                                                  \
    X(GRIP_LIMIT, "grip_limit") /* m/s2 inside; default 1.5 g */                                   \
    X(PISTON_AREA_FRONT, "piston_area_front")                                                      \
    X(PISTON_AREA_REAR, "piston_area_rear")                                                        \
    X(PAD_FRICTION_FRONT, "pad_friction_front")                                                    \
    X(PAD_FRICTION_REAR, "pad_friction_rear")                                                      \
    X(EFFECTIVE_RADIUS_FRONT, "effective_radius_front")                                            \
    X(EFFECTIVE_RADIUS_REAR, "effective_radius_rear")                                              \
    X(THRESHOLD_FRONT, "threshold_front") /* Pa; 0 if not given */                                 \
    X(THRESHOLD_REAR, "threshold_rear")                                                            \
    X(MOTOR_RATIO, "motor_ratio")                                                                  \
    X(MOTOR_EFFICIENCY, "motor_efficiency") /* 1 if not given */                                   \
    X(DEMAND_GAIN, "demand_gain")           /* N*m per Pa, axle */                                 \
    X(DEMAND_THRESHOLD, "demand_threshold")                                                        \
    X(BYPASS_RATIO, "bypass_ratio")                                                                \
    X(BYWIRE_OK, "bywire_ok") /* the good value of bywire_state; default 0 */                      \
    X(BAND_ABS, "band_abs")                                                                        \
    X(BAND_REL, "band_rel")                                                                        \
    X(DISC_MASS_FRONT, "disc_mass_front")                                                          \
    X(DISC_MASS_REAR, "disc_mass_rear")                                                            \
    X(DISC_HEAT_FRONT, "disc_heat_front")                                                          \
    X(DISC_HEAT_REAR, "disc_heat_rear")                                                            \
    X(DISC_HEAT_SLOPE_FRONT, "disc_heat_slope_front")                                              \
    X(DISC_HEAT_SLOPE_REAR, "disc_heat_slope_rear")                                                \
    X(DISC_SHARE_FRONT, "disc_share_front")                                                        \
    X(DISC_SHARE_REAR, "disc_share_rear")                                                          \
    X(COOL_STILL_FRONT, "cool_still_front")                                                        \
    X(COOL_STILL_REAR, "cool_still_rear")                                                          \
    X(COOL_SPEED_FRONT, "cool_speed_front")                                                        \
    X(COOL_SPEED_REAR, "cool_speed_rear")                                                          \
    X(DISC_LIMIT_FRONT, "disc_limit_front")                                                        \
    X(DISC_LIMIT_REAR, "disc_limit_rear")                                                          \
    X(AMBIENT, "ambient")                                                                          \
    X(ZONE_ON, "zone_on")               /* 3 bar */                                                \
    X(ZONE_OFF, "zone_off")             /* 1.5 bar */                                              \
    X(ZONE_ON_DECEL, "zone_on_decel")   /* 1.0 m/s2 */                                             \
    X(ZONE_OFF_DECEL, "zone_off_decel") /* 0.5 m/s2 */                                             \
    X(ZONE_MIN_TIME, "zone_min_time")   /* 0.3 s */                                                \
    X(ZONE_MIN_DROP, "zone_min_drop")   /* 2 m/s */                                                \
    X(ZONE_MIN_SPEED, "zone_min_speed") /* 5 m/s */                                                \
    X(ZONE_GAP, "zone_gap")             /* 0.25 s */                                               \
    X(SLIP_LIMIT, "slip_limit")         /* 0.2 */                                                  \
    X(SMOOTH_WINDOW, "smooth_window")   /* 0.20 s */

typedef enum {
#define X(id, name) BT_CAR_##id,
    BT_CAR_LIST(X)
#undef X
        BT_CAR_COUNT
} bt_car_quantity;

typedef enum { BT_FRONT, BT_REAR } bt_axle;

struct bt_car {
    double value[BT_CAR_COUNT];         /* SI; NaN = not given and no default */
    double u[BT_CAR_COUNT];             /* standard uncertainty, SI; NaN = not given */
    bool given[BT_CAR_COUNT];           /* by sheet or --set, not by default */
    bt_axle motor_axle, bywire_axle;    /* rear unless the sheet says otherwise */
    double *curve_pedal, *curve_torque; /* demand_curve: Pa rising, N*m; NULL = none */
    size_t curve_n;
};

/* The quantity of an axle, given its front id (the rear one follows it in the list). */
static inline double bt_car_axle(const bt_car *car, bt_car_quantity front_id, bt_axle axle)
{
    return car->value[front_id + (axle == BT_REAR ? 1 : 0)];
}
const char *bt_car_quantity_name(bt_car_quantity quantity);
/* The unit a blank cell means, as its UCUM code ("1" = none); SI = that * factor + offset. */
const char *bt_car_quantity_unit(bt_car_quantity quantity, double *factor, double *offset);
/* Standard gravity, m/s2 (exact by definition, SI Brochure). */
#define BT_GRAVITY 9.80665

#endif

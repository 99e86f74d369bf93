/* A blank car sheet to be filled in: every quantity with its unit and what it is.  What has a default stands
 * behind a # with it; a row left blank is not given. */
#include "samples/car.h"

#include "base/print.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const meanings[BT_CAR_COUNT] = {
    [BT_CAR_MASS] = "of the car as it ran, with driver and fuel",
    [BT_CAR_WHEELBASE] = "for the ideal balance",
    [BT_CAR_CG_HEIGHT] = "of the centre of mass above the road",
    [BT_CAR_STATIC_FRONT_SHARE] = "part of the weight on the front axle, by corner scales",
    [BT_CAR_INERTIA_FACTOR] = "mass with the turning parts over mass",
    [BT_CAR_ROAD_LOAD_A] = "coast-down: constant part, without brakes and motor",
    [BT_CAR_ROAD_LOAD_B] = "coast-down: part that grows with speed",
    [BT_CAR_ROAD_LOAD_C] = "coast-down: part that grows with its square",
    [BT_CAR_ROLLING_RADIUS_FRONT] = "way of one turn of the wheel over 6.283",
    [BT_CAR_ROLLING_RADIUS_REAR] = "the same of a rear wheel",
    [BT_CAR_GRIP_LIMIT] = "no faster than this can speed fall; more with downforce",
    [BT_CAR_PISTON_AREA_FRONT] = "of the pistons on one side of one caliper, together",
    [BT_CAR_PISTON_AREA_REAR] = "the same at the rear",
    [BT_CAR_PAD_FRICTION_FRONT] = "from the pad maker or a dynamometer; mostly 0.3 to 0.6",
    [BT_CAR_PAD_FRICTION_REAR] = "the same at the rear",
    [BT_CAR_EFFECTIVE_RADIUS_FRONT] = "from the axle to the middle of the pad",
    [BT_CAR_EFFECTIVE_RADIUS_REAR] = "the same at the rear",
    [BT_CAR_THRESHOLD_FRONT] = "pressure at which the pads begin to bite",
    [BT_CAR_THRESHOLD_REAR] = "the same at the rear",
    [BT_CAR_MOTOR_RATIO] = "motor speed over axle speed",
    [BT_CAR_MOTOR_EFFICIENCY] = "from axle to shaft",
    [BT_CAR_DEMAND_GAIN] = "axle torque that a bar of pedal_rear asks for; fit reads it off a log",
    [BT_CAR_DEMAND_THRESHOLD] = "pressure below which it asks for nothing",
    [BT_CAR_BYPASS_RATIO] = "rear line pressure over pedal_rear when the bypass joins them",
    [BT_CAR_BYWIRE_OK] = "the value of bywire_state that means in charge",
    [BT_CAR_BAND_ABS] = "tolerance band of the blend error, at least",
    [BT_CAR_BAND_REL] = "and in percent of the demand",
    [BT_CAR_DISC_MASS_FRONT] = "of one disc, what gets hot of it",
    [BT_CAR_DISC_MASS_REAR] = "the same at the rear",
    [BT_CAR_DISC_HEAT_FRONT] = "specific heat at 20 Cel; cast iron 460 or so",
    [BT_CAR_DISC_HEAT_REAR] = "the same at the rear",
    [BT_CAR_DISC_HEAT_SLOPE_FRONT] = "its change with temperature",
    [BT_CAR_DISC_HEAT_SLOPE_REAR] = "the same at the rear",
    [BT_CAR_DISC_SHARE_FRONT] = "part of the friction heat that goes into the disc, not the pad",
    [BT_CAR_DISC_SHARE_REAR] = "the same at the rear",
    [BT_CAR_COOL_STILL_FRONT] = "cooling of one disc at standstill",
    [BT_CAR_COOL_STILL_REAR] = "the same at the rear",
    [BT_CAR_COOL_SPEED_FRONT] = "what speed adds to it; fit reads it off a log",
    [BT_CAR_COOL_SPEED_REAR] = "the same at the rear",
    [BT_CAR_DISC_LIMIT_FRONT] = "temperature from which a disc-limit event stops the car",
    [BT_CAR_DISC_LIMIT_REAR] = "the same at the rear",
    [BT_CAR_AMBIENT] = "of the air, where it is not logged",
    [BT_CAR_ZONE_ON] = "pedal pressure at which a zone opens",
    [BT_CAR_ZONE_OFF] = "and closes",
    [BT_CAR_ZONE_ON_DECEL] = "the same for logs without a pedal",
    [BT_CAR_ZONE_OFF_DECEL] = "",
    [BT_CAR_ZONE_MIN_TIME] = "shorter ones are touches, no zones",
    [BT_CAR_ZONE_MIN_DROP] = "so are those that lose less speed",
    [BT_CAR_ZONE_MIN_SPEED] = "a zone opens only above this speed",
    [BT_CAR_ZONE_GAP] = "zones closer than this are one",
    [BT_CAR_SLIP_LIMIT] = "beyond it a wheel counts as locking",
    [BT_CAR_SMOOTH_WINDOW] = "window of the smoothed deceleration",
};

/* The unit that people measure in. */
static const char *handy(const char *unit)
{
    return strcmp(unit, "m") == 0 ? "mm" : strcmp(unit, "m2") == 0 ? "cm2" : unit;
}

static bt_status put_row(const bt_car *fresh, bt_car_quantity q, bt_write_fn write, void *user,
                         bt_error *err)
{
    double factor, offset;
    const char *unit = bt_car_quantity_unit(q, &factor, &offset);
    char value[32] = "", row[256];
    const bool preset = !isnan(fresh->value[q]);
    if (preset) bt_print(value, sizeof value, "%.6g", (fresh->value[q] - offset) / factor);
    const char *quote = strchr(meanings[q], ',') ? "\"" : "";
    const int n = snprintf(row, sizeof row, "%s%s,%s,%s,,%s%s%s\n", preset ? "#" : "",
                           bt_car_quantity_name(q), value, preset ? unit : handy(unit), quote,
                           meanings[q], quote);
    return write(user, row, (size_t)n, err);
}

bt_status bt_car_draft(bt_write_fn write, void *user, bt_error *err)
{
    static const char head[] = "quantity,value,unit,tolerance,note\n";
    static const char words[] =
        "#motor_axle,rear,,,axle that the motor drives: front or rear\n"
        "#bywire_axle,rear,,,axle whose brakes are by wire: front or rear\n"
        "#demand_curve,curve.csv,,,\"file beside this one with the header pedal_bar,axle_nm, "
        "instead of demand_gain\"\n";
    bt_car *fresh;
    BT_TRY(bt_car_new(&fresh, err));
    bt_status status = write(user, head, sizeof head - 1, err);
    for (int q = 0; q < BT_CAR_COUNT && status == BT_OK; q++) {
        status = put_row(fresh, (bt_car_quantity)q, write, user, err);
        if (q == BT_CAR_MOTOR_EFFICIENCY && status == BT_OK)
            status = write(user, words, sizeof words - 1, err);
    }
    bt_car_free(fresh);
    return status;
}

/* The column table (CONTRACT 6-10): a line per column with its name, the UCUM code
 * of what is printed, decimals, rank in narrow text tables and meaning.  Rows are
 * SI; the factor behind a unit's name here is the only conversion on the way out. */
#include "base/columns.h"

/* `fewer`: decimals that text can do without. */
#define CELL(row, member, name, unit, kind, decimals, factor, shift, size, rank, fewer, look,      \
             meaning)                                                                              \
    {                                                                                              \
        name, unit, meaning, kind, decimals, factor, shift, offsetof(row, member), size, rank,     \
            fewer, look                                                                            \
    }
#define ROUNDED(row, member, name, unit, factor, decimals, fewer, rank, meaning)                   \
    CELL(row, member, name, unit, BT_CELL_NUMBER, decimals, factor, 0, 0, rank, fewer,             \
         BT_LOOK_PLAIN, meaning)
#define SCALED(row, member, name, unit, factor, decimals, rank, meaning)                           \
    ROUNDED(row, member, name, unit, factor, decimals, 0, rank, meaning)
#define NUMBER(row, member, name, unit, decimals, rank, meaning)                                   \
    SCALED(row, member, name, unit, 1, decimals, rank, meaning)
#define CELSIUS(row, member, name, rank, meaning)                                                  \
    CELL(row, member, name, "Cel", BT_CELL_NUMBER, 1, 1, 273.15, 0, rank, 1, BT_LOOK_PLAIN, meaning)
#define CHANCE(row, member, name, rank, meaning)                                                   \
    CELL(row, member, name, "1", BT_CELL_NUMBER, 4, 1, 0, 0, rank, 0, BT_LOOK_CHANCE, meaning)
#define TALLY(row, member, name, rank, meaning)                                                    \
    CELL(row, member, name, "%", BT_CELL_NUMBER, 2, 100, 0, 0, rank, 1, BT_LOOK_TALLY, meaning)
#define WORD(row, member, name, kind, rank, meaning)                                               \
    CELL(row, member, name, "", kind, 0, 1, 0, 0, rank, 0, BT_LOOK_PLAIN, meaning)
#define POINTER(row, member, name, rank, meaning)                                                  \
    WORD(row, member, name, BT_CELL_TEXT, rank, meaning)
#define TEXT(row, member, name, rank, meaning)                                                     \
    CELL(row, member, name, "", BT_CELL_TEXT, 0, 1, 0, sizeof(((row *)0)->member), rank, 0,        \
         BT_LOOK_PLAIN, meaning)

#define COUNT(row, member, name, rank, meaning) NUMBER(row, member, name, "1", 0, rank, meaning)
#define TIME(row, member, name, rank, meaning)                                                     \
    ROUNDED(row, member, name, "s", 1, 3, 1, rank, meaning)
#define DELAY(row, member, name, rank, meaning) NUMBER(row, member, name, "s", 3, rank, meaning)
#define METRE(row, member, name, rank, meaning) NUMBER(row, member, name, "m", 1, rank, meaning)
#define KELVIN(row, member, name, rank, meaning)                                                   \
    ROUNDED(row, member, name, "K", 1, 1, 1, rank, meaning)
#define HOLD(row, member, name, meaning) SCALED(row, member, name, "bar", 1e-5, 3, 0, meaning)
#define KMH(row, member, name, rank, meaning)                                                      \
    ROUNDED(row, member, name, "km/h", 3.6, 2, 1, rank, meaning)
#define ACCEL(row, member, name, rank, meaning)                                                    \
    ROUNDED(row, member, name, "m/s2", 1, 3, 1, rank, meaning)
#define BAR(row, member, name, unit, rank, meaning)                                                \
    ROUNDED(row, member, name, unit, 1e-5, 2, 1, rank, meaning)
#define TORQUE(row, member, name, rank, meaning) NUMBER(row, member, name, "N.m", 1, rank, meaning)
#define SHARE(row, member, name, rank, meaning)                                                    \
    ROUNDED(row, member, name, "%", 100, 2, 1, rank, meaning)
#define DRIFT(row, member, name, rank, meaning)                                                    \
    SCALED(row, member, name, "%/{lap}", 100, 3, rank, meaning)
#define KILOJOULE(row, member, name, rank, meaning)                                                \
    ROUNDED(row, member, name, "kJ", 1e-3, 2, 1, rank, meaning)
#define PURE(row, member, name, decimals, rank, meaning)                                           \
    NUMBER(row, member, name, "1", decimals, rank, meaning)
#define FIGURE(row, member, name, decimals, fewer, rank, meaning)                                  \
    ROUNDED(row, member, name, "1", 1, decimals, fewer, rank, meaning)
#define DEGREE(row, member, name, rank, meaning) NUMBER(row, member, name, "deg", 7, rank, meaning)

static const bt_column zones[] = {
    TEXT(bt_zone, run, "run", 2, "log the zone is from: its file name without .csv, .txt and .gz"),
    COUNT(bt_zone, zone, "zone", 1, "number of the braking zone in the run, from 1"),
    COUNT(bt_zone, lap, "lap", 5, "lap at the start of the zone; needs lap"),
    TEXT(bt_zone, place, "place", 4,
         "label of the spot where the car brakes lap after lap; needs lap and lap_distance, "
         "latitude "
         "and longitude, or repeated braking"),
    TIME(bt_zone, start, "start_s", 6,
         "start: the demand rises through the off threshold; in the log's own seconds, from the "
         "first row if its time is a clock's"),
    TIME(bt_zone, duration, "duration_s", 13, "start to end"),
    METRE(bt_zone, start_dist, "start_m", 0,
          "place of the start: lap_distance, else distance from the first row"),
    METRE(bt_zone, distance, "distance_m", 0, "way covered in the zone"),
    KMH(bt_zone, entry, "entry_kmh", 8, "reference speed at the start"),
    KMH(bt_zone, exit, "exit_kmh", 14, "reference speed at the end"),
    ACCEL(bt_zone, decel_mean, "decel_mean_mps2", 3,
          "mean deceleration by time: loss of speed over duration"),
    ACCEL(bt_zone, decel_peak, "decel_peak_mps2", 0, "largest smoothed deceleration"),
    ACCEL(
        bt_zone, decel_dist, "decel_dist_mps2", 0,
        "mean deceleration by distance: (entry speed squared - exit speed squared) / (2 distance)"),
    ACCEL(
        bt_zone, mfdd, "mfdd_mps2", 0,
        "mean fully developed deceleration, from 80 % to 10 % of the entry speed; blank unless the "
        "zone gets down to 10 %"),
    ACCEL(bt_zone, decel_u, "decel_u_mps2", 0, "standard uncertainty (k = 1) of decel_mean_mps2"),
    BAR(bt_zone, pedal_peak, "pedal_peak_bar", "bar", 9,
        "largest pedal pressure, its zero subtracted; needs pedal_front or pedal_rear"),
    BAR(bt_zone, pedal_rate, "pedal_rate_barps", "bar/s", 0,
        "largest rate of rise of the pedal pressure while applying; needs pedal_front or "
        "pedal_rear"),
    TIME(bt_zone, rise, "rise_s", 0, "start to 90 % of the peak pedal; needs a pedal channel"),
    TORQUE(bt_zone, front, "front_nm", 0,
           "mean friction torque of the front axle; needs front pressure, piston area, "
           "pad friction and effective radius"),
    TORQUE(bt_zone, rear_friction, "rear_friction_nm", 0,
           "mean friction torque of the rear axle; needs rear line pressure, piston area, pad "
           "friction and effective radius"),
    TORQUE(
        bt_zone, motor, "motor_nm", 0,
        "mean brake torque of the motor at its axle, negative where it drives; needs motor_torque "
        "and motor_ratio"),
    SHARE(bt_zone, motor_share, "motor_share_pct", 10,
          "motor's part of the rear axle's torque impulse; needs rear_friction_nm and motor_nm"),
    SHARE(
        bt_zone, balance, "balance_pct", 2,
        "front part of the brake-force impulse, friction and motor; needs both axles' torques and "
        "rolling radii"),
    SHARE(bt_zone, balance_u, "balance_u_pct", 0,
          "standard uncertainty (k = 1) of balance_pct; needs tolerances in sheet or map"),
    SHARE(bt_zone, balance_hyd, "balance_hyd_pct", 0,
          "front part of the friction brakes' force impulse alone; needs both axles' friction"),
    SHARE(bt_zone, balance_ideal, "balance_ideal_pct", 0,
          "front part of the dynamic axle load at decel_mean_mps2; needs static_front_share, "
          "cg_height, wheelbase"),
    SCALED(bt_zone, balance_slope, "balance_slope_pctps", "%/s", 100, 3, 0,
           "change of the balance in the hold phase, least squares; needs balance_pct"),
    TORQUE(bt_zone, demand, "demand_nm", 0,
           "mean torque that pedal_rear asks of the by-wire axle; needs pedal_rear and "
           "demand_curve, demand_gain or bypass_ratio"),
    TORQUE(bt_zone, blend_mean, "blend_mean_nm", 0,
           "mean of blend error, delivered minus demand: positive brakes more than asked; needs "
           "demand_nm and the by-wire axle's torques"),
    TORQUE(bt_zone, blend_rms, "blend_rms_nm", 0, "root mean square of the blend error"),
    TORQUE(bt_zone, blend_peak, "blend_peak_nm", 0, "largest blend error, with its sign"),
    TALLY(bt_zone, blend_frac, "blend_pct", 3,
          "integral of the size of the blend error over the integral of the demand"),
    SHARE(bt_zone, blend_inband, "blend_inband_pct", 0,
          "part of the time with a blend error within band_abs + band_rel x demand; needs one of "
          "them"),
    DELAY(bt_zone, blend_delay, "blend_delay_s", 4,
          "pure delay that best aligns delivered with demand, blend_gain free, 0 to 0.5 s"),
    PURE(bt_zone, blend_gain, "blend_gain", 3, 0, "gain of delivered over demand at that delay"),
    TORQUE(bt_zone, blend_rest, "blend_rest_nm", 0,
           "root mean square of what neither delay nor gain explains"),
    TEXT(bt_zone, cause, "blend_cause", 11,
         "controller, motor or actuator: which part of the blend error is largest; needs "
         "motor_request and line_request"),
    TORQUE(
        bt_zone, handover, "handover_nm", 0,
        "largest blend error within 0.3 s of the motor fading out while braking goes on, with its "
        "sign"),
    SHARE(bt_zone, slip_front, "slip_front_pct", 0,
          "largest slip of a front wheel; needs front wheel speeds"),
    SHARE(bt_zone, slip_rear, "slip_rear_pct", 12,
          "largest slip of a rear wheel; needs rear wheel speeds"),
    DELAY(bt_zone, lock, "lock_s", 0, "time with any wheel beyond slip_limit; needs wheel speeds"),
    KILOJOULE(bt_zone, energy_front, "energy_front_kj", 0,
              "work of the front friction brakes; needs their torque"),
    KILOJOULE(bt_zone, energy_rear, "energy_rear_kj", 0,
              "work of the rear friction brakes; needs their torque"),
    KILOJOULE(bt_zone, energy_motor, "energy_motor_kj", 0,
              "work of the motor's brake torque at the axle; needs motor_nm"),
    KILOJOULE(bt_zone, recovered, "recovered_kj", 0,
              "energy into the battery; needs battery_voltage and battery_current, else estimated "
              "from motor work and efficiency and flagged"),
    CELSIUS(bt_zone, disc_front, "disc_front_c", 0,
            "largest front disc temperature, computed; needs disc mass and heat, and the friction "
            "torque"),
    CELSIUS(bt_zone, disc_rear, "disc_rear_c", 0,
            "largest rear disc temperature, computed; needs the same of the rear"),
    PURE(
        bt_zone, effort_ratio, "effort_ratio", 3, 0,
        "force that slowed the car over force the brakes should make: 1 where sheet and car agree; "
        "needs mass and both axles' torques"),
    TEXT(bt_zone, mode, "mode", 4,
         "by-wire, fallback, mixed or undetermined; blank where no by-wire channels are logged"),
    WORD(bt_zone, flags, "flags", BT_CELL_FLAGS, 5,
         "doubts and remarks, words with blanks between"),
    NUMBER(bt_zone, jerk, "jerk_mps3", "m/s3", 2, 0,
           "largest rate of rise of the smoothed deceleration while applying"),
    NUMBER(bt_zone, stop, "stop_m", "m", 2, 0,
           "stopping distance; blank unless the zone ends at standstill"),
    NUMBER(bt_zone, stop_nominal, "stop_nominal_m", "m", 2, 0,
           "stopping distance corrected to the nominal speed; needs --nominal"),
    NUMBER(bt_zone, bias_setting, "bias_setting", "", 2, 0,
           "the driver's balance setting as logged, at the start; needs bias_setting"),
    DEGREE(bt_zone, latitude, "latitude", 0, "latitude at the start; needs latitude"),
    DEGREE(bt_zone, longitude, "longitude", 0, "longitude at the start; needs longitude"),
    ACCEL(bt_zone, decel_sys, "decel_sys_mps2", 0,
          "part of decel_u_mps2 that is the same in every zone: calibration"),
    ACCEL(bt_zone, decel_rnd, "decel_rnd_mps2", 0,
          "part of decel_u_mps2 that differs from zone to zone: noise"),
    SHARE(bt_zone, balance_sys, "balance_sys_pct", 0,
          "part of balance_u_pct that is the same in every zone: friction, areas, radii"),
    SHARE(bt_zone, balance_rnd, "balance_rnd_pct", 0,
          "part of balance_u_pct that differs from zone to zone: sensors"),
    SHARE(bt_zone, motor_share_u, "motor_share_u_pct", 0,
          "standard uncertainty (k = 1) of motor_share_pct; needs tolerances in sheet or map"),
    TORQUE(bt_zone, blend_u, "blend_u_nm", 0,
           "standard uncertainty (k = 1) of blend_mean_nm; needs tolerances in sheet or map"),
    TORQUE(bt_zone, blend_sys, "blend_sys_nm", 0,
           "part of blend_u_nm that is the same in every zone"),
    TORQUE(bt_zone, blend_rnd, "blend_rnd_nm", 0,
           "part of blend_u_nm that differs from zone to zone"),
    KILOJOULE(bt_zone, kinetic, "kinetic_kj", 0,
              "kinetic energy lost, turning parts included; needs mass"),
    KILOJOULE(bt_zone, tyre, "tyre_kj", 0,
              "lost in the tyres' slip while braking; needs wheel speeds (without them it is in "
              "energy_front_kj and energy_rear_kj)"),
    KILOJOULE(bt_zone, road, "road_kj", 0,
              "work of the road load; needs road_load_a, road_load_b or road_load_c"),
    KILOJOULE(bt_zone, rest, "rest_kj", 0,
              "kinetic_kj less energy_front_kj, energy_rear_kj, energy_motor_kj, tyre_kj and "
              "road_kj: engine, grade, and what sheet and log do not agree on"),
    KELVIN(bt_zone, disc_front_margin, "disc_front_margin_k", 0,
           "disc_limit_front less disc_front_c; needs disc_limit_front"),
    KELVIN(bt_zone, disc_rear_margin, "disc_rear_margin_k", 0,
           "disc_limit_rear less disc_rear_c; needs disc_limit_rear"),
    KELVIN(bt_zone, disc_front_differs, "disc_front_differs_k", 0,
           "hotter measured front disc less the computed one at the end; needs disc_fl or disc_fr"),
    KELVIN(bt_zone, disc_rear_differs, "disc_rear_differs_k", 0,
           "hotter measured rear disc less the computed one at the end; needs disc_rl or disc_rr"),
    CELSIUS(bt_zone, disc_front_first, "disc_front_first_c", 0,
            "measured front discs at the start, mean; needs disc_fl or disc_fr"),
    CELSIUS(bt_zone, disc_rear_first, "disc_rear_first_c", 0,
            "measured rear discs at the start, mean; needs disc_rl or disc_rr"),
    CELSIUS(bt_zone, disc_front_final, "disc_front_final_c", 0,
            "measured front discs at the end, mean; needs disc_fl or disc_fr"),
    CELSIUS(bt_zone, disc_rear_final, "disc_rear_final_c", 0,
            "measured rear discs at the end, mean; needs disc_rl or disc_rr"),
    TIME(bt_zone, hold_time, "hold_s", 0,
         "length of the held part: from 0.25 s after the pedal got to 90 % of its peak to the last "
         "time above 75 %"),
    NUMBER(bt_zone, hold_decel, "hold_decel_mps2", "m/s2", 4, 0,
           "mean deceleration in the held part"),
    NUMBER(bt_zone, hold_wheel_decel, "hold_wheel_decel_mps2", "m/s2", 4, 0,
           "mean deceleration of the wheels' tread in the held part; needs wheel speeds"),
    NUMBER(bt_zone, hold_speed, "hold_mps", "m/s", 3, 0, "mean speed in the held part"),
    HOLD(bt_zone, hold_pedal_front, "hold_pedal_front_bar", "mean pedal_front in the held part"),
    HOLD(bt_zone, hold_pedal_rear, "hold_pedal_rear_bar", "mean pedal_rear in the held part"),
    HOLD(bt_zone, hold_line_front, "hold_line_front_bar",
         "mean front line pressure in the held part"),
    HOLD(bt_zone, hold_line_rear, "hold_line_rear_bar", "mean rear line pressure in the held part"),
    TORQUE(bt_zone, hold_front, "hold_front_nm", 0,
           "mean friction torque of the front axle in the held part"),
    TORQUE(bt_zone, hold_rear_friction, "hold_rear_friction_nm", 0,
           "mean friction torque of the rear axle in the held part"),
    TORQUE(bt_zone, hold_motor, "hold_motor_nm", 0,
           "mean brake torque of the motor in the held part"),
    SCALED(
        bt_zone, hold_pedal_slope, "hold_pedal_slope_barps", "bar/s", 1e-5, 3, 0,
        "change of the by-wire axle's pedal pressure over the held part, between means over 0.05 s "
        "before its start and before its end"),
    NUMBER(bt_zone, hold_motor_slope, "hold_motor_slope_nmps", "N.m/s", 1, 0,
           "change of the motor's brake torque over the held part, taken alike"),
    SHARE(bt_zone, flagged, "flagged_pct", 0,
          "part of the time in which bywire_state says given up; needs bywire_state"),
    NUMBER(bt_zone, blend_delay_u, "blend_delay_u_s", "s", 5, 0,
           "standard uncertainty (k = 1) of blend_delay_s, of the fit alone"),
    PURE(
        bt_zone, blend_gain_u, "blend_gain_u", 5, 0,
        "standard uncertainty (k = 1) of blend_gain, of the fit alone: what the sheet may be wrong "
        "by comes on top"),
    NUMBER(bt_zone, blend_rest_u, "blend_rest_u_nm", "N.m", 2, 0,
           "standard uncertainty (k = 1) of blend_rest_nm: noise of the sensors that is in it"),
    SHARE(bt_zone, blend_by_delay, "blend_by_delay_pct", 0,
          "part of the mean square blend error that goes away with the delay: lag; this and the "
          "next two make 100"),
    SHARE(bt_zone, blend_by_gain, "blend_by_gain_pct", 0,
          "part that goes away with the gain then: calibration"),
    SHARE(bt_zone, blend_by_rest, "blend_by_rest_pct", 0, "part that is neither"),
    METRE(bt_zone, odometer, "odometer_m", 0,
          "distance from the first row at the start, whatever lap_distance says"),
};

static const bt_column events[] = {
    TEXT(bt_event, run, "run", 2, "log the event is from"),
    TEXT(bt_event, kind, "event", 1, "kind of event"),
    COUNT(bt_event, zone, "zone", 3, "braking zone it began in; blank outside zones"),
    COUNT(bt_event, lap, "lap", 2, "lap it began in; needs lap"),
    TEXT(bt_event, place, "place", 2, "label of the place; blank outside zones"),
    TIME(bt_event, start, "start_s", 1, "onset, in the seconds of the zones' start_s"),
    TIME(bt_event, duration, "duration_s", 6, "onset to end; blank where the end is not known"),
    WORD(bt_event, severity, "severity", BT_CELL_SEVERITY, 1,
         "note, watch, or stop: look at the car before it goes out"),
    PURE(bt_event, value, "value", 3, 0, "the figure that made it an event, in unit"),
    TEXT(bt_event, unit, "unit", 0, "unit of value"),
    TEXT(bt_event, reason, "reason", 1, "why, in one line with figures"),
};

static const bt_column runs[] = {
    TEXT(bt_run, run, "run", 1, "log: its file name without .csv, .txt and .gz"),
    TEXT(bt_run, status, "status", 1, "ok, or why the log could not be analysed"),
    TIME(bt_run, duration, "duration_s", 8, "first row to last"),
    COUNT(bt_run, laps, "laps", 6, "laps with braking in them, logged or found from the zones"),
    COUNT(bt_run, zones, "zones", 2, "braking zones"),
    TIME(bt_run, braking, "braking_s", 0, "time in braking zones"),
    ACCEL(bt_run, decel_peak, "decel_peak_mps2", 7, "largest of the zones"),
    SHARE(bt_run, balance, "balance_pct", 2, "plain mean of the zones' balance"),
    DRIFT(bt_run, balance_drift, "balance_drift_pctplap", 3,
          "drift of the balance per lap at the same places, points of balance; needs laps and "
          "places"),
    DRIFT(bt_run, drift_low, "drift_low", 0, "lower end of the drift's 95 % interval"),
    DRIFT(bt_run, drift_high, "drift_high", 0, "upper end of the drift's 95 % interval"),
    CHANCE(bt_run, drift_p, "drift_p", 5,
           "probability of such a drift by chance, seasonal Kendall test with covariance"),
    TORQUE(bt_run, blend_rms, "blend_rms_nm", 0, "plain mean of the zones' blend_rms_nm"),
    TALLY(bt_run, blend_frac, "blend_pct", 4, "plain mean of the zones' blend_pct"),
    DELAY(
        bt_run, blend_delay, "blend_delay_s", 4,
        "plain mean of the zones' blend_delay_s, those in fallback left out: the by-wire's own, as "
        "blend_gain, blend_rest_nm and their shares and intervals"),
    COUNT(bt_run, worst_zone, "worst_zone", 8, "number of the zone with the largest blend_rms_nm"),
    SHARE(bt_run, motor_share, "motor_share_pct", 6, "plain mean of the zones' motor_share_pct"),
    KILOJOULE(bt_run, recovered, "recovered_kj", 9, "energy into the battery in all zones"),
    COUNT(bt_run, fallbacks, "fallbacks", 2,
          "times the rear line fell back to its bypass, silent ones included; needs by-wire "
          "channels"),
    TIME(bt_run, first_fallback, "first_fallback_s", 0, "onset of the first fallback"),
    TIME(bt_run, fallback_time, "fallback_s", 0, "clock time in fallback, onset to end"),
    COUNT(bt_run, silent_fallbacks, "silent_fallbacks", 5,
          "fallbacks that the log's bywire_state does not show; needs bywire_state"),
    COUNT(bt_run, locks, "locks", 7, "wheel-lock events; needs wheel speeds"),
    CELSIUS(bt_run, disc_front, "disc_front_c", 7, "largest front disc temperature, computed"),
    CELSIUS(bt_run, disc_rear, "disc_rear_c", 7, "largest rear disc temperature, computed"),
    PURE(bt_run, effort_ratio, "effort_ratio", 3, 9, "plain mean of the zones' effort_ratio"),
    COUNT(bt_run, events, "events", 3, "events of any severity"),
    COUNT(bt_run, stops, "stops", 1, "events of severity stop"),
    COUNT(bt_run, rows, "rows", 0, "rows of the log below its header"),
    COUNT(bt_run, dropped_rows, "dropped_rows", 0, "rows left out for a fault of their time"),
    COUNT(bt_run, gaps, "gaps", 0, "holes in time that ended a stretch"),
    WORD(bt_run, flags, "flags", BT_CELL_FLAGS, 5, "doubts and remarks, words with blanks between"),
    COUNT(bt_run, touches, "touches", 0, "brakings too short or too light to be zones"),
    KILOJOULE(bt_run, kinetic, "kinetic_kj", 0,
              "kinetic energy lost in the zones whose energy books are complete, as the next six"),
    KILOJOULE(bt_run, energy_front, "energy_front_kj", 0, "work of the front friction brakes"),
    KILOJOULE(bt_run, energy_rear, "energy_rear_kj", 0, "work of the rear friction brakes"),
    KILOJOULE(bt_run, energy_motor, "energy_motor_kj", 0, "work of the motor's brake torque"),
    KILOJOULE(bt_run, tyre, "tyre_kj", 0, "lost in the tyres' slip"),
    KILOJOULE(bt_run, road, "road_kj", 0, "work of the road load"),
    KILOJOULE(bt_run, rest, "rest_kj", 0,
              "what the books leave over: engine, grade, and what sheet and log do not agree on"),
    PURE(bt_run, blend_gain, "blend_gain", 3, 0, "plain mean of the zones' blend_gain"),
    TORQUE(bt_run, blend_rest, "blend_rest_nm", 0, "plain mean of the zones' blend_rest_nm"),
    NUMBER(bt_run, blend_delay_low, "blend_delay_low_s", "s", 4, 0,
           "lower end of the 95 % interval of blend_delay_s (Student's t over the zones); needs "
           "three zones with the figure, as the next five"),
    NUMBER(bt_run, blend_delay_high, "blend_delay_high_s", "s", 4, 0, "upper end of it"),
    PURE(bt_run, blend_gain_low, "blend_gain_low", 4, 0,
         "lower end of the 95 % interval of blend_gain"),
    PURE(bt_run, blend_gain_high, "blend_gain_high", 4, 0, "upper end of it"),
    TORQUE(bt_run, blend_rest_low, "blend_rest_low_nm", 0,
           "lower end of the 95 % interval of blend_rest_nm"),
    TORQUE(bt_run, blend_rest_high, "blend_rest_high_nm", 0, "upper end of it"),
    SHARE(bt_run, blend_by_delay, "blend_by_delay_pct", 0,
          "plain mean of the zones' blend_by_delay_pct"),
    SHARE(bt_run, blend_by_gain, "blend_by_gain_pct", 0,
          "plain mean of the zones' blend_by_gain_pct"),
    SHARE(bt_run, blend_by_rest, "blend_by_rest_pct", 0,
          "plain mean of the zones' blend_by_rest_pct"),
    TEXT(bt_run, digest, "digest", 0,
         "of the log's bytes as stored, with --update: tells whether the row is still the "
         "log's; day = the row over all logs"),
    TEXT(bt_run, made_with, "made_with", 0,
         "of car sheet, map, options and version that the row was made with, with --update"),
};

static const bt_column trace[] = {
    NUMBER(bt_trace, t, "time_s", "s", 4, 1, "time, in the seconds of the zones' start_s"),
    ROUNDED(bt_trace, speed, "speed_mps", "m/s", 1, 3, 1, 1, "reference speed"),
    ACCEL(bt_trace, decel, "decel_mps2", 1, "smoothed deceleration, positive slows"),
    TORQUE(bt_trace, front, "front_nm", 3, "friction torque of the front axle"),
    TORQUE(bt_trace, rear_friction, "rear_friction_nm", 3, "friction torque of the rear axle"),
    TORQUE(bt_trace, motor, "motor_nm", 3, "brake torque of the motor at its axle"),
    TORQUE(bt_trace, demand, "demand_nm", 2, "torque asked of the by-wire axle"),
    TORQUE(bt_trace, blend, "blend_nm", 2, "blend error: delivered minus demand"),
    SHARE(bt_trace, balance, "balance_pct", 2, "front part of the brake force"),
    SHARE(bt_trace, slip[0], "slip_fl_pct", 0, "slip, front left: positive turns slower"),
    SHARE(bt_trace, slip[1], "slip_fr_pct", 0, "slip, front right"),
    SHARE(bt_trace, slip[2], "slip_rl_pct", 0, "slip, rear left"),
    SHARE(bt_trace, slip[3], "slip_rr_pct", 0, "slip, rear right"),
    CELSIUS(bt_trace, disc_front, "disc_front_c", 0, "front disc temperature, computed"),
    CELSIUS(bt_trace, disc_rear, "disc_rear_c", 0, "rear disc temperature, computed"),
    COUNT(bt_trace, zone, "zone", 1, "number of the braking zone; blank outside zones"),
    TEXT(bt_trace, mode, "mode", 4,
         "by-wire, fallback or undetermined, as known at the end of the zone; blank outside zones; "
         "where a later zone tells that a fallback began earlier, or was none, the zones' mode has "
         "it, the trace no more"),
    TORQUE(bt_trace, blend_controller, "blend_controller_nm", 0,
           "controller's part of the blend error: both requests minus demand"),
    TORQUE(bt_trace, blend_motor, "blend_motor_nm", 0,
           "motor's part: torque minus motor_request; needs motor_request"),
    TORQUE(bt_trace, blend_actuator, "blend_actuator_nm", 0,
           "actuator's part: friction minus line_request's; needs line_request"),
};

static const bt_column inspect[] = {
    COUNT(bt_inspect_column, column, "column", 2, "place in the log, from 1"),
    TEXT(bt_inspect_column, name, "name", 1, "header text"),
    TEXT(bt_inspect_column, unit, "unit", 2, "unit from name or units row"),
    TEXT(bt_inspect_column, channel, "channel", 1, "channel it serves; blank = none"),
    TEXT(bt_inspect_column, proposed, "proposed", 5, "channel that its name and unit suggest"),
    SCALED(bt_inspect_column, sure, "sure_pct", "%", 100, 0, 8, "how sure the proposal is"),
    ROUNDED(bt_inspect_column, rate, "rate_hz", "Hz", 1, 2, 1, 4, "rate of cells with a value"),
    SHARE(bt_inspect_column, blanks, "blanks_pct", 6, "part of the rows without a value"),
    COUNT(bt_inspect_column, bad, "bad", 7, "cells that should be numbers and are not"),
    FIGURE(bt_inspect_column, min, "min", 4, 2, 3, "smallest value, in the log's own unit"),
    FIGURE(bt_inspect_column, max, "max", 4, 2, 3, "largest value, in the log's own unit"),
    TEXT(bt_inspect_column, remark, "remark", 1, "what looks odd"),
};

static const bt_column bypass[] = {
    SCALED(bt_bypass, share, "front_share_pct", "%", 100, 1, 1,
           "front part of the brake force in a mean braking"),
    SCALED(bt_bypass, setting, "setting_pct", "%", 100, 1, 2,
           "front part of the pedal pressures that gives it; needs both circuits' rows and "
           "bypass_ratio"),
    CELSIUS(bt_bypass, disc_front, "disc_front_c", 1,
            "largest front disc temperature over the laps"),
    CELSIUS(bt_bypass, disc_rear, "disc_rear_c", 1, "largest rear disc temperature over the laps"),
    CELSIUS(bt_bypass, settled_front, "settled_front_c", 4,
            "largest front disc temperature once it rises no more from round to round"),
    CELSIUS(bt_bypass, settled_rear, "settled_rear_c", 4, "the same of the rear"),
    COUNT(bt_bypass, limit_lap, "limit_lap", 2,
          "lap after the fallback, from 1, in which a disc passes its limit; blank = never"),
    FIGURE(
        bt_bypass, adhesion_front, "adhesion_front", 3, 1, 3,
        "front brake force over dynamic axle load, largest of the peaks; needs mass and geometry"),
    FIGURE(bt_bypass, adhesion_rear, "adhesion_rear", 3, 1, 3, "the same of the rear"),
    TEXT(bt_bypass, locks_first, "locks_first", 2,
         "front or rear: the axle that uses more adhesion at the peak that uses most; either = "
         "closer "
         "than 5 %, as no plan can tell"),
    BAR(bt_bypass, pedal_front, "pedal_front_bar", "bar", 3,
        "largest front pedal pressure needed; needs both circuits' rows and bypass_ratio"),
    BAR(bt_bypass, pedal_rear, "pedal_rear_bar", "bar", 5, "largest rear pedal pressure needed"),
    ACCEL(bt_bypass, decel_lost, "decel_lost_mps2", 3,
          "deceleration lost at the hardest peak where grip_limit runs out at one axle"),
    TEXT(bt_bypass, finding, "finding", 1, "keeps its limits, or which of them goes first"),
};

static const bt_column drift[] = {
    TEXT(bt_drift, figure, "figure", 1,
         "zone figure that moves, by its name in the zones table; bias_setting and mode = a step "
         "of it"),
    TEXT(bt_drift, place, "place", 1, "label of the place; all = pooled"),
    COUNT(bt_drift, n, "n", 6,
          "zones compared: at one place, with one bias_setting and in one mode"),
    COUNT(bt_drift, laps, "laps", 6, "different laps (times, runs) among them"),
    FIGURE(bt_drift, slope, "slope", 4, 1, 2,
           "change in `unit`: seasonal Kendall (Theil-Sen) slope"),
    FIGURE(bt_drift, low, "low", 4, 1, 4,
           "lower end of its 95 % interval; blank where nothing bounds it"),
    FIGURE(bt_drift, high, "high", 4, 1, 4, "upper end of its 95 % interval"),
    TEXT(bt_drift, unit, "unit", 3, "unit of slope, low, high and by_*"),
    CHANCE(
        bt_drift, p, "p", 2,
        "probability of such a drift by chance, seasonal Kendall test with covariance and memory"),
    PURE(bt_drift, break_lap, "break_lap", 2, 5,
         "first lap (minute, run) of the new level; blank unless a step fits better than a slope "
         "and break_p is below 0.05"),
    PURE(bt_drift, break_size, "break_size", 3, 5, "size of that step, in the figure's own unit"),
    CHANCE(bt_drift, break_p, "break_p", 7,
           "probability that laps of one level would stray so far, by permutation"),
    PURE(bt_drift, by_front, "by_front", 4, 0,
         "part of the slope that front friction made; balance_pct only; the three sum to slope"),
    PURE(bt_drift, by_rear_friction, "by_rear_friction", 4, 0,
         "part of the slope that rear friction made"),
    PURE(bt_drift, by_motor, "by_motor", 4, 0, "part of the slope that the motor made"),
    TEXT(bt_drift, finding, "finding", 0, "what it says, in one line"),
    TEXT(bt_drift, run, "run", 3, "run it is about; all = of several, each compared with itself"),
};

static const bt_column compare[] = {
    TEXT(bt_compare, figure, "figure", 1, "zone figure, by its name in the zones table"),
    TEXT(bt_compare, place, "place", 1, "label of the place; all = mean over places, paired"),
    COUNT(bt_compare, n_a, "n_a", 6, "zones of A there"),
    COUNT(bt_compare, n_b, "n_b", 6, "zones of B there"),
    FIGURE(bt_compare, mean_a, "mean_a", 3, 1, 4, "mean of A's zones, in `unit`"),
    FIGURE(bt_compare, mean_b, "mean_b", 3, 1, 4, "mean of B's zones"),
    FIGURE(bt_compare, diff, "diff", 4, 1, 2, "B minus A"),
    FIGURE(bt_compare, u, "u", 4, 1, 5,
           "standard uncertainty (k = 1) of diff: its random part, from the spread of the zones"),
    FIGURE(bt_compare, low, "low", 4, 1, 5, "lower end of the 95 % interval of diff"),
    FIGURE(bt_compare, high, "high", 4, 1, 5, "upper end of the 95 % interval of diff"),
    TEXT(bt_compare, unit, "unit", 3, "unit of the figure"),
    CHANCE(bt_compare, p, "p", 3,
           "probability of such a difference by chance: Welch's t, paired t"),
    CHANCE(bt_compare, p_adjusted, "p_adj", 3,
           "the same over all places of the figure (Benjamini and Hochberg); blank for all"),
    TEXT(bt_compare, finding, "finding", 0, "what it says, in one line"),
};

static const bt_column fit[] = {
    TEXT(bt_fit, quantity, "quantity", 1,
         "quantity of the car sheet; # = not one, to be read only"),
    PURE(bt_fit, value, "value", BT_DECIMALS_AS_IS, 1,
         "fitted value, in unit; no more digits than tolerance allows"),
    TEXT(bt_fit, unit, "unit", 1, "unit of value and tolerance"),
    PURE(bt_fit, tolerance, "tolerance", BT_DECIMALS_AS_IS, 2,
         "standard uncertainty of chance alone, in unit"),
    TEXT(bt_fit, note, "note", 1, "95 % interval, from how many zones, given which rows"),
};

static const bt_column columns[] = {
    POINTER(bt_column, name, "name", 1, "header text"),
    POINTER(bt_column, unit, "unit", 1, "UCUM code of what is printed; 1 = a plain number"),
    POINTER(bt_column, meaning, "meaning", 1, "what it is, and what it needs"),
};

#define TABLE(name, rows)  [BT_TABLE_##name] = {rows, sizeof rows / sizeof rows[0], #rows}
#define LATER(name, label) [BT_TABLE_##name] = {NULL, 0, label}
static const struct {
    const bt_column *columns;
    size_t n;
    const char *name;
} tables[] = {
    TABLE(ZONES, zones), TABLE(EVENTS, events),   TABLE(RUNS, runs),       TABLE(TRACE, trace),
    TABLE(DRIFT, drift), TABLE(COMPARE, compare), TABLE(INSPECT, inspect), TABLE(BYPASS, bypass),
    TABLE(FIT, fit),     TABLE(COLUMNS, columns),
};

const bt_column *bt_columns(bt_table_kind table, size_t *n)
{
    const bool known = (unsigned)table < BT_TABLE_COUNT;
    *n = known ? tables[table].n : 0;
    return known ? tables[table].columns : NULL;
}

const char *bt_table_name(bt_table_kind table)
{
    return (unsigned)table < BT_TABLE_COUNT ? tables[table].name : NULL;
}

const char *bt_flag_word(unsigned bit)
{
    static const char *const words[] = {
#define X(id, word, meaning) word,
        BT_FLAG_LIST(X)
#undef X
    };
    return bit < BT_FLAG_COUNT ? words[bit] : NULL;
}

const char *bt_severity_word(bt_severity severity)
{
    static const char *const words[] = {"note", "watch", "stop"};
    return (unsigned)severity < sizeof words / sizeof words[0] ? words[severity] : "";
}

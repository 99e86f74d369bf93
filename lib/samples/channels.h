/* Channels: which column of the log serves as what, and how its numbers become SI (CONTRACT 4). */
#ifndef BT_CHANNELS_H
#define BT_CHANNELS_H

#include "rows/dialect.h"
#include "base/error.h"
#include "rows/signals.h"
#include "rows/table.h"
#include "base/units.h"

/* Every channel but time.  Kind: C = continuous (holes are filled by straight lines), S = state (holds
 * its last value). */
#define BT_CHANNEL_LIST(X)                                                                         \
    X(SPEED, "speed", C)                                                                           \
    X(WHEEL_FL, "wheel_fl", C)                                                                     \
    X(WHEEL_FR, "wheel_fr", C)                                                                     \
    X(WHEEL_RL, "wheel_rl", C)                                                                     \
    X(WHEEL_RR, "wheel_rr", C)                                                                     \
    X(PEDAL_FRONT, "pedal_front", C)                                                               \
    X(PEDAL_REAR, "pedal_rear", C)                                                                 \
    X(PEDAL_TRAVEL, "pedal_travel", C)                                                             \
    X(PEDAL_FORCE, "pedal_force", C)                                                               \
    X(LINE_FRONT, "line_front", C)                                                                 \
    X(LINE_REAR, "line_rear", C)                                                                   \
    X(LINE_FL, "line_fl", C)                                                                       \
    X(LINE_FR, "line_fr", C)                                                                       \
    X(LINE_RL, "line_rl", C)                                                                       \
    X(LINE_RR, "line_rr", C)                                                                       \
    X(LINE_REQUEST, "line_request", C)                                                             \
    X(MOTOR_TORQUE, "motor_torque", C)                                                             \
    X(MOTOR_REQUEST, "motor_request", C)                                                           \
    X(MOTOR_SPEED, "motor_speed", C)                                                               \
    X(BATTERY_VOLTAGE, "battery_voltage", C)                                                       \
    X(BATTERY_CURRENT, "battery_current", C)                                                       \
    X(BYWIRE_STATE, "bywire_state", S)                                                             \
    X(BIAS_SETTING, "bias_setting", S)                                                             \
    X(ACCEL_LONG, "accel_long", C)                                                                 \
    X(ACCEL_LAT, "accel_lat", C)                                                                   \
    X(DISC_FL, "disc_fl", C)                                                                       \
    X(DISC_FR, "disc_fr", C)                                                                       \
    X(DISC_RL, "disc_rl", C)                                                                       \
    X(DISC_RR, "disc_rr", C)                                                                       \
    X(LAP, "lap", S)                                                                               \
    X(LAP_DISTANCE, "lap_distance", C)                                                             \
    X(LATITUDE, "latitude", C)                                                                     \
    X(LONGITUDE, "longitude", C)                                                                   \
    X(AMBIENT, "ambient", C)

typedef enum {
#define X(id, name, kind) BT_CH_##id,
    BT_CHANNEL_LIST(X)
#undef X
        BT_CH_COUNT
} bt_channel;

const char *bt_channel_name(bt_channel channel);
bool bt_channel_is_state(bt_channel channel);
bool bt_channel_is_pressure(bt_channel channel);       /* the nine of them, line_request included */
bt_dimension bt_channel_dimension(bt_channel channel); /* NONE = taken as logged */
/* The channel of that name (any case, blank, dash and underscore alike); BT_CH_COUNT = none. */
bt_channel bt_channel_find(const char *name);

/* How one channel is served. */
typedef struct {
    int column;           /* index of the log's column, -1 = not logged */
    double factor, shift; /* SI = cell * factor + shift; all of unit, scale and offset in it */
    double tolerance;     /* standard uncertainty in SI, NaN = not given */
    bool angular;         /* a wheel in rad/s or rpm: SI is rad/s * rolling radius of its axle */
    const bt_unit *unit;  /* that the cells are taken to be in; NULL = as logged */
    bool scaled;          /* the map scales or shifts the cells first */
} bt_binding;

typedef struct {
    bt_binding ch[BT_CH_COUNT];
    int time_column;           /* -1 = none: `rate` makes the time */
    char time_unit[24];        /* as read or mapped; "" = by looking */
    double rate;               /* Hz; 0 = the log has a time */
    bt_layout layout;          /* WIDE or LONG, decided; of LONG the "columns" are signals found */
    const bt_dialect *dialect; /* borrowed */
    const bt_signals *signals; /* borrowed; NULL unless LONG */
    /* Per axle (front, rear): wheels in rad/s or rpm were left out, since the car sheet has no
     * rolling radius for them. */
    bool radius_missing[2];
} bt_channels;

/* Bind channels to the columns of a log (dialect): by the map first, then by names.  `signals` stand
 * for the columns in the long layout (NULL otherwise); a signal that the map names and the log's head
 * lacks is added to them, since it may come later.  The car gives the rolling radii that angular
 * wheels need; without one the wheel is left out (radius_missing).  car and map may be NULL.
 *
 * A name serves if it is a channel's name as written, else without its unit, else with any case,
 * blank, dash and underscore alike; two columns that are equally good are an error.  A channel
 * without unit has the first one of CONTRACT 4; `-` channels are taken as logged, whatever their
 * unit; latitude and longitude stay in degrees.  Errors name map file, line and column, or the log's
 * line and column (the caller adds its name), what was expected and found, and the nearest name:
 * BT_SYNTAX for an unknown channel or column, a channel mapped twice, a doubtful match, an unknown
 * unit on a channel in use; BT_MISSING for no time. */
bt_status bt_channels_bind(bt_channels *out, const bt_dialect *dialect, bt_signals *signals,
                           const bt_map *map, const bt_car *car, const bt_setup *setup,
                           bt_error *err) BT_MUST_USE;
/* The log's columns: of the dialect, or the signals.  *n = how many. */
const bt_log_column *bt_channels_columns(const bt_channels *channels, size_t *n);
/* The unit that the log states where the map says another one for the channel; NULL = no such
 * contradiction, also where the map scales. */
const bt_unit *bt_channels_header_unit(const bt_channels *channels, bt_channel channel);
/* Is the channel logged? */
bool bt_channels_has(const bt_channels *channels, bt_channel channel);

#endif

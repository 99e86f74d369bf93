/* braketally: what happened at the brakes of a car whose rear brakes are by
 * wire, worked out from its log.  The only installed header.
 *
 * Everything inside is SI: s, m, m/s, Pa, N, N*m, J, W, K, rad/s.  The units of
 * the trade (bar, km/h, %, kJ, degC) appear only where text is read or written.
 * NaN means "no value".  Deceleration and brake torque are positive when they
 * slow the car.  The library never prints, never exits and keeps no globals. */
#ifndef BRAKETALLY_H
#define BRAKETALLY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define BT_VERSION_MAJOR 0
#define BT_VERSION_MINOR 1
#define BT_VERSION_PATCH 0
#define BT_VERSION       "0.1.0"

#if defined(__GNUC__)
#define BT_PRINTF(fmt, args) __attribute__((format(printf, fmt, args)))
#define BT_MUST_USE          __attribute__((warn_unused_result))
#else
#define BT_PRINTF(fmt, args)
#define BT_MUST_USE
#endif

/* ---- errors: the status decides, the message explains, the place helps ---- */

#define BT_STATUS_LIST(X)                                                                          \
    X(OK, "no error")                                                                              \
    X(NOMEM, "out of memory")                                                                      \
    X(READ, "cannot read")                                                                         \
    X(WRITE, "cannot write")                                                                       \
    X(SYNTAX, "not in the expected form")                                                          \
    X(RANGE, "outside the possible range")                                                         \
    X(MISSING, "needed channel or quantity missing")                                               \
    X(STOPPED, "stopped by the caller")

typedef enum {
#define X(name, meaning) BT_##name,
    BT_STATUS_LIST(X)
#undef X
        BT_STATUS_COUNT
} bt_status;

/* What went wrong and where.  Zero it before the first call; the first error stays. */
typedef struct {
    bt_status status;
    char file[256];        /* as the user spelled it; "" = no file to blame */
    uint64_t line, column; /* from 1, column counts fields; 0 = not known */
    char message[256];     /* "expected ..., found ..."; one line, no full stop */
} bt_error;

/* Says in a few words what a status means; "unknown status" for anything else. */
const char *bt_status_meaning(bt_status status);

/* The version of the library that is linked, "0.1.0". */
const char *bt_version(void);

/* The entry of names[0..n) nearest to `word` (edit distance, letters of either
 * case alike, at most a third of its letters wrong); NULL if none is near.  To
 * be offered, never taken. */
const char *bt_nearest(const char *word, const char *const *names, size_t n);

/* The caution that goes with every page and manual, and its short form for one line. */
#define BT_CAUTION                                                                                 \
    "braketally is an aid to analysis and no proof that a car is safe to run. "                    \
    "Brake and high-voltage work and the decision to run belong to qualified people, "             \
    "under the series', the manufacturer's and local rules. "                                      \
    "After a fallback or a brake sensor fault the car is looked at before it goes out."
#define BT_CAUTION_SHORT                                                                           \
    "An aid to analysis, no proof of safety: qualified people decide whether the car runs."

/* ---- rows: what the tables hold, a struct each, SI, NaN = no value ---- */

#define BT_NAME_MAX  128 /* bytes of a run name, the end included; longer ones are cut */
#define BT_LABEL_MAX 16

/* Doubts and remarks on one zone or one run; a table prints the words. */
#define BT_FLAG_LIST(X)                                                                            \
    X(CUT_START, "cut-start", "under way when the log or the stretch began")                       \
    X(CUT_END, "cut-end", "not finished when the log or the stretch ended")                        \
    X(TRUNCATED, "truncated", "the log ends in the middle of a row or of a gzip member")           \
    X(NO_ZERO, "no-zero", "no released pedal before the zone to take the pressure zero from")      \
    X(ZERO_OFFSET, "zero-offset", "a pressure zero beyond 2 bar: nothing subtracted")              \
    X(DRAG, "drag", "line pressure left over while the pedal was released")                        \
    X(SPEED_UNSURE, "speed-unsure", "speed fell faster than the grip limit allows: bridged")       \
    X(MOTOR_SPEED, "motor-speed", "speed taken from the motor's")                                  \
    X(RADIUS, "radius", "a wheel's rolling radius is more than 3 % from the others'")              \
    X(SENSOR_STUCK, "sensor-stuck", "a channel stood still while a sister channel moved")          \
    X(SENSOR_RANGE, "sensor-range", "a channel outside its possible range or pinned")              \
    X(SENSOR_GAP, "sensor-gap", "a needed channel has a hole in the zone")                         \
    X(DELAY_WEAK, "delay-weak", "too little shape in the demand to tell a delay")                  \
    X(RECOVERED_ESTIMATED, "recovered-estimated", "recovered energy from torque, not battery")     \
    X(THINNED, "thinned", "so many rows that every other one was left out of the shape figures")   \
    X(TIME_FAULTS, "time-faults", "rows with a repeated or backward time were dropped")            \
    X(GAPS, "gaps", "holes in time")                                                               \
    X(BAD_CELLS, "bad-cells", "cells that should be numbers and are not")                          \
    X(NO_ZONES, "no-zones", "no braking zone found")                                               \
    X(BRAKE_TEMPERATURE, "disc-differs", "measured and computed disc temperature differ much")

enum bt_flag_bit {
#define X(id, word, meaning) BT_FLAG_BIT_##id,
    BT_FLAG_LIST(X)
#undef X
        BT_FLAG_COUNT
};
enum bt_flag {
#define X(id, word, meaning) BT_FLAG_##id = 1 << BT_FLAG_BIT_##id,
    BT_FLAG_LIST(X)
#undef X
};

/* One braking zone.  Torques are axle torques, N*m; shares are 0..1. */
typedef struct {
    char run[BT_NAME_MAX];
    char place[BT_LABEL_MAX];
    char mode[BT_LABEL_MAX];  /* by-wire fallback mixed undetermined, "" = not by wire */
    char cause[BT_LABEL_MAX]; /* controller motor actuator, "" = cannot tell */
    uint32_t flags;           /* of enum bt_flag */
    double zone;              /* 1.. in each run */
    double lap;
    double start, duration;                          /* s */
    double start_dist, distance;                     /* m */
    double entry, exit;                              /* m/s */
    double decel_mean, decel_peak, decel_dist, mfdd; /* m/s2 */
    double decel_u;                                  /* standard uncertainty of decel_mean */
    double pedal_peak, pedal_rate, rise; /* Pa (NaN if the pedal is no pressure), Pa/s, s */
    double front, rear_friction, motor;  /* N*m, means over the zone */
    double motor_share;
    double balance, balance_u, balance_hyd, balance_ideal;     /* front share */
    double balance_slope;                                      /* 1/s */
    double demand, blend_mean, blend_rms, blend_peak;          /* N*m */
    double blend_frac, blend_inband;                           /* 0..  */
    double blend_delay, blend_gain, blend_rest;                /* s, -, N*m */
    double handover;                                           /* N*m, signed */
    double slip_front, slip_rear, lock;                        /* 0..1, 0..1, s */
    double energy_front, energy_rear, energy_motor, recovered; /* J */
    double disc_front, disc_rear;                              /* K, largest in the zone */
    double effort_ratio;
    double jerk;               /* m/s3, largest rise of the deceleration while applying */
    double stop, stop_nominal; /* m, of stops to standstill; corrected to --nominal */
    double bias_setting;
    double latitude, longitude; /* deg, at the start */
    /* Standard uncertainties taken apart: systematic (the same in every zone of a car: friction, areas,
     * radii) and random (sensors, zone by zone); the _u figures above are both together. */
    double decel_sys, decel_rnd;     /* m/s2 */
    double balance_sys, balance_rnd; /* share */
    double motor_share_u;
    double blend_u, blend_sys, blend_rnd; /* N*m, of blend_mean */
    /* Energy books: kinetic lost = front + rear + motor work + tyre + road + rest. */
    double kinetic, tyre, road, rest;             /* J */
    double disc_front_margin, disc_rear_margin;   /* K, limit less peak */
    double disc_front_differs, disc_rear_differs; /* K, measured less computed at the end */
    double disc_front_first, disc_rear_first;     /* K, measured at the start */
    double disc_front_final, disc_rear_final;     /* K, measured at the end */
    /* Means over the held part of the zone (plateau.h), what `fit` is made from. */
    double hold_time, hold_decel, hold_speed;          /* s, m/s2, m/s */
    double hold_pedal_front, hold_pedal_rear;          /* Pa; the rear as long before as it acts */
    double hold_line_front, hold_line_rear;            /* Pa */
    double hold_front, hold_rear_friction, hold_motor; /* N*m */
} bt_zone;

typedef enum { BT_NOTE, BT_WATCH, BT_STOP } bt_severity;

/* One event; `kind` is one of the words of CONTRACT 7. */
typedef struct {
    char run[BT_NAME_MAX];
    char kind[24];
    char place[BT_LABEL_MAX];
    double zone, lap;       /* NaN outside zones */
    double start, duration; /* s */
    bt_severity severity;
    double value; /* in `unit`, as printed */
    char unit[12];
    char reason[200]; /* one line with figures */
} bt_event;

/* One log: a row of the day sheet. */
typedef struct {
    char run[BT_NAME_MAX];
    char status[256]; /* "ok" or the reason why not */
    uint32_t flags;
    double duration, laps, zones, braking;
    double decel_peak, balance, balance_drift, drift_low, drift_high, drift_p; /* drift per lap */
    double blend_rms, blend_frac, blend_delay, worst_zone;
    double motor_share, recovered;
    double fallbacks, first_fallback, fallback_time, silent_fallbacks;
    double locks, disc_front, disc_rear, effort_ratio;
    double events, stops;
    double rows, dropped_rows, gaps;
    double touches; /* brakings too short or too light to be zones */
    /* Energy books over the zones where they close, J. */
    double kinetic, energy_front, energy_rear, energy_motor, tyre, road, rest;
} bt_run;

/* One sample of the derived time series. */
typedef struct {
    double t, speed, decel;
    double front, rear_friction, motor, demand, blend, balance;
    double blend_controller, blend_motor, blend_actuator; /* the exact split of blend, N*m */
    double slip[4];                                       /* fl fr rl rr, 0..1 positive = slower */
    double disc_front, disc_rear;                         /* K */
    double zone;
    char mode[BT_LABEL_MAX];
} bt_trace;

/* ---- columns: the one table that headers, cells, metadata and manual come from ---- */

typedef enum {
    BT_TABLE_ZONES,
    BT_TABLE_EVENTS,
    BT_TABLE_RUNS,
    BT_TABLE_TRACE,
    BT_TABLE_DRIFT,
    BT_TABLE_COMPARE,
    BT_TABLE_INSPECT,
    BT_TABLE_BYPASS,
    BT_TABLE_FIT,
    BT_TABLE_COLUMNS, /* of bt_column: the tables describe themselves */
    BT_TABLE_COUNT
} bt_table_kind;

typedef enum {
    BT_CELL_NUMBER, /* double in the row; printed = (x - shift) * factor, `decimals` digits */
    BT_CELL_TEXT,   /* char array in the row */
    BT_CELL_FLAGS,  /* uint32_t of enum bt_flag, printed as words */
    BT_CELL_SEVERITY
} bt_cell_kind;

typedef struct {
    const char *name;    /* header text */
    const char *unit;    /* UCUM code of what is printed, "" = none, "1" = a plain number */
    const char *meaning; /* one line */
    bt_cell_kind kind;
    int decimals;
    double factor, shift;
    size_t offset; /* of the member in the row struct */
    size_t size;   /* of a char array; 0 = the member is a const char *, NULL = blank */
    int rank;      /* in a text table too narrow for all: 1 stays longest, 0 goes first */
} bt_column;

/* The columns of a table in their order; *n = how many.  NULL, 0 for a table without rows. */
const bt_column *bt_columns(bt_table_kind table, size_t *n);
/* "zones", ...; NULL beyond the last. */
const char *bt_table_name(bt_table_kind table);
/* Make a row of that table blank: numbers NaN, texts empty, flags 0. */
void bt_row_blank(bt_table_kind table, void *row);

typedef enum { BT_FORMAT_CSV, BT_FORMAT_JSON, BT_FORMAT_TEXT } bt_format;

/* How tables are written.  Zeroed = CSV, comma, point, no mark. */
typedef struct {
    bt_format format;
    char delimiter; /* 0 = comma, or semicolon with a decimal comma */
    bool decimal_comma, bom;
    int width; /* text: columns of the terminal, 0 = 100; below 20 counts as 20 */
} bt_style;

/* Where bytes go: returns BT_OK or BT_WRITE.  The bytes are valid during the call. */
typedef bt_status (*bt_write_fn)(void *user, const char *bytes, size_t n, bt_error *err);

/* Writes rows of one table; the header comes with the first row, or with the end if there was none.
 * Text holds its first BT_TEXT_HELD rows back to align them, leaves out columns that do not fit or
 * that are blank throughout, and ends with BT_CAUTION_SHORT; CSV and JSON write at once.
 * The style is copied; BT_RANGE if its delimiter is none of comma, semicolon and tab, or is the
 * decimal comma too.  BT_MISSING for a table without columns. */
#define BT_TEXT_HELD 500
typedef struct bt_writer bt_writer;
bt_status bt_writer_new(bt_writer **out, bt_table_kind table, const bt_style *style,
                        bt_write_fn write, void *user, bt_error *err) BT_MUST_USE;
bt_status bt_writer_row(bt_writer *w, const void *row, bt_error *err) BT_MUST_USE;
bt_status bt_writer_end(bt_writer *w, bt_error *err) BT_MUST_USE;
void bt_writer_free(bt_writer *w);

/* The table as W3C CSV-on-the-Web metadata (JSON), for a file named `url`. */
bt_status bt_columns_csvw(bt_table_kind table, const char *url, bt_write_fn write, void *user,
                          bt_error *err) BT_MUST_USE;

/* ---- car sheet and channel map ---- */

typedef struct bt_car bt_car;
/* A car of which nothing is known: every quantity NaN, every threshold at its default. */
bt_status bt_car_new(bt_car **out, bt_error *err) BT_MUST_USE;
/* Read a car sheet (CONTRACT 5) over what the car holds. */
bt_status bt_car_read(bt_car *car, const char *path, bt_error *err) BT_MUST_USE;
/* One quantity from "name=value" or "name=value unit" (option --set). */
bt_status bt_car_set(bt_car *car, const char *assignment, bt_error *err) BT_MUST_USE;
/* Value and standard uncertainty in SI, NaN if not given; false if there is no such quantity. */
bool bt_car_get(const bt_car *car, const char *name, double *value, double *u);
void bt_car_free(bt_car *car);

typedef struct bt_map bt_map;
bt_status bt_map_read(bt_map **out, const char *path, bt_error *err) BT_MUST_USE;
void bt_map_free(bt_map *map);

/* ---- analysis of one log ---- */

typedef enum { BT_LAYOUT_AUTO, BT_LAYOUT_WIDE, BT_LAYOUT_LONG } bt_layout;

/* Zeroed = all defaults. */
typedef struct {
    const bt_car *car;  /* NULL = nothing known */
    const bt_map *map;  /* NULL = columns serve by their names */
    bt_layout layout;   /* of the log */
    double rate;        /* Hz, for a log without a time column; 0 = the log has one */
    double nominal;     /* m/s, stops are corrected to it; 0 = not asked */
    size_t block_bytes; /* of one read; 0 = default.  Never changes a result */
    bt_status (*trace)(void *user, const bt_trace *sample, bt_error *err); /* NULL = not wanted */
    void (*progress)(void *user, uint64_t done, uint64_t total); /* bytes; total 0 = not known */
    void *user;
} bt_setup;

/* All that is known of one log.  Owned by the caller; bt_result_clear() frees what it holds. */
typedef struct {
    bt_run run;
    bt_zone *zones;
    size_t n_zones;
    bt_event *events;
    size_t n_events;
    char **notes; /* what is missing for which figures, what was doubtful: a line each */
    size_t n_notes;
} bt_result;

/* Analyse one log ("-" = standard input).  On failure result->run.status holds the reason and what
 * was found up to there stays in the result. */
bt_status bt_analyse(const char *path, const bt_setup *setup, bt_result *result,
                     bt_error *err) BT_MUST_USE;
void bt_result_clear(bt_result *result);

/* One column of a log, as `inspect` shows it. */
typedef struct {
    double column; /* from 1 */
    char name[BT_NAME_MAX];
    char unit[24];
    char channel[24];  /* it serves, "" = none */
    char proposed[24]; /* what its name and unit would make it, with --draft; "" = no idea */
    double sure;       /* 0..1, how sure the proposal is */
    double rate;       /* Hz, of cells with a value */
    double blanks;     /* share 0..1 of the rows */
    double bad;        /* cells that are no number */
    double min, max;   /* in the log's own unit */
    char remark[200];
} bt_inspect_column;

typedef struct {
    bt_inspect_column *columns;
    size_t n_columns;
    char **notes; /* which figures the mapping allows, what is missing for the others */
    size_t n_notes;
} bt_inspection;

bt_status bt_inspect(const char *path, const bt_setup *setup, bt_inspection *out,
                     bt_error *err) BT_MUST_USE;
/* The channel map that the columns' names and units suggest, as CSV to edit. */
bt_status bt_inspect_draft(const bt_inspection *in, bt_write_fn write, void *user,
                           bt_error *err) BT_MUST_USE;
void bt_inspection_clear(bt_inspection *in);

#ifdef __cplusplus
}
#endif
#endif

/* The car sheet: see car.h.  One table says of each quantity what unit it may have, what is physically
 * possible and what holds if nothing is given; reading is the same for all of them. */
#include "samples/car.h"

#include "samples/curve.h"
#include "base/number.h"
#include "rows/sheet.h"
#include "base/units.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Limits and default in the first unit, which is also what a blank unit means (CONTRACT 5). */
typedef struct {
    bt_dimension dimension;
    const char *unit;
    double low;
    bool above; /* low itself is refused */
    double high, preset;
} quantity;

static const quantity quantities[BT_CAR_COUNT] = {
    [BT_CAR_MASS] = {BT_DIM_MASS, "kg", 0, true, 1e5, NAN},
    [BT_CAR_WHEELBASE] = {BT_DIM_LENGTH, "m", 0, true, 20, NAN},
    [BT_CAR_CG_HEIGHT] = {BT_DIM_LENGTH, "m", 0, true, 3, NAN},
    [BT_CAR_STATIC_FRONT_SHARE] = {BT_DIM_RATIO, "%", 10, false, 90, NAN},
    [BT_CAR_INERTIA_FACTOR] = {BT_DIM_RATIO, "1", 1, false, 2, 1.04},
    /* Fitted coast-downs have coefficients a little below 0. */
    [BT_CAR_ROAD_LOAD_A] = {BT_DIM_FORCE, "N", -1e3, false, 1e4, NAN},
    [BT_CAR_ROAD_LOAD_B] = {BT_DIM_FORCE_PER_SPEED, "N/(m/s)", -200, false, 1e3, NAN},
    [BT_CAR_ROAD_LOAD_C] = {BT_DIM_FORCE_PER_SPEED2, "N/(m/s)2", -5, false, 100, NAN},
    [BT_CAR_ROLLING_RADIUS_FRONT] = {BT_DIM_LENGTH, "m", 0, true, 2, NAN},
    [BT_CAR_ROLLING_RADIUS_REAR] = {BT_DIM_LENGTH, "m", 0, true, 2, NAN},
    [BT_CAR_GRIP_LIMIT] = {BT_DIM_ACCEL, "g", 0, true, 10, 1.5},
    [BT_CAR_PISTON_AREA_FRONT] = {BT_DIM_AREA, "m2", 0, true, 0.1, NAN},
    [BT_CAR_PISTON_AREA_REAR] = {BT_DIM_AREA, "m2", 0, true, 0.1, NAN},
    [BT_CAR_PAD_FRICTION_FRONT] = {BT_DIM_RATIO, "1", 0, true, 2, NAN},
    [BT_CAR_PAD_FRICTION_REAR] = {BT_DIM_RATIO, "1", 0, true, 2, NAN},
    [BT_CAR_EFFECTIVE_RADIUS_FRONT] = {BT_DIM_LENGTH, "m", 0, true, 1, NAN},
    [BT_CAR_EFFECTIVE_RADIUS_REAR] = {BT_DIM_LENGTH, "m", 0, true, 1, NAN},
    [BT_CAR_THRESHOLD_FRONT] = {BT_DIM_PRESSURE, "bar", 0, false, 50, 0},
    [BT_CAR_THRESHOLD_REAR] = {BT_DIM_PRESSURE, "bar", 0, false, 50, 0},
    [BT_CAR_MOTOR_RATIO] = {BT_DIM_RATIO, "1", 0, true, 100, NAN},
    /* In percent a share written as 0.93 is refused by the lower limit, not taken for 0.93 %. */
    [BT_CAR_MOTOR_EFFICIENCY] = {BT_DIM_RATIO, "%", 10, false, 100, 100},
    [BT_CAR_DEMAND_GAIN] = {BT_DIM_TORQUE_PER_PRESSURE, "Nm/bar", 0, true, 1e4, NAN},
    [BT_CAR_DEMAND_THRESHOLD] = {BT_DIM_PRESSURE, "bar", 0, false, 50, 0},
    [BT_CAR_BYPASS_RATIO] = {BT_DIM_RATIO, "1", 0, true, 20, NAN},
    [BT_CAR_BYWIRE_OK] = {BT_DIM_NONE, "-", -1e9, false, 1e9, 0},
    [BT_CAR_BAND_ABS] = {BT_DIM_TORQUE, "Nm", 0, false, 1e5, 30},
    [BT_CAR_BAND_REL] = {BT_DIM_RATIO, "%", 0, false, 100, 5},
    [BT_CAR_DISC_MASS_FRONT] = {BT_DIM_MASS, "kg", 0, true, 200, NAN},
    [BT_CAR_DISC_MASS_REAR] = {BT_DIM_MASS, "kg", 0, true, 200, NAN},
    [BT_CAR_DISC_HEAT_FRONT] = {BT_DIM_SPECIFIC_HEAT, "J/kg/K", 50, false, 1e4, NAN},
    [BT_CAR_DISC_HEAT_REAR] = {BT_DIM_SPECIFIC_HEAT, "J/kg/K", 50, false, 1e4, NAN},
    [BT_CAR_DISC_HEAT_SLOPE_FRONT] = {BT_DIM_SPECIFIC_HEAT_SLOPE, "J/kg/K2", -10, false, 10, 0},
    [BT_CAR_DISC_HEAT_SLOPE_REAR] = {BT_DIM_SPECIFIC_HEAT_SLOPE, "J/kg/K2", -10, false, 10, 0},
    [BT_CAR_DISC_SHARE_FRONT] = {BT_DIM_RATIO, "%", 10, false, 100, NAN},
    [BT_CAR_DISC_SHARE_REAR] = {BT_DIM_RATIO, "%", 10, false, 100, NAN},
    [BT_CAR_COOL_STILL_FRONT] = {BT_DIM_COOLING, "W/K", 0, false, 1e4, NAN},
    [BT_CAR_COOL_STILL_REAR] = {BT_DIM_COOLING, "W/K", 0, false, 1e4, NAN},
    [BT_CAR_COOL_SPEED_FRONT] = {BT_DIM_COOLING_PER_SPEED, "W/K/(m/s)", 0, false, 1e3, NAN},
    [BT_CAR_COOL_SPEED_REAR] = {BT_DIM_COOLING_PER_SPEED, "W/K/(m/s)", 0, false, 1e3, NAN},
    [BT_CAR_DISC_LIMIT_FRONT] = {BT_DIM_TEMPERATURE, "Cel", 0, true, 3000, NAN},
    [BT_CAR_DISC_LIMIT_REAR] = {BT_DIM_TEMPERATURE, "Cel", 0, true, 3000, NAN},
    [BT_CAR_AMBIENT] = {BT_DIM_TEMPERATURE, "Cel", -90, false, 70, NAN},
    [BT_CAR_ZONE_ON] = {BT_DIM_PRESSURE, "bar", 0, true, 500, 3},
    [BT_CAR_ZONE_OFF] = {BT_DIM_PRESSURE, "bar", 0, true, 500, 1.5},
    [BT_CAR_ZONE_ON_DECEL] = {BT_DIM_ACCEL, "m/s2", 0, true, 50, 1},
    [BT_CAR_ZONE_OFF_DECEL] = {BT_DIM_ACCEL, "m/s2", 0, true, 50, 0.5},
    [BT_CAR_ZONE_MIN_TIME] = {BT_DIM_TIME, "s", 0, false, 60, 0.3},
    [BT_CAR_ZONE_MIN_DROP] = {BT_DIM_SPEED, "m/s", 0, false, 100, 2},
    [BT_CAR_ZONE_MIN_SPEED] = {BT_DIM_SPEED, "m/s", 0, false, 100, 5},
    [BT_CAR_ZONE_GAP] = {BT_DIM_TIME, "s", 0, false, 60, 0.25},
    [BT_CAR_SLIP_LIMIT] = {BT_DIM_RATIO, "%", 1, false, 100, 20},
    [BT_CAR_SMOOTH_WINDOW] = {BT_DIM_TIME, "s", 0, true, 10, 0.2},
};

/* Rows that hold a word or a file's name, behind the quantities in the list of names. */
enum { MOTOR_AXLE = BT_CAR_COUNT, BYWIRE_AXLE, DEMAND_CURVE, ROWS };

static const char *const names[ROWS] = {
#define X(id, name) [BT_CAR_##id] = name,
    BT_CAR_LIST(X)
#undef X
        [MOTOR_AXLE] = "motor_axle",
    [BYWIRE_AXLE] = "bywire_axle",
    [DEMAND_CURVE] = "demand_curve",
};

const char *bt_car_quantity_name(bt_car_quantity q)
{
    return (unsigned)q < BT_CAR_COUNT ? names[q] : "";
}

static unsigned find(const char *name, size_t len)
{
    unsigned i = 0;
    while (i < ROWS && !bt_name_alike_n(name, len, names[i], strlen(names[i]))) i++;
    return i;
}

static const bt_unit *first_unit(const quantity *q)
{
    return bt_unit_find(q->unit, strlen(q->unit), q->dimension);
}

const char *bt_car_quantity_unit(bt_car_quantity id, double *factor, double *offset)
{
    const bt_unit *unit = first_unit(&quantities[id]);
    *factor = unit->factor;
    *offset = unit->offset;
    return unit->ucum;
}

/* A unit for a message: nothing for plain numbers. */
static const char *label(const bt_unit *unit)
{
    return strcmp(unit->ucum, "1") == 0 ? "" : unit->label;
}

bt_status bt_car_new(bt_car **out, bt_error *err)
{
    bt_car *car = *out = calloc(1, sizeof *car);
    if (!car) return bt_fail(err, BT_NOMEM, "no memory for a car");
    for (int i = 0; i < BT_CAR_COUNT; i++) {
        const bt_unit *unit = first_unit(&quantities[i]);
        car->value[i] = quantities[i].preset * unit->factor + unit->offset;
        car->u[i] = NAN;
    }
    car->motor_axle = car->bywire_axle = BT_REAR;
    return BT_OK;
}

void bt_car_free(bt_car *car)
{
    if (!car) return;
    free(car->curve_pedal);
    free(car->curve_torque);
    free(car);
}

bool bt_car_get(const bt_car *car, const char *name, double *value, double *u)
{
    const unsigned i = find(name, strlen(name));
    if (i >= BT_CAR_COUNT) return false;
    if (value) *value = car->value[i];
    if (u) *u = car->u[i];
    return true;
}

/* What stands in one row, as text but for the number. */
typedef struct {
    unsigned id;
    const char *value; /* as written */
    double number;     /* NaN = blank */
    const char *unit;
    const char *tolerance;
    char decimal;
} entry;

/* Which cell of the row an error is about. */
typedef enum { AT_QUANTITY, AT_VALUE, AT_UNIT, AT_TOLERANCE } part;

static bt_status unknown_unit(const entry *e, const quantity *q, bt_error *err)
{
    char labels[120], quoted[BT_QUOTE_MAX];
    const size_t len = strlen(e->unit);
    bt_unit_labels(q->dimension, labels, sizeof labels);
    bt_quote(quoted, e->unit, len);
    const bt_unit *other = bt_unit_find(e->unit, len, BT_DIM_ANY);
    const char *near = other ? NULL : bt_unit_nearest(e->unit, len, q->dimension);
    if (other)
        return bt_fail(err, BT_SYNTAX, "%s: expected a unit of %s (%s), found '%s' (%s)",
                       names[e->id], bt_dimension_name(q->dimension), labels, quoted,
                       bt_dimension_name(other->dimension));
    return bt_fail(err, BT_SYNTAX, "%s: expected a unit of %s (%s), found '%s'%s%s", names[e->id],
                   bt_dimension_name(q->dimension), labels, quoted, near ? "; near: " : "",
                   near ? near : "");
}

/* The limits are compared in SI, with room for the rounding of a limit written in another unit. */
static bt_status check_range(const entry *e, const quantity *q, const bt_unit *unit, double si,
                             bt_error *err)
{
    const bt_unit *first = first_unit(q);
    const double low = q->low * first->factor + first->offset;
    const double high = q->high * first->factor + first->offset;
    const double room = 1e-12 * (fabs(low) + fabs(high));
    const bool too_low = q->above ? !(si > low) : !(si >= low - room);
    if (!too_low && si <= high + room) return BT_OK;
    char found[BT_QUOTE_MAX];
    const char *space = *label(first) ? " " : "";
    return bt_fail(err, BT_RANGE, "%s: expected %s %g%s%s, found %s%s%s", names[e->id],
                   !too_low   ? "at most"
                   : q->above ? "more than"
                              : "at least",
                   too_low ? q->low : q->high, space, label(first),
                   bt_quote(found, e->value, strlen(e->value)), unit == first ? "" : " ",
                   unit == first ? "" : label(unit));
}

/* Standard uncertainty in SI: a number in the value's unit, or n% of the value. */
static bt_status read_tolerance(const entry *e, const bt_unit *unit, double *u, bt_error *err)
{
    size_t len = strlen(e->tolerance);
    const bool percent = len > 0 && e->tolerance[len - 1] == '%';
    double number;
    const bt_cell_result result =
        bt_number_parse(e->tolerance, percent ? len - 1 : len, e->decimal, &number);
    if (result == BT_CELL_BAD || (percent && result == BT_CELL_BLANK) || number < 0) {
        char quoted[BT_QUOTE_MAX];
        return bt_fail(err, number < 0 ? BT_RANGE : BT_SYNTAX,
                       "%s: expected a tolerance of 0 or more, or n%%, found '%s'", names[e->id],
                       bt_quote(quoted, e->tolerance, len));
    }
    *u = (percent ? 0.01 * fabs(e->number) : 1) * number * unit->factor;
    return BT_OK;
}

static bt_status set_quantity(bt_car *car, const entry *e, part *at, bt_error *err)
{
    const quantity *q = &quantities[e->id];
    *at = AT_UNIT;
    const char *text = *e->unit ? e->unit : q->unit;
    const bt_unit *unit = bt_unit_find(text, strlen(text), q->dimension);
    if (!unit) return unknown_unit(e, q, err);

    *at = AT_VALUE;
    const double si = e->number * unit->factor + unit->offset;
    BT_TRY(check_range(e, q, unit, si, err));
    *at = AT_TOLERANCE;
    double u = NAN;
    if (*e->tolerance) BT_TRY(read_tolerance(e, unit, &u, err));
    car->value[e->id] = si;
    car->u[e->id] = u;
    car->given[e->id] = true;
    return BT_OK;
}

static bt_status set_axle(bt_car *car, const entry *e, bt_error *err)
{
    bt_axle *axle = e->id == MOTOR_AXLE ? &car->motor_axle : &car->bywire_axle;
    const bool front = bt_name_alike(e->value, "front");
    if (!front && !bt_name_alike(e->value, "rear")) {
        char quoted[BT_QUOTE_MAX];
        return bt_fail(err, BT_SYNTAX, "%s: expected front or rear, found '%s'", names[e->id],
                       bt_quote(quoted, e->value, strlen(e->value)));
    }
    *axle = front ? BT_FRONT : BT_REAR;
    return BT_OK;
}

/* `beside` is the file whose folder a relative path starts from; NULL = where the program runs. */
static bt_status set_curve(bt_car *car, const entry *e, const char *beside, bt_error *err)
{
    double *pedal, *torque;
    size_t n;
    BT_TRY(bt_curve_read(e->value, beside, &pedal, &torque, &n, err));
    free(car->curve_pedal);
    free(car->curve_torque);
    car->curve_pedal = pedal;
    car->curve_torque = torque;
    car->curve_n = n;
    return BT_OK;
}

static bt_status set_entry(bt_car *car, const entry *e, const char *beside, part *at, bt_error *err)
{
    *at = AT_VALUE;
    if (e->id >= BT_CAR_COUNT && *e->unit) {
        *at = AT_UNIT;
        char quoted[BT_QUOTE_MAX];
        return bt_fail(err, BT_SYNTAX, "%s: expected no unit, found '%s'", names[e->id],
                       bt_quote(quoted, e->unit, strlen(e->unit)));
    }
    if (e->id == DEMAND_CURVE) return set_curve(car, e, beside, err);
    if (e->id >= BT_CAR_COUNT) return set_axle(car, e, err);
    return set_quantity(car, e, at, err);
}

static bt_status unknown_name(const char *name, size_t len, bt_error *err)
{
    char text[64], quoted[BT_QUOTE_MAX];
    snprintf(text, sizeof text, "%.*s", (int)(len < sizeof text ? len : sizeof text - 1), name);
    const char *near = bt_nearest(text, names, ROWS);
    return bt_fail(err, BT_SYNTAX, "expected a quantity of the car sheet, found '%s'%s%s",
                   bt_quote(quoted, name, len), near ? "; near: " : "; see braketally-car(5)",
                   near ? near : "");
}

static const char *const headers[] = {"quantity", "value", "unit", "tolerance", "note"};
enum { QUANTITY, VALUE, UNIT, TOLERANCE, HEADERS = sizeof headers / sizeof *headers };

static bt_status check_headers(const bt_sheet *sheet, bt_error *err)
{
    for (size_t c = 0; c < sheet->columns; c++) {
        const char *name = bt_sheet_name(sheet, c);
        bool known = *name == '\0';
        for (size_t h = 0; h < HEADERS && !known; h++) known = bt_name_alike(name, headers[h]);
        if (known) continue;
        char quoted[BT_QUOTE_MAX];
        return bt_at(
            err,
            bt_fail(err, BT_SYNTAX,
                    "expected quantity, value, unit, tolerance or note as header, found '%s'",
                    bt_quote(quoted, name, strlen(name))),
            sheet->file, sheet->header_line, c + 1);
    }
    return BT_OK;
}

static bt_status read_row(bt_car *car, const bt_sheet *sheet, const size_t col[HEADERS], size_t r,
                          uint64_t seen[ROWS], bt_error *err)
{
    const char *name = bt_sheet_cell(sheet, r, col[QUANTITY]);
    const unsigned id = find(name, strlen(name));
    if (id == ROWS)
        return bt_sheet_at(sheet, r, col[QUANTITY], err, unknown_name(name, strlen(name), err));
    if (seen[id])
        return bt_sheet_at(sheet, r, col[QUANTITY], err,
                           bt_fail(err, BT_SYNTAX,
                                   "%s: expected one row, found another one on line %llu",
                                   names[id], (unsigned long long)seen[id]));
    seen[id] = bt_sheet_line(sheet, r);

    entry e = {.id = id,
               .value = bt_sheet_cell(sheet, r, col[VALUE]),
               .unit = bt_sheet_cell(sheet, r, col[UNIT]),
               .tolerance = bt_sheet_cell(sheet, r, col[TOLERANCE]),
               .decimal = sheet->decimal};
    if (*e.value == '\0') return BT_OK; /* a template's row: not given */
    if (id < BT_CAR_COUNT) BT_TRY(bt_sheet_number(sheet, r, col[VALUE], &e.number, err));
    if (id < BT_CAR_COUNT && isnan(e.number)) return BT_OK;

    static const int cell[] = {
        [AT_QUANTITY] = QUANTITY, [AT_VALUE] = VALUE, [AT_UNIT] = UNIT, [AT_TOLERANCE] = TOLERANCE};
    part at;
    const bt_status status = set_entry(car, &e, sheet->file, &at, err);
    /* An error in the curve's own file has its place already. */
    return status == BT_OK || (err && *err->file)
               ? status
               : bt_sheet_at(sheet, r, col[cell[at]], err, status);
}

bt_status bt_car_read(bt_car *car, const char *path, bt_error *err)
{
    bt_sheet sheet;
    bt_status status = bt_sheet_read(&sheet, path, err);
    size_t col[HEADERS];
    uint64_t seen[ROWS] = {0};
    if (status == BT_OK) status = check_headers(&sheet, err);
    if (status == BT_OK) status = bt_sheet_need(&sheet, headers[QUANTITY], &col[QUANTITY], err);
    if (status == BT_OK) status = bt_sheet_need(&sheet, headers[VALUE], &col[VALUE], err);
    if (status == BT_OK) {
        col[UNIT] = bt_sheet_find(&sheet, headers[UNIT]);
        col[TOLERANCE] = bt_sheet_find(&sheet, headers[TOLERANCE]);
    }
    for (size_t r = 0; status == BT_OK && r < sheet.rows; r++)
        status = read_row(car, &sheet, col, r, seen, err);
    bt_sheet_free(&sheet);
    return status;
}

/* "760 kg", "760kg", "front": the longest start that is a number, and the unit behind it. */
static bt_status split_value(char *text, entry *e, bt_error *err)
{
    size_t n = strlen(text);
    while (n > 0 && bt_number_parse(text, n, '.', &e->number) != BT_CELL_VALUE) n--;
    if (n == 0) {
        char quoted[BT_QUOTE_MAX];
        return bt_fail(err, BT_SYNTAX, "%s: expected a number, found '%s'", names[e->id],
                       bt_quote(quoted, text, strlen(text)));
    }
    e->unit = text + n;
    while (*e->unit == ' ') e->unit++;
    return BT_OK;
}

bt_status bt_car_set(bt_car *car, const char *assignment, bt_error *err)
{
    const char *equals = strchr(assignment, '=');
    if (!equals) {
        char quoted[BT_QUOTE_MAX];
        return bt_fail(err, BT_SYNTAX, "expected NAME=VALUE, found '%s'",
                       bt_quote(quoted, assignment, strlen(assignment)));
    }
    size_t len = (size_t)(equals - assignment);
    while (len > 0 && assignment[len - 1] == ' ') len--;
    entry e = {.id = find(assignment, len), .unit = "", .tolerance = "", .decimal = '.'};
    if (e.id == ROWS) return unknown_name(assignment, len, err);

    char text[512], number[sizeof text];
    const char *value = equals + 1;
    while (*value == ' ') value++;
    if ((size_t)snprintf(text, sizeof text, "%s", value) >= sizeof text)
        return bt_fail(err, BT_RANGE, "%s: expected at most %zu bytes", names[e.id],
                       sizeof text - 1);
    e.value = text;
    if (e.id < BT_CAR_COUNT) {
        BT_TRY(split_value(text, &e, err));
        snprintf(number, sizeof number, "%.*s", (int)strcspn(text, " "), text);
        if (e.unit < text + strlen(number)) number[e.unit - text] = '\0';
        e.value = number;
    }
    part at;
    const double u = e.id < BT_CAR_COUNT ? car->u[e.id] : NAN;
    BT_TRY(set_entry(car, &e, NULL, &at, err));
    if (e.id < BT_CAR_COUNT) car->u[e.id] = u; /* how well it is known was not asked to change */
    return BT_OK;
}

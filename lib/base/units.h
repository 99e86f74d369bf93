/* Units: the usual spellings and the UCUM codes, and what one is in SI.
 * Factors: SI Brochure; NIST SP 811 appendix B.8; CGPM 1901 for g. */
#ifndef BT_UNITS_H
#define BT_UNITS_H

#include "braketally.h"

/* One list: dimension, what it is called in messages. */
#define BT_DIMENSION_LIST(X)                                                                       \
    X(NONE, "plain number")                                                                        \
    X(RATIO, "ratio")                                                                              \
    X(TIME, "time")                                                                                \
    X(LENGTH, "length")                                                                            \
    X(AREA, "area")                                                                                \
    X(MASS, "mass")                                                                                \
    X(SPEED, "speed")                                                                              \
    X(ANGULAR_SPEED, "angular speed")                                                              \
    X(ANGLE, "angle")                                                                              \
    X(ACCEL, "acceleration")                                                                       \
    X(PRESSURE, "pressure")                                                                        \
    X(FORCE, "force")                                                                              \
    X(TORQUE, "torque")                                                                            \
    X(TEMPERATURE, "temperature")                                                                  \
    X(VOLTAGE, "voltage")                                                                          \
    X(CURRENT, "current")                                                                          \
    X(POWER, "power")                                                                              \
    X(ENERGY, "energy")                                                                            \
    X(TORQUE_PER_PRESSURE, "torque per pressure")                                                  \
    X(FORCE_PER_SPEED, "force per speed")                                                          \
    X(FORCE_PER_SPEED2, "force per speed squared")                                                 \
    X(SPECIFIC_HEAT, "specific heat")                                                              \
    X(SPECIFIC_HEAT_SLOPE, "specific heat per temperature")                                        \
    X(COOLING, "heat flow per temperature")                                                        \
    X(COOLING_PER_SPEED, "heat flow per temperature and speed")

typedef enum {
#define X(name, meaning) BT_DIM_##name,
    BT_DIMENSION_LIST(X)
#undef X
        BT_DIM_COUNT,
    BT_DIM_ANY = BT_DIM_COUNT /* for looking: whatever the text means */
} bt_dimension;

/* SI value = written value * factor + offset (the offset only for temperatures;
 * a difference or a tolerance takes the factor alone).  SI is Pa, m/s, rad/s, K,
 * rad, N*m, ...; a ratio is 1, so that % has the factor 0.01; Hz is turns per second. */
typedef struct {
    const char *label; /* usual spelling in UTF-8: "N\u00b7m", "bar", "\u00b0C" */
    const char *ucum;  /* UCUM code: "N.m", "bar", "Cel" */
    bt_dimension dimension;
    double factor, offset;
} bt_unit;

/* The unit that text[0..len) (UTF-8) spells; NULL if none of dimension `wanted` is
 * spelled so.  Blanks, dots, stars and ^ between the parts, brackets around the
 * whole and superscripts are taken as they come: N.m, N m, Nm, [N*m], m/s^2, m/s².
 * Case counts where it tells units apart (mPa is no MPa), else not (PSI, kpa).  "g"
 * is acceleration.  "", "-", "1" are the plain number, or the ratio if that is wanted.
 * The unit lives for ever. */
const bt_unit *bt_unit_find(const char *text, size_t len, bt_dimension wanted);

/* What a dimension is called: "pressure". */
const char *bt_dimension_name(bt_dimension dimension);

/* Labels of the units of a dimension for a message: "bar, kPa, MPa, Pa, psi".  Written
 * to buf as far as whole labels fit; returns buf. */
const char *bt_unit_labels(bt_dimension dimension, char *buf, size_t cap);

/* The known spelling nearest to text[0..len) within `wanted`, to be offered, never
 * taken; NULL if none is near. */
const char *bt_unit_nearest(const char *text, size_t len, bt_dimension wanted);

/* A name that carries its unit: "Line rear [bar]", "Line rear (bar)" and "Line rear
 * {bar}" whatever is in the brackets; "line_rear_bar", "Line rear, bar", "speed km/h",
 * "speed_km_h" if the last word, or the last two, are a known unit.  Nothing may
 * stand behind it, and the rest may not be empty.  *name_len is the length of the
 * name within text[0..len), *unit the text in the brackets (within text) or else the
 * label of the known unit; false leaves *name_len = len and *unit_len = 0. */
bool bt_unit_in_name(const char *text, size_t len, size_t *name_len, const char **unit,
                     size_t *unit_len);

/* A column's UCUM code as people write it: "N.m" is "N·m", "%/{lap}" is "pp/lap" (points of a share,
 * not percent of it), "1" is "".  Written to out, which is returned; what does not fit is cut. */
#define BT_UNIT_LABEL_MAX 32
const char *bt_unit_label(const char *ucum, char out[BT_UNIT_LABEL_MAX]);

#endif

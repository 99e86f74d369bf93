/* Figures and what they need: see allowed.h. */
#include "inspect/allowed.h"

#include "signals/forces.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The first figures are what the others stand on. */
enum { SPEED, FRONT, REAR, MOTOR, DEMAND, BASES };
#define ON(base) (1u << (base))
#define TORQUES  (ON(FRONT) | ON(REAR) | ON(MOTOR))

#define ANY_WHEEL "wheel_fl|wheel_fr|wheel_rl|wheel_rr"
#define ANY_SPEED                                                                                  \
    "speed|" ANY_WHEEL "|motor_speed+:motor_ratio+:rolling_radius_rear|motor_speed+:motor_ratio+:" \
    "rolling_radius_front"

/* `on`: figures that this one stands on.  Needs are separated by blanks; `|` stands between what may
 * replace each other, `+` joins what must come together, `:` is a row of the car sheet, anything else
 * a channel.  `words` say it shorter; NULL = as it stands. */
static const struct {
    const char *figure;
    unsigned on;
    const char *needs, *words;
} figures[] = {
    [SPEED] = {"speed (braking zones, deceleration)", 0, ANY_SPEED,
               "speed, or a wheel speed, or motor_speed with motor_ratio and rolling radius"},
    [FRONT] = {"front torque", 0, "", NULL},
    [REAR] = {"rear friction torque", 0, "", NULL},
    [MOTOR] = {"motor torque", 0, "", NULL},
    [DEMAND] = {"demand", 0, "", NULL},
    {"zones opened by the pedal (by deceleration otherwise)", 0,
     "pedal_front|pedal_rear|pedal_force|pedal_travel|line_front", NULL},
    {"balance", TORQUES, ":rolling_radius_front :rolling_radius_rear", NULL},
    {"ideal balance", 0, ":static_front_share :wheelbase :cg_height", NULL},
    {"blend error", ON(REAR) | ON(MOTOR) | ON(DEMAND), "", NULL},
    {"cause of the blend error", ON(REAR) | ON(MOTOR) | ON(DEMAND), "motor_request line_request",
     NULL},
    {"slip", ON(SPEED), ANY_WHEEL, "a wheel speed"},
    {"energies", ON(SPEED) | ON(FRONT) | ON(REAR), "", NULL},
    {"recovered energy", ON(SPEED), "battery_voltage+battery_current|motor_torque+:motor_ratio",
     NULL},
    {"fallback", 0, "pedal_rear line_rear|line_rl|line_rr :bypass_ratio", NULL},
    {"disc temperature, front", ON(SPEED) | ON(FRONT),
     ":disc_mass_front :disc_heat_front :disc_share_front :cool_still_front :cool_speed_front "
     ":ambient|ambient|disc_fl|disc_fr",
     NULL},
    {"disc temperature, rear", ON(SPEED) | ON(REAR),
     ":disc_mass_rear :disc_heat_rear :disc_share_rear :cool_still_rear :cool_speed_rear "
     ":ambient|ambient|disc_rl|disc_rr",
     NULL},
    {"effort ratio", TORQUES, ":mass :rolling_radius_front :rolling_radius_rear :road_load_a",
     NULL},
    {"places by position (by the sequence of zones otherwise)", 0,
     "lap+lap_distance|latitude+longitude", NULL},
};

/* One name of a need. */
static bool has(const bt_channels *channels, const bt_car *car, const char *name, size_t n)
{
    char text[48];
    const bool sheet = *name == ':';
    snprintf(text, sizeof text, "%.*s", (int)(n - sheet), name + sheet);
    if (!sheet) return bt_channels_has(channels, bt_channel_find(text));
    double value = NAN;
    return bt_car_get(car, text, &value, NULL) && !isnan(value);
}

/* A need: is any of its replacements there as a whole? */
static bool met(const bt_channels *channels, const bt_car *car, const char *need, size_t len)
{
    const char *end = need + len;
    bool whole = true;
    while (need < end) {
        const size_t n = strcspn(need, "|+ ");
        whole = has(channels, car, need, n) && whole;
        need += n;
        if (need == end || *need == '|') {
            if (whole) return true;
            whole = true;
        }
        if (need < end) need++;
    }
    return false;
}

/* Append to a list; what does not fit is cut. */
static size_t append(char *out, size_t cap, size_t at, const char *separator, const char *text,
                     size_t len)
{
    const int n = snprintf(out + at, cap - at, "%s%.*s", at ? separator : "", (int)len, text);
    return n > 0 && (size_t)n < cap - at ? at + (size_t)n : cap - 1;
}

/* Append a need as words; a name that is channel and sheet row alike once. */
static size_t say(char *out, size_t cap, size_t at, const char *need, size_t len)
{
    const char *separator = ", ", *before = "";
    size_t before_len = 0;
    while (len > 0) {
        size_t n = strcspn(need, "|+ ");
        if (n > len) n = len;
        const size_t sheet = *need == ':';
        if (n - sheet != before_len || memcmp(before, need + sheet, before_len) != 0)
            at = append(out, cap, at, separator, need + sheet, n - sheet);
        if (n == len) break;
        before = need + sheet;
        before_len = n - sheet;
        separator = need[n] == '|' ? " or " : " with ";
        need += n + 1;
        len -= n + 1;
    }
    return at;
}

/* What a figure lacks, as words; "" = nothing. */
static void missing(const bt_channels *channels, const bt_car *car, unsigned figure, char *out,
                    size_t cap)
{
    static const bt_torque_kind kind[BASES] = {[FRONT] = BT_TORQUE_FRONT,
                                               [REAR] = BT_TORQUE_REAR,
                                               [MOTOR] = BT_TORQUE_MOTOR,
                                               [DEMAND] = BT_TORQUE_DEMAND};
    *out = '\0';
    if (figure >= FRONT && figure < BASES) {
        bt_torque_missing(channels, car, kind[figure], out, cap);
        return;
    }
    size_t at = 0;
    for (unsigned base = 0; base < BASES; base++) {
        if (!(figures[figure].on & ON(base))) continue;
        char lack[400];
        missing(channels, car, base, lack, sizeof lack);
        if (*lack)
            at = append(out, cap, at, ", ", figures[base].figure, strlen(figures[base].figure));
    }
    for (const char *need = figures[figure].needs; *need;) {
        const size_t len = strcspn(need, " ");
        const char *words = figures[figure].words;
        if (!met(channels, car, need, len))
            at = words ? append(out, cap, at, ", ", words, strlen(words))
                       : say(out, cap, at, need, len);
        need += len;
        need += strspn(need, " ");
    }
}

/* A car without a motor, as far as log and sheet tell: it counts as none, which is nothing to be worked
 * out. */
static bool no_motor(const bt_channels *channels, const bt_car *car)
{
    double ratio = NAN;
    return !bt_channels_has(channels, BT_CH_MOTOR_TORQUE) &&
           !(bt_car_get(car, "motor_ratio", &ratio, NULL) && !isnan(ratio));
}

bt_status bt_allowed_notes(const bt_channels *channels, const bt_car *car, bt_notes *notes,
                           bt_error *err)
{
    enum { FIGURES = sizeof figures / sizeof *figures };
    char can[600] = "", lack[600];
    size_t at = 0;
    for (unsigned i = 0; i < FIGURES; i++) {
        missing(channels, car, i, lack, sizeof lack);
        if (*lack || (i == MOTOR && no_motor(channels, car))) continue;
        at = append(can, sizeof can, at, "; ", figures[i].figure, strlen(figures[i].figure));
    }
    for (unsigned i = 0; i < FIGURES; i++) {
        missing(channels, car, i, lack, sizeof lack);
        if (*lack) BT_TRY(bt_notes_add(notes, err, "%s: missing %s", figures[i].figure, lack));
    }
    return bt_notes_add(notes, err, "can be worked out: %s", *can ? can : "nothing yet");
}

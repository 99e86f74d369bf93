/* The bypass plan: see bypass.h. */
#include "plan/bypass.h"

#include "zones/books.h"
#include "base/grow.h"
#include "base/print.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SHARE_LOW  0.40
#define SHARE_HIGH 0.90
#define SHARE_STEP 0.02
#define SHARES_MAX 1000
/* The hardest peaks of two drives of the same laps differ by 2 to 3 %, which moves the light rear axle's
 * adhesion by twice that: axles closer than this are told apart by no plan. */
#define TIE      0.05
#define ROUNDING 1e-9 /* of a share: the last step of a grid in decimals counts */

/* What all shares have in common. */
typedef struct {
    const bt_car *car;
    const bt_replay *replay;
    bt_circuits circuits;
    bt_disc disc[2];
    bool has_disc[2];
    double laps, force; /* laps to go on for; N, brake force of a mean braking */
} plan;

/* One share of it. */
typedef struct {
    const plan *p;
    double share, setting;
    bt_axle axle;
} split;

static double front_share(const split *s, const bt_load *load)
{
    const double share = bt_circuits_share(&s->p->circuits, s->setting, load->force);
    return isnan(share) ? s->share : share;
}

static double axle_share(const void *user, const bt_load *load)
{
    const split *s = user;
    const double front = front_share(s, load);
    return s->axle == BT_FRONT ? front : 1 - front;
}

static void heat_discs(const plan *p, split s, bt_bypass *row)
{
    bt_disc_course course[2];
    for (int a = 0; a < 2; a++) {
        course[a] = (bt_disc_course){NAN, NAN, NAN};
        s.axle = (bt_axle)a;
        if (p->has_disc[a])
            course[a] = bt_replay_disc(p->replay, &p->disc[a], s.axle,
                                       p->car->value[BT_CAR_AMBIENT], p->laps, axle_share, &s);
    }
    row->disc_front = course[BT_FRONT].peak;
    row->disc_rear = course[BT_REAR].peak;
    row->settled_front = course[BT_FRONT].settled;
    row->settled_rear = course[BT_REAR].settled;
    row->limit_lap = fmin(course[BT_FRONT].limit_lap, course[BT_REAR].limit_lap);
}

/* Largest deceleration, in g, before one axle's force passes `grip` times its load; forces in the
 * ratio of the share, loads moving forward with the deceleration. */
static double decel_by_grip(double grip, double share, double static_front, double transfer)
{
    if (isnan(static_front + transfer)) return NAN;
    const double front = share - grip * transfer;
    const double by_front = front > 0 ? grip * static_front / front : INFINITY;
    return fmin(by_front, grip * (1 - static_front) / (1 - share + grip * transfer));
}

/* Brake force at the deceleration's peak: as much above its mean as the car's inertia less the road load
 * is there; the peak comes early, near the entry speed. */
static double peak_force(const bt_car *car, const bt_load *load)
{
    const double mass = bt_effective_mass(car);
    const double at_peak = mass * load->decel_peak - bt_road_load(car, load->entry);
    const double on_mean = mass * load->decel - bt_road_load(car, 0.5 * (load->entry + load->exit));
    const double ratio = at_peak / on_mean;
    return load->force * (isnan(ratio) ? load->decel_peak / load->decel : ratio);
}

static const char *first_to_lock(double front, double rear)
{
    if (fabs(front - rear) < TIE * fmax(front, rear)) return "either";
    return front > rear ? "front" : "rear";
}

/* One peak: adhesion used, pedal, what grip leaves. */
static void take_peak(const split *s, const bt_load *load, double *hardest, bt_bypass *row)
{
    const double *q = s->p->car->value;
    const double z = load->decel_peak / BT_GRAVITY;
    const double force = peak_force(s->p->car, load);
    const double by_circuits = bt_circuits_share(&s->p->circuits, s->setting, force);
    const double front = isnan(by_circuits) ? s->share : by_circuits;
    const double transfer = q[BT_CAR_CG_HEIGHT] / q[BT_CAR_WHEELBASE];
    const double front_load = q[BT_CAR_STATIC_FRONT_SHARE] + z * transfer;
    const double weight = q[BT_CAR_MASS] * BT_GRAVITY;
    /* Slowing the wheels themselves takes torque that does not reach the road; half at each axle. */
    const double wheels = 0.5 * (bt_effective_mass(s->p->car) - q[BT_CAR_MASS]) * load->decel_peak;
    const double used[2] = {(front * force - wheels) / (weight * front_load),
                            ((1 - front) * force - wheels) / (weight * (1 - front_load))};
    row->adhesion_front = fmax(row->adhesion_front, used[0]);
    row->adhesion_rear = fmax(row->adhesion_rear, used[1]);
    if (fmax(used[0], used[1]) > *hardest) {
        *hardest = fmax(used[0], used[1]);
        snprintf(row->locks_first, sizeof row->locks_first, "%s", first_to_lock(used[0], used[1]));
    }
    const double most = BT_GRAVITY * decel_by_grip(q[BT_CAR_GRIP_LIMIT] / BT_GRAVITY, front,
                                                   q[BT_CAR_STATIC_FRONT_SHARE], transfer);
    row->decel_lost = fmax(row->decel_lost, isnan(most) ? NAN : fmax(0, load->decel_peak - most));
    double pedal[2];
    bt_circuits_pedals(&s->p->circuits, s->setting, force, pedal);
    row->pedal_front = fmax(row->pedal_front, pedal[0]);
    row->pedal_rear = fmax(row->pedal_rear, pedal[1]);
}

static void judge(const plan *p, bt_bypass *row)
{
    const bool hot = row->limit_lap <= p->laps;
    const bool front_hot = row->disc_front > p->disc[BT_FRONT].limit;
    const bool rear_hot = row->disc_rear > p->disc[BT_REAR].limit;
    enum { CHECKS = 3 };
    const int told = !isnan(row->disc_front - p->disc[BT_FRONT].limit) +
                     !isnan(row->disc_rear - p->disc[BT_REAR].limit) + (*row->locks_first != 0);
    char *text = row->finding;
    const size_t size = sizeof row->finding;
    row->keeps = false;
    if (hot)
        bt_print(text, size, "%s over limit in lap %.0f",
                 front_hot && rear_hot ? "all discs"
                 : front_hot           ? "front discs"
                                       : "rear discs",
                 row->limit_lap);
    else if (strcmp(row->locks_first, "rear") == 0)
        snprintf(text, size, "rear locks first");
    else if (strcmp(row->locks_first, "either") == 0)
        snprintf(text, size, "either axle may lock first");
    else if (row->decel_lost > 0)
        snprintf(text, size, "grip runs out");
    else if (told == 0)
        snprintf(text, size, "cannot be told");
    else
        row->keeps = true;
    if (!row->keeps) return;
    if (!isnan(row->limit_lap))
        bt_print(text, size, "keeps its limits until lap %.0f", row->limit_lap);
    else
        snprintf(text, size, told == CHECKS ? "keeps its limits" : "keeps what can be told");
}

static void fill(const plan *p, double share, bt_bypass *row)
{
    split s = {.p = p, .share = share};
    bt_row_blank(BT_TABLE_BYPASS, row);
    s.setting = bt_circuits_setting(&p->circuits, share, p->force);
    row->share = share;
    row->setting = s.setting;
    heat_discs(p, s, row);
    double hardest = 0;
    for (size_t i = 0; i < p->replay->n; i++) take_peak(&s, &p->replay->load[i], &hardest, row);
    judge(p, row);
}

/* The longest run of shares that keep all limits. */
static void find_window(bt_plan *out)
{
    size_t most = 0;
    out->low = out->high = NAN;
    for (size_t i = 0, from = 0; i < out->n_rows; i++) {
        if (!out->rows[i].keeps) {
            from = i + 1;
        } else if (i + 1 - from > most) {
            most = i + 1 - from;
            out->low = out->rows[from].share;
            out->high = out->rows[i].share;
        }
    }
}

/* ---- what is missing ---- */

/* Name the rows of the sheet that are missing for some figures. */
static bt_status missing(const bt_car *car, const bt_car_quantity *rows, size_t n, const char *what,
                         bt_notes *notes, bt_error *err)
{
    char list[256] = "";
    for (size_t i = 0; i < n; i++) {
        if (!isnan(car->value[rows[i]])) continue;
        const size_t at = strlen(list);
        snprintf(list + at, sizeof list - at, "%s%s", at ? ", " : "",
                 bt_car_quantity_name(rows[i]));
    }
    return *list ? bt_notes_add(notes, err, "%s: the car sheet lacks %s", what, list) : BT_OK;
}
#define MISSING(what, ...)                                                                         \
    missing(car, (const bt_car_quantity[]){__VA_ARGS__},                                           \
            sizeof((bt_car_quantity[]){__VA_ARGS__}) / sizeof(bt_car_quantity), what, notes, err)

static bt_status say_missing(const bt_car *car, bt_notes *notes, bt_error *err)
{
    BT_TRY(MISSING("front disc temperatures are blank", BT_CAR_DISC_MASS_FRONT,
                   BT_CAR_DISC_HEAT_FRONT, BT_CAR_DISC_SHARE_FRONT, BT_CAR_AMBIENT));
    BT_TRY(MISSING("rear disc temperatures are blank", BT_CAR_DISC_MASS_REAR, BT_CAR_DISC_HEAT_REAR,
                   BT_CAR_DISC_SHARE_REAR, BT_CAR_AMBIENT));
    BT_TRY(MISSING("discs count as cooled by nothing", BT_CAR_COOL_SPEED_FRONT,
                   BT_CAR_COOL_SPEED_REAR));
    BT_TRY(
        MISSING("discs are not held to a limit", BT_CAR_DISC_LIMIT_FRONT, BT_CAR_DISC_LIMIT_REAR));
    BT_TRY(MISSING("adhesion, which axle locks first and lost deceleration are blank", BT_CAR_MASS,
                   BT_CAR_STATIC_FRONT_SHARE, BT_CAR_CG_HEIGHT, BT_CAR_WHEELBASE));
    return MISSING("setting and pedal pressures are blank", BT_CAR_BYPASS_RATIO,
                   BT_CAR_PISTON_AREA_FRONT, BT_CAR_PISTON_AREA_REAR, BT_CAR_PAD_FRICTION_FRONT,
                   BT_CAR_PAD_FRICTION_REAR, BT_CAR_EFFECTIVE_RADIUS_FRONT,
                   BT_CAR_EFFECTIVE_RADIUS_REAR, BT_CAR_ROLLING_RADIUS_FRONT,
                   BT_CAR_ROLLING_RADIUS_REAR);
}

/* ---- the whole ---- */

static bt_status check_options(bt_bypass_options *o, bt_error *err)
{
    if (o->low == 0 && o->high == 0) {
        o->low = SHARE_LOW;
        o->high = SHARE_HIGH;
    }
    if (o->step == 0) o->step = SHARE_STEP;
    if (!(o->low > 0 && o->high < 1 && o->low <= o->high && o->step > 0))
        return bt_fail(err, BT_RANGE,
                       "expected front shares between 0 and 100 %%, rising, found %g:%g:%g",
                       100 * o->low, 100 * o->high, 100 * o->step);
    if (!((o->high - o->low) / o->step < SHARES_MAX))
        return bt_fail(err, BT_RANGE, "expected at most %d front shares, found a step of %g %%",
                       SHARES_MAX, 100 * o->step);
    if (!(o->laps >= 0)) return bt_fail(err, BT_RANGE, "expected a number of laps above 0");
    return BT_OK;
}

static bt_status check_zones(const bt_zone *zones, size_t n, bt_error *err)
{
    for (size_t i = 1; i < n; i++)
        if (strcmp(zones[i].run, zones[0].run) != 0) {
            char first[BT_QUOTE_MAX], other[BT_QUOTE_MAX];
            return bt_fail(err, BT_RANGE, "expected the zones of one run, found '%s' and '%s'",
                           bt_quote(first, zones[0].run, strlen(zones[0].run)),
                           bt_quote(other, zones[i].run, strlen(zones[i].run)));
        }
    return BT_OK;
}

static bt_status make_rows(const plan *p, const bt_bypass_options *o, bt_plan *out, bt_error *err)
{
    out->n_rows = (size_t)((o->high - o->low) / o->step + ROUNDING) + 1;
    out->rows = calloc(out->n_rows, sizeof *out->rows);
    if (!out->rows) return bt_fail(err, BT_NOMEM, "no memory for %zu front shares", out->n_rows);
    for (size_t i = 0; i < out->n_rows; i++) fill(p, o->low + (double)i * o->step, &out->rows[i]);
    find_window(out);
    return BT_OK;
}

static bt_status make_plan(const bt_zone *zones, const bt_car *car, const bt_replay *replay,
                           const bt_bypass_options *o, bt_plan *out, bt_notes *notes, bt_error *err)
{
    if (replay->n == 0 && replay->left_out == 0)
        return bt_fail(err, BT_RANGE, "no braking zone in lap %g or later", o->from_lap);
    if (replay->n == 0)
        return bt_fail(
            err, BT_MISSING,
            "no braking zone whose brake work is known: needs both axles' torques, or mass");
    plan p = {.car = car, .replay = replay, .circuits = bt_circuits_of(car)};
    double work = 0;
    for (size_t i = 0; i < replay->n; i++) {
        p.force += replay->load[i].work * replay->load[i].force;
        work += replay->load[i].work;
    }
    p.force /= work;
    p.laps = o->laps > 0 ? o->laps : replay->laps;
    for (int a = 0; a < 2; a++) p.has_disc[a] = bt_disc_of(car, (bt_axle)a, &p.disc[a]);
    BT_TRY(make_rows(&p, o, out, err));
    bt_bypass_words(out, zones[0].run, replay, car, p.laps);
    if (replay->left_out)
        BT_TRY(bt_notes_add(notes, err, "%zu zones whose brake work is not known were left out",
                            replay->left_out));
    if (!replay->slip_known)
        BT_TRY(
            bt_notes_add(notes, err,
                         "no wheel speeds: what slipping tyres take counts as heat of the discs, "
                         "which come out 1 to 9 %% of their rise too hot"));
    if (replay->n == 1)
        BT_TRY(
            bt_notes_add(notes, err,
                         "a single braking: how discs cool before a next one is not known, their "
                         "temperatures are of this one alone"));
    if (!replay->lapped)
        BT_TRY(bt_notes_add(notes, err, "no lap is logged: the whole run counts as one lap"));
    return say_missing(car, notes, err);
}

bt_status bt_bypass_plan(const bt_zone *zones, size_t n, const bt_car *car,
                         const bt_bypass_options *options, bt_plan *out, bt_error *err)
{
    bt_bypass_options o = options ? *options : (bt_bypass_options){0};
    *out = (bt_plan){.low = NAN, .high = NAN};
    BT_TRY(check_options(&o, err));
    BT_TRY(check_zones(zones, n, err));
    bt_replay replay;
    bt_notes notes = {0};
    bt_status status =
        bt_replay_new(&replay, zones, n, car, o.from_lap > 0 ? o.from_lap : NAN, err);
    if (status == BT_OK) status = make_plan(zones, car, &replay, &o, out, &notes, err);
    bt_replay_free(&replay);
    out->notes = notes.line;
    out->n_notes = notes.n;
    return status;
}

void bt_plan_clear(bt_plan *made)
{
    free(made->rows);
    bt_notes notes = {.line = made->notes, .n = made->n_notes};
    bt_notes_clear(&notes);
    *made = (bt_plan){.low = NAN, .high = NAN};
}

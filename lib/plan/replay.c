/* Loads of a run and the discs under them: see replay.h. */
#include "plan/replay.h"

#include <math.h>
#include <stdlib.h>

#define PIECES     8    /* of a braking, each at constant power */
#define COOL_STEP  2.0  /* s; over it the speed counts as constant */
#define SPEED_MAX  120  /* m/s; a faster way between brakings is a lap that began anew */
#define SETTLED    0.01 /* K from pattern to pattern */
#define CYCLES_MAX 1000

static double known_or(double x, double otherwise)
{
    return isnan(x) ? otherwise : x;
}

static double work_of(const bt_zone *z)
{
    const double brakes = z->energy_front + z->energy_rear + z->energy_motor;
    return isnan(brakes) ? z->kinetic - known_or(z->road, 0) : brakes;
}

static double force_of(const bt_zone *z, const bt_car *car, double work)
{
    const double *q = car->value;
    const double r[2] = {q[BT_CAR_ROLLING_RADIUS_FRONT], q[BT_CAR_ROLLING_RADIUS_REAR]};
    const double force = z->front / r[0] + z->rear_friction / r[1] + z->motor / r[car->motor_axle];
    return isnan(force) ? work / z->distance : force;
}

/* A lap distance that began anew tells no way: then the odometer does, and where there is none (rows of
 * an older table) the speeds at both ends stand for it. */
static void gap_between(bt_load *load, const bt_zone *z, const bt_zone *next)
{
    load->gap_end = next->entry;
    load->gap = next->start - (z->start + z->duration);
    const double ways[] = {next->start_dist - (z->start_dist + z->distance),
                           next->odometer - (z->odometer + z->distance)};
    load->gap_speed = 0.5 * (z->exit + next->entry);
    for (int k = 1; k >= 0; k--)
        if (ways[k] > 0 && ways[k] < SPEED_MAX * load->gap) load->gap_speed = ways[k] / load->gap;
}

/* What the discs did at the braking itself, taken back. */
static double start_of(const bt_zone *z, const bt_car *car, bt_axle axle)
{
    const bool front = axle == BT_FRONT;
    const double first = front ? z->disc_front_first : z->disc_rear_first;
    const double peak = front ? z->disc_front : z->disc_rear;
    const double energy = front ? z->energy_front : z->energy_rear;
    bt_disc disc;
    if (!isnan(first)) return first;
    if (isnan(peak) || isnan(energy) || !bt_disc_of(car, axle, &disc))
        return car->value[BT_CAR_AMBIENT];
    disc.share = -disc.share;
    disc.still = disc.by_speed = 0;
    double temp = peak;
    for (int i = 0; i < PIECES; i++)
        temp = bt_disc_step(&disc, temp, 0.5 * energy / PIECES, 0, temp, 1);
    return temp;
}

/* From the last braking of the pattern to its first: as at the end of another lap if there is one. */
static void close_pattern(bt_replay *p)
{
    bt_load *last = &p->load[p->n - 1];
    double gap = 0, way = 0, found = 0;
    for (int laps_only = 1; laps_only >= 0 && found == 0; laps_only--)
        for (size_t i = 0; i + 1 < p->n; i++) {
            if (laps_only && !p->load[i].lap_ends) continue;
            gap += p->load[i].gap;
            way += p->load[i].gap * p->load[i].gap_speed;
            found += 1;
        }
    last->gap = found > 0 ? gap / found : 0;
    last->gap_speed = gap > 0 ? way / gap : 0;
    last->gap_end = p->load[0].entry;
    last->lap_ends = true;
}

static bt_load load_of(const bt_zone *z, const bt_car *car)
{
    bt_load load = {.duration = z->duration,
                    .entry = z->entry,
                    .exit = z->exit,
                    .work = work_of(z),
                    .speed = known_or(z->distance / z->duration, 0.5 * (z->entry + z->exit)),
                    .decel = z->decel_mean,
                    .decel_peak = known_or(z->decel_peak, z->decel_mean)};
    load.force = force_of(z, car, load.work);
    return load;
}

static bool usable(const bt_load *load)
{
    return load->work > 0 && load->force > 0 && load->duration > 0 && load->entry > load->exit &&
           load->exit >= 0 && load->speed > 0;
}

bt_status bt_replay_new(bt_replay *out, const bt_zone *zones, size_t n, const bt_car *car,
                        double from_lap, bt_error *err)
{
    *out = (bt_replay){.laps = 1, .first_lap = NAN, .start = {NAN, NAN}};
    out->load = calloc(n ? n : 1, sizeof *out->load);
    if (!out->load) return bt_fail(err, BT_NOMEM, "no memory for the brakings of a run");
    const bt_zone *before = NULL;
    for (size_t i = 0; i < n; i++) {
        const bt_zone *z = &zones[i];
        const bt_load load = load_of(z, car);
        if (!isnan(from_lap) && !(z->lap >= from_lap)) continue;
        if (!usable(&load)) {
            out->left_out++;
            continue;
        }
        if (before) {
            bt_load *last = &out->load[out->n - 1];
            gap_between(last, before, z);
            last->lap_ends = z->lap > before->lap;
            out->laps += last->lap_ends ? 1 : 0;
        } else {
            out->first_lap = z->lap;
            for (int a = 0; a < 2; a++) out->start[a] = start_of(z, car, (bt_axle)a);
        }
        out->slip_known |= !isnan(z->tyre);
        out->load[out->n++] = load;
        before = z;
    }
    out->lapped = !isnan(out->first_lap);
    if (out->n) close_pattern(out);
    return BT_OK;
}

void bt_replay_free(bt_replay *replay)
{
    free(replay->load);
    *replay = (bt_replay){0};
}

/* ---- the discs ---- */

/* Speed at the part u of a time, 0..1: the parabola through both ends that has the mean. */
static double speed_at(double first, double last, double mean, double u)
{
    const double bulge = 6 * (mean - 0.5 * (first + last));
    return fmax(first + (last - first) * u + bulge * u * (1 - u), 0);
}

double bt_load_brake(const bt_disc *disc, const bt_load *load, double temp, double energy,
                     double ambient, double *peak)
{
    const double dt = load->duration / PIECES;
    for (int k = 0; k < PIECES; k++) { /* constant torque: the power falls with the speed */
        const double v = speed_at(load->entry, load->exit, load->speed, (k + 0.5) / PIECES);
        const double power = energy / load->duration * v / load->speed;
        temp = bt_disc_step(disc, temp, power, v, ambient, dt);
        *peak = fmax(*peak, temp);
    }
    return temp;
}

double bt_load_cool(const bt_disc *disc, const bt_load *load, double temp, double ambient)
{
    const double steps = fmax(1, ceil(load->gap / COOL_STEP));
    for (double k = 0; k < steps && load->gap > 0; k++) {
        const double v = speed_at(load->exit, load->gap_end, load->gap_speed, (k + 0.5) / steps);
        temp = bt_disc_step(disc, temp, 0, v, ambient, load->gap / steps);
    }
    return temp;
}

bt_disc_course bt_replay_disc(const bt_replay *replay, const bt_disc *disc, bt_axle axle,
                              double ambient, double laps,
                              double (*share)(const void *user, const bt_load *load),
                              const void *user)
{
    bt_disc_course course = {NAN, NAN, NAN};
    double temp = replay->start[axle], lap = 1, before = 0;
    if (isnan(temp) || isnan(ambient) || replay->n == 0) return course;
    for (int cycle = 0; cycle < CYCLES_MAX; cycle++) {
        double most = 0;
        for (size_t i = 0; i < replay->n; i++) {
            const bt_load *load = &replay->load[i];
            double peak = temp;
            const double energy = 0.5 * load->work * share(user, load); /* of one of two discs */
            temp = bt_load_brake(disc, load, temp, energy, ambient, &peak);
            temp = bt_load_cool(disc, load, temp, ambient);
            most = fmax(most, peak);
            if (lap <= laps) course.peak = fmax(course.peak, peak);
            if (peak > disc->limit && isnan(course.limit_lap)) course.limit_lap = lap;
            lap += load->lap_ends ? 1 : 0;
        }
        if (replay->n == 1) break; /* no way to a next braking is known, so none can be driven */
        course.settled = most;
        if (fabs(most - before) < SETTLED && lap > laps) break;
        before = most;
    }
    return course;
}

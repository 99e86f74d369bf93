/* The driver: brakes for the corners of the lap (or through the programme of stops) and drives
 * between them.  The pedal is a rounded ramp, a hold with some modulation that is corrected to
 * make the corner, and a trailing release; every braking differs a little from the last. */
#include "sim.h"

#include <math.h>

#define PEDAL_LAG      0.012 /* s: no foot steps */
#define PRESSURE_MAX   140.0 /* bar */
#define THROTTLE_TIME  0.5   /* s from nothing to full */
#define HOLD_AT_SPEED  1.0   /* s at the target speed before a stop */
#define STAND_ON_PEDAL 0.8   /* s on the pedal after the car stands */
#define STAND_BETWEEN  1.6   /* s between stops */
#define EXTRA_DECEL    0.6   /* g of a braking for nothing */

static double scatter(sim *m, double sigma)
{
    const double n = plant_clamp(plant_random_normal(&m->driver_random), -2.5, 2.5);
    return m->cfg->driver.scatter * sigma * n;
}

/* Pressure at even bias that the sheet's car needs for a deceleration. */
static double pressure_for(const sim *m, double decel_g)
{
    const plant_car *c = &m->cfg->car;
    const double bias = m->cfg->driver.bias + m->fx.bias, probe = 40;
    const double front = plant_friction_nm(c, 0, 2 * bias * probe);
    const double rear = c->bywire
                            ? plant_demand_nm(c, 2 * (1 - bias) * probe)
                            : plant_friction_nm(c, 1, c->bypass_ratio * 2 * (1 - bias) * probe);
    const double force = front / c->radius[0] + rear / c->radius[1];
    return plant_clamp(probe * c->mass * PLANT_G * decel_g / force, 4, PRESSURE_MAX);
}

static void draw_corner(sim *m)
{
    driver_state *d = &m->driver;
    const plant_driver *p = &m->cfg->driver;
    d->early = scatter(m, 3.0);
    d->hard = 1 + scatter(m, 0.03);
    d->apply = p->apply_time * exp(scatter(m, 0.15));
    d->release = p->release_time * exp(scatter(m, 0.15));
    d->mod_hz = 1.5 + plant_random_uniform(&m->driver_random);
    d->mod_phase = 2 * PLANT_PI * plant_random_uniform(&m->driver_random);
    d->mod_depth = p->modulation * (1 + scatter(m, 0.3));
}

static void enter(sim *m, driver_phase phase)
{
    m->driver.phase = phase;
    m->driver.since = m->t;
}

static void brake(sim *m, double decel_g, double goal, int corner)
{
    driver_state *d = &m->driver;
    d->goal = goal;
    d->plan_bar = pressure_for(m, decel_g * d->hard);
    d->correction = 1;
    d->brake_start = m->t;
    d->brake_lap = d->extra ? m->lap : d->target_lap + 1;
    d->brake_corner = corner;
    d->throttle = 0;
    enter(m, APPLYING);
}

static void next_target(sim *m)
{
    driver_state *d = &m->driver;
    if (++d->target >= m->cfg->track.corners) {
        d->target = 0;
        d->target_lap++;
    }
    draw_corner(m);
}

static bool missed(sim *m)
{
    for (int i = 0; i < m->cfg->faults; i++) {
        const plant_fault *f = &m->cfg->fault[i];
        if (f->kind == PLANT_FAULT_MISSED && f->lap == m->driver.target_lap + 1 &&
            f->corner == m->driver.target + 1) {
            plant_fault_once(m, i);
            return true;
        }
    }
    return false;
}

/* Starts an extra braking whose place has been passed. */
static bool extra(sim *m, double lap_distance)
{
    for (int i = 0; i < m->cfg->faults; i++) {
        const plant_fault *f = &m->cfg->fault[i];
        if (f->kind != PLANT_FAULT_EXTRA || f->lap != m->lap || m->fault[i].done) continue;
        if (lap_distance < f->value) continue;
        plant_fault_once(m, i);
        m->driver.extra = true;
        m->driver.extra_id = 101 + i;
        brake(m, EXTRA_DECEL, m->chassis.v - f->value2, m->driver.target + 1);
        return true;
    }
    return false;
}

static double to_apex(const sim *m)
{
    const plant_track *tr = &m->cfg->track;
    return m->driver.target_lap * tr->lap_length + tr->corner[m->driver.target].apex - m->chassis.s;
}

/* Asks for the force that brings the car to `speed`, up to what throttle and power allow. */
static void drive_to(sim *m, double speed)
{
    const plant_car *c = &m->cfg->car;
    driver_state *d = &m->driver;
    const double v = m->chassis.v;
    d->throttle = plant_clamp(d->throttle + m->dt / THROTTLE_TIME, 0, 1);
    const double road = c->road_a + c->road_b * v + c->road_c * v * v;
    const double wish = c->mass * 1.5 * (speed - v) + road;
    const double most = fmin(c->drive_force_max, c->drive_power / fmax(v, 1)) * d->throttle;
    d->drive_force = plant_clamp(wish, 0, most);
}

static void drive_lap(sim *m)
{
    driver_state *d = &m->driver;
    const plant_track *tr = &m->cfg->track;
    const double v = m->chassis.v, left = to_apex(m);
    if (left <= 0) {
        next_target(m);
        return;
    }
    if (extra(m, m->chassis.s - m->lap_start)) return;
    const plant_corner *c = &tr->corner[d->target];
    const double need = (v * v - c->speed * c->speed) / (2 * 0.9 * c->decel * PLANT_G) +
                        0.5 * v * d->apply + 0.25 * c->speed * d->release + 5;
    if (v > c->speed + 2.5 && left < need + d->early && !missed(m)) {
        brake(m, c->decel, c->speed, d->target + 1);
        return;
    }
    /* Close to the corner the throttle only holds its speed. */
    const bool near = left < 45 && d->brake_start >= 0 && v < c->speed + 4;
    if (near) d->throttle = fmin(d->throttle, 0.35);
    drive_to(m, near ? c->speed : tr->top_speed);
}

static void drive_stop(sim *m)
{
    driver_state *d = &m->driver;
    const plant_stop *stop = &m->cfg->track.stop[d->target];
    drive_to(m, stop->speed);
    d->settled = fabs(m->chassis.v - stop->speed) < 0.4 ? d->settled + m->dt : 0;
    if (d->settled < HOLD_AT_SPEED) return;
    d->settled = 0;
    brake(m, stop->decel, -1, d->target + 1);
}

/* The held pressure: modulated, and corrected towards what makes the corner. */
static double held(sim *m)
{
    driver_state *d = &m->driver;
    const double v = m->chassis.v, into = m->t - d->brake_start;
    const double swing = sin(2 * PLANT_PI * d->mod_hz * into + d->mod_phase);
    if (d->goal > 0 && !d->extra && d->phase == HOLDING && m->fx.pedal >= 1) {
        const double left = fmax(to_apex(m) - 0.25 * d->goal * d->release, 4);
        const double wanted = (v * v - d->goal * d->goal) / (2 * left);
        const double got = fmax(m->chassis.z * PLANT_G, 1);
        const double rate = m->cfg->driver.correction * plant_clamp(wanted / got - 1, -0.6, 0.6);
        d->correction = plant_clamp(d->correction * (1 + rate * m->dt), 0.7, 1.3);
    }
    return fmin(d->plan_bar * d->correction * (1 + d->mod_depth * swing), PRESSURE_MAX);
}

static void released(sim *m)
{
    driver_state *d = &m->driver;
    d->extra = false;
    if (m->cfg->track.stops == 0) {
        enter(m, DRIVING);
        return;
    }
    if (++d->target >= m->cfg->track.stops) m->over = true;
    enter(m, STANDING);
    if (!m->over) draw_corner(m);
}

static void pedal(sim *m)
{
    driver_state *d = &m->driver;
    const double into = m->t - d->since, v = m->chassis.v;
    if (d->phase == APPLYING) {
        d->pressure = held(m) * plant_smoothstep(into / d->apply);
        if (into >= d->apply) enter(m, HOLDING);
    } else if (d->phase == HOLDING) {
        d->pressure = held(m);
        if (d->goal < 0) { /* to a standstill */
            d->settled = v < 0.05 ? d->settled + m->dt : 0;
            if (d->settled < STAND_ON_PEDAL) return;
            d->settled = 0;
        } else if (v - d->goal > 0.45 * m->chassis.z * PLANT_G * d->release) {
            return;
        }
        d->release_bar = d->pressure;
        enter(m, RELEASING);
    } else {
        d->pressure = d->release_bar * (1 - plant_smoothstep(into / d->release));
        if (into >= d->release) released(m);
    }
}

void plant_driver_init(sim *m)
{
    m->driver = (driver_state){.brake_start = -1, .correction = 1};
    draw_corner(m);
}

void plant_driver_step(sim *m)
{
    driver_state *d = &m->driver;
    d->drive_force = 0;
    if (d->phase == STANDING) {
        if (m->t - d->since >= STAND_BETWEEN) enter(m, DRIVING);
    } else if (d->phase == DRIVING) {
        if (m->cfg->track.stops > 0)
            drive_stop(m);
        else
            drive_lap(m);
    } else {
        pedal(m);
    }
    if (d->phase == DRIVING || d->phase == STANDING) d->pressure = 0;
    d->smooth_bar += (d->pressure * m->fx.pedal - d->smooth_bar) * m->dt / (PEDAL_LAG + m->dt);
    if (d->smooth_bar < 1e-3) d->smooth_bar = 0;
}

/* Wheels, tyres, body and discs.  Each wheel turns under its brake, motor and tyre force; the tyre
 * force follows the slip; the body slows under the four of them and the road load.
 *
 * A wheel at low speed is far stiffer than the physics step: its equation is solved by one
 * linearly implicit step (Rosenbrock 1963), and the tyre force that this step implies is the one
 * the body gets too, so that momentum and energy balance exactly. */
#include "sim.h"

#include <math.h>

#define TRANSFER_LAG 0.04 /* s: pitch */
#define SLIP_SPEED   1.0  /* m/s: below it slip is taken against this speed */
#define DIFFERENTIAL 50.0 /* N·m per rad/s between the rear wheels */

void plant_chassis_init(sim *m)
{
    chassis_state *c = &m->chassis;
    const plant_config *g = m->cfg;
    *c = (chassis_state){.v = g->track.stops > 0 ? 0 : g->track.start_speed};
    for (int w = 0; w < 4; w++) {
        c->omega[w] = c->v / (g->car.radius[w / 2] * g->deviation.radius[w / 2]);
        c->disc[w] = g->disc_start;
    }
    m->kinetic0 = plant_kinetic(m);
}

double plant_kinetic(const sim *m)
{
    const chassis_state *c = &m->chassis;
    double e = 0.5 * m->cfg->car.mass * m->cfg->deviation.mass * c->v * c->v;
    for (int w = 0; w < 4; w++)
        e += 0.5 * m->cfg->car.wheel_inertia[w / 2] * c->omega[w] * c->omega[w];
    return e;
}

static double axle_bar(const sim *m, int axle)
{
    return axle == 0 ? m->rear.line_front : m->rear.line_rear;
}

void plant_chassis_torques(sim *m)
{
    const plant_config *g = m->cfg;
    const plant_deviation *dev = &g->deviation;
    for (int w = 0; w < 4; w++) {
        const int axle = w / 2;
        const double bar = axle_bar(m, axle) * m->fx.caliper[w];
        const double hot = fmax(0, m->chassis.disc[w] - dev->pad_fade_from);
        const double fade = fmax(0.3, 1 - dev->pad_fade_slope * hot);
        const double side = 1 + (w % 2 == 0 ? dev->left_right : -dev->left_right);
        m->now.line_bar[w] = bar;
        m->chassis.brake_nm[w] =
            0.5 * plant_friction_nm(&g->car, axle, bar) * dev->pad_mu[axle] * fade * side;
    }
    m->now.front_nm = m->chassis.brake_nm[0] + m->chassis.brake_nm[1];
    m->now.rear_friction_nm = m->chassis.brake_nm[2] + m->chassis.brake_nm[3];
}

/* Tyre force (slowing the car positive) and its slope over slip. */
static double tyre(const plant_car *c, double load, double slip, double *slope)
{
    const double angle = c->tyre_c * atan(c->tyre_b * slip);
    const double peak = c->grip_peak * load;
    *slope = peak * cos(angle) * c->tyre_c * c->tyre_b / (1 + c->tyre_b * slip * c->tyre_b * slip);
    if (*slope < 0) *slope = 0;
    return peak * sin(angle);
}

static double load_of(const sim *m, int w)
{
    const plant_car *c = &m->cfg->car;
    const double front = c->static_front_share + m->chassis.z * c->cg_height / c->wheelbase;
    const double share = plant_clamp(w < 2 ? front : 1 - front, 0, 1);
    return 0.5 * share * c->mass * m->cfg->deviation.mass * PLANT_G * m->fx.grip[w];
}

/* Heat in, heat out; the fine step makes the plain Euler rule exact enough. */
static void disc_step(sim *m, int w, double power)
{
    const plant_car *c = &m->cfg->car;
    const int axle = w / 2;
    double *temp = &m->chassis.disc[w];
    const double heat =
        c->disc_mass[axle] * (c->disc_heat[axle] + c->disc_heat_slope[axle] * (*temp - 20));
    const double cool = (c->cool_still[axle] + c->cool_speed[axle] * m->chassis.v) *
                        m->cfg->deviation.cooling[axle];
    *temp += m->dt * (c->disc_share[axle] * power - cool * (*temp - c->ambient)) / heat;
}

/* One wheel over one step: its new speed, and the tyre force that goes with it. */
typedef struct {
    double omega, force, friction;
} wheel_step;

static wheel_step step_wheel(const sim *m, int w, double friction, double other)
{
    const plant_car *c = &m->cfg->car;
    const int axle = w / 2;
    const double radius = c->radius[axle] * m->cfg->deviation.radius[axle];
    const double inertia = c->wheel_inertia[axle], omega = m->chassis.omega[w];
    const double ref = fmax(m->chassis.v, SLIP_SPEED);
    double slope;
    const double slip = (m->chassis.v - omega * radius) / ref;
    const double force = tyre(c, load_of(m, w), slip, &slope);
    const double stiff = slope * radius / ref; /* force lost per rad/s gained */
    double gain = m->dt * (force * radius - friction - other) / (inertia + m->dt * stiff * radius);
    double used = friction;
    if (omega + gain <= 0) { /* locked: the pads hold no more than it takes */
        gain = -omega;
        used = (force + stiff * omega) * radius - other + inertia * omega / m->dt;
        used = plant_clamp(used, 0, friction);
    }
    return (wheel_step){omega + gain, force - stiff * gain, used};
}

/* What the differential takes from the rear left wheel for the right one: it slips while the car is driven, so
 * that a wheel without grip does not spin up for ever, and is open while it is braked. */
static double through_diff(const sim *m, double drive_nm)
{
    const double *omega = m->chassis.omega;
    return m->now.motor_nm < drive_nm ? DIFFERENTIAL * (omega[2] - omega[3]) : 0;
}

void plant_chassis_step(sim *m)
{
    const plant_config *g = m->cfg;
    chassis_state *c = &m->chassis;
    plant_ledger *led = &m->ledger;
    const double boost = fmax(0, -m->now.motor_nm);
    const double drive_nm =
        m->driver.drive_force > 0 ? fmax(0, m->driver.drive_force * g->car.radius[1] - boost) : 0;
    const double mass = g->car.mass * g->deviation.mass, v0 = c->v;
    const double road =
        v0 > 0 ? (g->car.road_a + g->car.road_b * v0 + g->car.road_c * v0 * v0) * g->deviation.road
               : 0;
    const double moved = through_diff(m, drive_nm), across[2] = {moved, -moved};
    wheel_step step[4];
    double total = road;
    for (int w = 0; w < 4; w++) {
        const double other = w < 2 ? 0 : 0.5 * (m->now.motor_nm - drive_nm) + across[w - 2];
        step[w] = step_wheel(m, w, c->brake_nm[w], other);
        total += step[w].force;
    }
    c->v = fmax(0, v0 - m->dt * total / mass);
    c->accel = (c->v - v0) / m->dt;
    const double v_mid = 0.5 * (v0 + c->v);
    c->s += v_mid * m->dt;
    c->z += (-c->accel / PLANT_G - c->z) * m->dt / TRANSFER_LAG;

    led->road += road * v_mid * m->dt;
    for (int w = 0; w < 4; w++) {
        const int axle = w / 2;
        const double radius = g->car.radius[axle] * g->deviation.radius[axle];
        const double omega_mid = 0.5 * (c->omega[w] + step[w].omega);
        const double power = step[w].friction * omega_mid;
        *(axle == 0 ? &led->front : &led->rear) += power * m->dt;
        led->slip += step[w].force * (v_mid - omega_mid * radius) * m->dt;
        if (axle == 1) {
            led->motor += 0.5 * m->now.motor_nm * omega_mid * m->dt;
            led->drive += 0.5 * drive_nm * omega_mid * m->dt;
            led->slip += across[w - 2] * omega_mid * m->dt;
        }
        disc_step(m, w, power);
        c->omega[w] = step[w].omega;
    }
    m->now.a = c->accel;
}

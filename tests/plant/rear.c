/* The rear by-wire axle: the controller that shares the demand between motor and friction, the
 * motor with its limits, the actuator with dead time and lag, the bypass, and the battery. */
#include "sim.h"

#include <math.h>

#define LINE_MAX_BAR  150.0
#define AUXILIARIES_W 450.0
#define BOOST_FROM    6.0 /* m/s: below it the motor does not help to drive */

double plant_friction_nm(const plant_car *car, int axle, double line_bar)
{
    const double p = fmax(0, line_bar - car->threshold_bar[axle]);
    return 4 * car->pad_mu[axle] * car->piston_area[axle] * car->effective_radius[axle] * p * 1e5;
}

static double on_curve(const plant_car *car, double bar)
{
    const double *x = car->demand_bar, *y = car->demand_nm;
    int i = 1;
    if (car->demand_points < 2 || bar <= x[0]) return 0;
    while (i < car->demand_points - 1 && bar > x[i]) i++;
    return y[i - 1] + (bar - x[i - 1]) * (y[i] - y[i - 1]) / (x[i] - x[i - 1]);
}

double plant_demand_nm(const plant_car *car, double bar)
{
    switch (car->demand_kind) {
    case PLANT_DEMAND_CURVE:
        return on_curve(car, bar);
    case PLANT_DEMAND_HYDRAULIC:
        return plant_friction_nm(car, 1, car->bypass_ratio * bar);
    default:
        return car->demand_gain * fmax(0, bar - car->demand_threshold_bar);
    }
}

/* Axle torque of the motor from its shaft torque: losses help braking and hinder driving. */
static double motor_axle(const plant_car *c, double shaft)
{
    return -shaft * c->motor_ratio * (shaft < 0 ? 1 / c->motor_efficiency : c->motor_efficiency);
}

/* How much of its braking torque the motor may use, apart from torque and power. */
static double motor_limit(const sim *m, double wheel_speed)
{
    const plant_config *g = m->cfg;
    const plant_battery *b = &g->battery;
    const double map = g->control.motor_factor + g->control.motor_factor_per_lap * (m->lap - 1);
    const double fade =
        (wheel_speed - g->car.fade_low) / fmax(g->car.fade_high - g->car.fade_low, 1e-3);
    const double room = (b->taper_to - m->rear.charge) / fmax(b->taper_to - b->taper_from, 1e-6);
    return plant_clamp(map, 0, 1) * plant_clamp(fade, 0, 1) * plant_clamp(room, 0, 1) * m->fx.motor;
}

/* Pressure asked of the actuator for what the motor, believed to do so much of the demand, leaves. */
static double line_for(const sim *m, double demand, double brake, double torque)
{
    const plant_car *c = &m->cfg->car;
    const plant_control *k = &m->cfg->control;
    const double believed =
        k->motor_estimate * (k->trusts_request ? brake : fmax(0, motor_axle(c, torque)));
    const double friction = fmax(0, demand - believed) * (1 + k->gain_error);
    const double per_bar = plant_friction_nm(c, 1, 1 + c->threshold_bar[1]);
    return friction > 0 ? fmin(friction / per_bar + c->threshold_bar[1], LINE_MAX_BAR) : 0;
}

static void decide(sim *m)
{
    const plant_car *c = &m->cfg->car;
    const plant_control *k = &m->cfg->control;
    rear_state *r = &m->rear;
    const double reading =
        m->now.pedal_rear_bar + k->noise_bar * plant_random_normal(&m->control_random);
    const double demand = plant_demand_nm(c, fmax(0, reading));
    const double omega = 0.5 * (m->chassis.omega[2] + m->chassis.omega[3]);
    double brake = 0;
    r->limit = motor_limit(m, omega * c->radius[1]);
    if (c->motor && !m->fx.motor_off && demand > 0) {
        const double shaft_speed = fmax(omega * c->motor_ratio, 1);
        const double shaft = fmin(c->motor_torque_max, c->motor_power_max / shaft_speed);
        const double most = shaft * c->motor_ratio / c->motor_efficiency * r->limit;
        brake = fmin(k->motor_share_max * demand, most);
    }
    r->brake_request_nm = brake;
    r->request = -brake * c->motor_efficiency / c->motor_ratio;
    r->line_request = line_for(m, demand, brake, r->torque);
    r->wire_request = r->request;
    r->wire_line_request = line_for(m, demand, brake, r->wire_torque);
    if (m->fx.flag && m->fx.fallback) r->line_request = r->request = 0;
}

static void actuate(sim *m)
{
    const plant_control *k = &m->cfg->control;
    rear_state *r = &m->rear;
    m->now.dead_time = plant_clamp(k->dead_time + m->fx.dead_time, 0, 0.5);
    m->now.lag = fmax(k->lag + m->fx.lag, 1e-4);
    r->delay[m->n % PLANT_DELAY_MAX] = r->line_request;
    const uint64_t back = (uint64_t)(m->now.dead_time / m->dt + 0.5);
    double goal = m->n >= back ? r->delay[(m->n - back) % PLANT_DELAY_MAX] : 0;
    double lag = m->now.lag;
    if (!m->cfg->car.bywire || m->fx.fallback) {
        goal = m->cfg->car.bypass_ratio * m->now.pedal_rear_bar;
        lag = fmax(k->bypass_lag, 1e-4);
    } else if (m->fx.stall) {
        goal = r->line_rear;
    }
    if (m->fx.abs_depth > 0)
        goal *= 1 - m->fx.abs_depth * 0.5 * (1 - cos(2 * PLANT_PI * m->fx.abs_hz * m->t));
    r->line_rear += (fmax(goal, m->fx.drag_bar[1]) - r->line_rear) * (1 - exp(-m->dt / lag));
}

/* The line on either way all along. */
static void would_be(sim *m)
{
    const plant_control *k = &m->cfg->control;
    rear_state *r = &m->rear;
    r->wire_delay[m->n % PLANT_DELAY_MAX] = r->wire_line_request;
    const uint64_t back = (uint64_t)(m->now.dead_time / m->dt + 0.5);
    const double wire = m->n >= back ? r->wire_delay[(m->n - back) % PLANT_DELAY_MAX] : 0;
    const double pipe = m->cfg->car.bypass_ratio * m->now.pedal_rear_bar;
    r->wire_line += (wire - r->wire_line) * (1 - exp(-m->dt / m->now.lag));
    r->pipe_line += (pipe - r->pipe_line) * (1 - exp(-m->dt / fmax(k->bypass_lag, 1e-4)));
    m->now.wire_bar = r->wire_line;
    m->now.pipe_bar = r->pipe_line;
    m->now.wire_torque = r->wire_torque;
}

static void front_line(sim *m)
{
    double goal = m->now.pedal_front_bar;
    if (m->fx.abs_depth > 0)
        goal *= 1 - m->fx.abs_depth * 0.5 * (1 - cos(2 * PLANT_PI * m->fx.abs_hz * m->t));
    const double lag = fmax(m->cfg->control.front_lag, 1e-4);
    m->rear.line_front +=
        (fmax(goal, m->fx.drag_bar[0]) - m->rear.line_front) * (1 - exp(-m->dt / lag));
}

/* Shaft torque: the request when braking, a part of the drive otherwise. */
static void motor(sim *m)
{
    const plant_car *c = &m->cfg->car;
    rear_state *r = &m->rear;
    if (!c->motor) {
        r->torque = r->request = r->wire_torque = r->wire_request = 0;
        return;
    }
    const double omega = 0.5 * (m->chassis.omega[2] + m->chassis.omega[3]);
    const bool gone = m->fx.fallback && !m->fx.motor_stays;
    if (m->driver.drive_force > 0 && m->now.pedal_front_bar <= 0) {
        const double power = fmin(c->boost_power, m->driver.drive_force * m->chassis.v);
        const bool helps = m->chassis.v > BOOST_FROM && r->charge > 0.1 && !m->fx.motor_off;
        r->wire_request = helps ? power / fmax(omega * c->motor_ratio, 1) : 0;
        r->request = gone ? 0 : r->wire_request;
    }
    const double goal = gone || m->fx.motor_lost ? 0 : r->request;
    const double part = 1 - exp(-m->dt / fmax(m->cfg->control.motor_lag, 1e-4));
    r->torque += (goal - r->torque) * part;
    r->wire_torque += (r->wire_request - r->wire_torque) * part;
}

void plant_rear_step(sim *m)
{
    if (m->t >= m->rear.next_cycle - 0.25 * m->dt) {
        decide(m);
        m->rear.next_cycle += fmax(m->cfg->control.cycle, m->dt);
    }
    motor(m);
    actuate(m);
    would_be(m);
    front_line(m);
    m->now.motor_torque = m->rear.torque;
    m->now.motor_request = m->rear.request;
    m->now.motor_nm = motor_axle(&m->cfg->car, m->rear.torque);
    m->now.line_request_bar = m->rear.line_request;
    m->now.line_rear_bar = m->rear.line_rear;
    m->now.demand_nm = plant_demand_nm(&m->cfg->car, m->now.pedal_rear_bar);
}

void plant_battery_step(sim *m)
{
    const plant_battery *b = &m->cfg->battery;
    rear_state *r = &m->rear;
    const double omega = 0.5 * (m->chassis.omega[2] + m->chassis.omega[3]);
    const double shaft = r->torque * omega * m->cfg->car.motor_ratio; /* W, driving positive */
    const double power =
        (shaft < 0 ? shaft * b->efficiency : shaft / b->efficiency) + AUXILIARIES_W;
    const double open = b->open_volts * (0.94 + 0.12 * r->charge);
    const double root = fmax(open * open - 4 * b->resistance * power, 0);
    r->amps = (open - sqrt(root)) / (2 * b->resistance);
    r->volts = open - r->amps * b->resistance;
    r->charge = plant_clamp(r->charge - open * r->amps * m->dt / b->capacity, 0, 1);
}

void plant_rear_init(sim *m)
{
    double *ring = m->rear.delay, *wire = m->rear.wire_delay;
    m->rear = (rear_state){
        .delay = ring, .wire_delay = wire, .charge = m->cfg->battery.charge, .limit = 1};
}

/* True braking zones, integrated at the physics step.  Sums run from every crossing of the off
 * pressure; when the pedal falls below it again they are copied, so that a zone can be dated back
 * to that moment or carried on if the pedal returns. */
#include "sim.h"

#include <math.h>
#include <stdlib.h>

#define ON_BAR     3.0
#define OFF_BAR    1.5
#define ON_TIME    0.05
#define OFF_TIME   0.15
#define MIN_SPEED  5.0
#define STAND      0.5
#define STAND_TIME 0.3
#define MERGE_GAP  0.25
#define MIN_TIME   0.3
#define MIN_DROP   2.0
#define LOCK_PIECE 0.05
#define MEAN_SPAN  0.2 /* s, for decel_peak200 */
#define SPAN_MAX   4096

typedef struct {
    double t0, t1, v0, v1, s0, s1;
    double time, pedal, pedal_peak, front, rear, motor, demand; /* integrals over time */
    double force_front, force_rear, force_rear_hyd, error, error_sq, error_abs, error_peak;
    double e_front, e_rear, e_motor, recovered;
    double peak, peak200, slip_front, slip_rear, lock, lock_piece, disc_front, disc_rear;
    double fallback, bias, limit, inertia_force, sheet_front, sheet_rear;
    double v_high, s_high, v_low, s_low; /* at 0.8 and 0.1 of the entry speed; NaN = not yet */
    double dead_time, lag;
    int lap, corner;
} sums;

typedef enum { IDLE, RISING, OPEN, FALLING, CLOSED, RISING_AGAIN } phase;

struct zone_tracker {
    phase phase;
    sums cur, kept;             /* kept: as of the last crossing down */
    double above, below, stood; /* s */
    double last_pedal, last_v;
    bool stopped; /* the open zone has met the standing car: nothing opens before release */
    int count;
    double v_ring[SPAN_MAX];
    int filled;
};

zone_tracker *plant_zones_new(void)
{
    return calloc(1, sizeof(zone_tracker));
}

void plant_zones_free(zone_tracker *z)
{
    free(z);
}

static double sheet_effective_mass(const plant_car *c)
{
    double extra = 0;
    for (int axle = 0; axle < 2; axle++)
        extra += 2 * c->wheel_inertia[axle] / (c->radius[axle] * c->radius[axle]);
    return c->mass + extra;
}

static void begin(sim *m, zone_tracker *z)
{
    const plant_state *p = &m->now;
    const double rise = p->pedal_front_bar - z->last_pedal;
    const double part = rise > 0 ? plant_clamp((OFF_BAR - z->last_pedal) / rise, 0, 1) : 1;
    z->cur = (sums){.t0 = p->t - m->dt * (1 - part), .v0 = p->v, .s0 = p->s};
    z->cur.v_high = z->cur.v_low = z->cur.s_high = z->cur.s_low = NAN;
    z->cur.lap = p->lap;
    z->cur.corner = m->driver.extra ? m->driver.extra_id : m->driver.brake_corner;
    z->above = z->below = z->stood = 0;
    z->filled = 0;
}

static void add_blend(sums *a, double e, double dt)
{
    a->error += e * dt;
    a->error_sq += e * e * dt;
    a->error_abs += fabs(e) * dt;
    if (fabs(e) > fabs(a->error_peak)) a->error_peak = e;
}

static void add_slip(const sim *m, sums *a)
{
    const plant_state *p = &m->now;
    bool locked = false;
    for (int w = 0; w < 4 && p->v > MIN_SPEED; w++) {
        double *most = w < 2 ? &a->slip_front : &a->slip_rear;
        *most = fmax(*most, p->slip[w]);
        locked = locked || p->slip[w] > m->cfg->slip_limit;
    }
    if (locked) {
        a->lock_piece += m->dt;
        return;
    }
    if (a->lock_piece >= LOCK_PIECE) a->lock += a->lock_piece;
    a->lock_piece = 0;
}

/* Forces as the sheet would have them. */
static void add_sheet(const sim *m, sums *a)
{
    const plant_state *p = &m->now;
    const plant_car *c = &m->cfg->car;
    const double road = c->road_a + c->road_b * p->v + c->road_c * p->v * p->v;
    double nm[2] = {0, p->motor_nm};
    for (int w = 0; w < 4; w++) nm[w / 2] += 0.5 * plant_friction_nm(c, w / 2, p->line_bar[w]);
    a->inertia_force += (sheet_effective_mass(c) * -p->a - road) * m->dt;
    a->sheet_front += nm[0] / c->radius[0] * m->dt;
    a->sheet_rear += nm[1] / c->radius[1] * m->dt;
}

static void add(sim *m, zone_tracker *z)
{
    const plant_state *p = &m->now;
    const plant_car *c = &m->cfg->car;
    const plant_deviation *dev = &m->cfg->deviation;
    const double rf = c->radius[0] * dev->radius[0], rr = c->radius[1] * dev->radius[1];
    const double rear = p->rear_friction_nm + p->motor_nm, dt = m->dt;
    sums *a = &z->cur;
    a->time += dt;
    a->pedal += p->pedal_front_bar * dt;
    a->pedal_peak = fmax(a->pedal_peak, p->pedal_front_bar);
    a->front += p->front_nm * dt;
    a->rear += p->rear_friction_nm * dt;
    a->motor += p->motor_nm * dt;
    a->demand += p->demand_nm * dt;
    a->force_front += p->front_nm / rf * dt;
    a->force_rear += rear / rr * dt;
    a->force_rear_hyd += p->rear_friction_nm / rr * dt;
    add_blend(a, rear - p->demand_nm, dt);
    for (int w = 0; w < 4; w++)
        *(w < 2 ? &a->e_front : &a->e_rear) += m->chassis.brake_nm[w] * p->omega[w] * dt;
    a->e_motor += p->motor_nm * 0.5 * (p->omega[2] + p->omega[3]) * dt;
    a->recovered += -p->volts * p->amps * dt;
    a->peak = fmax(a->peak, -p->a);
    add_slip(m, a);
    a->disc_front = fmax(a->disc_front, fmax(p->disc[0], p->disc[1]));
    a->disc_rear = fmax(a->disc_rear, fmax(p->disc[2], p->disc[3]));
    if (p->fallback) a->fallback += dt;
    a->bias += p->bias * dt;
    a->limit += m->rear.limit * dt;
    add_sheet(m, a);
    if (!(p->v > 0.8 * a->v0) && isnan(a->v_high)) a->v_high = p->v, a->s_high = p->s;
    if (!(p->v > 0.1 * a->v0) && isnan(a->v_low)) a->v_low = p->v, a->s_low = p->s;
    a->dead_time = p->dead_time;
    a->lag = p->lag;
    const int span = (int)(MEAN_SPAN / dt + 0.5);
    if (span < SPAN_MAX) {
        const int at = z->filled % span;
        if (z->filled >= span) a->peak200 = fmax(a->peak200, (z->v_ring[at] - p->v) / MEAN_SPAN);
        z->v_ring[at] = p->v;
        z->filled++;
    }
}

/* Ends the running sums at this moment, interpolated on what has just crossed a level. */
static void keep(sim *m, zone_tracker *z, double before, double now, double level)
{
    const double fall = before - now;
    const double part = fall > 0 ? plant_clamp((before - level) / fall, 0, 1) : 1;
    z->kept = z->cur;
    z->kept.t1 = m->now.t - m->dt * (1 - part);
    z->kept.v1 = m->now.v;
    z->kept.s1 = m->now.s;
}

static const char *mode_of(const sim *m, const sums *a)
{
    if (!m->cfg->car.bywire) return "";
    if (a->fallback <= 0) return "by-wire";
    return a->fallback >= a->time - 1.5 * m->dt ? "fallback" : "mixed";
}

static void emit(sim *m, zone_tracker *z)
{
    const sums *a = &z->kept;
    const double duration = a->t1 - a->t0, distance = a->s1 - a->s0, n = a->time;
    z->phase = IDLE;
    if (duration < MIN_TIME || a->v0 - a->v1 < MIN_DROP) return;
    z->count++;
    if (!m->sink->zone) return;
    const double rear = a->rear + a->motor, force = a->force_front + a->force_rear;
    const plant_zone out = {
        .zone = z->count,
        .lap = a->lap,
        .corner = a->corner,
        .start = a->t0,
        .end = a->t1,
        .start_m = a->s0,
        .distance = distance,
        .entry = a->v0,
        .exit = a->v1,
        .decel_mean = (a->v0 - a->v1) / duration,
        .decel_dist = (a->v0 * a->v0 - a->v1 * a->v1) / (2 * distance),
        .mfdd = isnan(a->v_low)
                    ? NAN
                    : (a->v_high * a->v_high - a->v_low * a->v_low) / (2 * (a->s_low - a->s_high)),
        .decel_peak = a->peak,
        .decel_peak200 = a->peak200,
        .pedal_peak_bar = a->pedal_peak,
        .pedal_mean_bar = a->pedal / n,
        .front_nm = a->front / n,
        .rear_friction_nm = a->rear / n,
        .motor_nm = a->motor / n,
        .demand_nm = a->demand / n,
        .balance_pct = 100 * a->force_front / force,
        .balance_hyd_pct = 100 * a->force_front / (a->force_front + a->force_rear_hyd),
        .motor_share_pct = 100 * a->motor / rear,
        .blend_mean_nm = a->error / n,
        .blend_rms_nm = sqrt(a->error_sq / n),
        .blend_peak_nm = a->error_peak,
        .blend_abs_pct = 100 * a->error_abs / a->demand,
        .energy_front = a->e_front,
        .energy_rear = a->e_rear,
        .energy_motor = a->e_motor,
        .recovered = a->recovered,
        .slip_front = a->slip_front,
        .slip_rear = a->slip_rear,
        .lock_s = a->lock + (a->lock_piece >= LOCK_PIECE ? a->lock_piece : 0),
        .disc_front = a->disc_front,
        .disc_rear = a->disc_rear,
        .fallback_s = a->fallback,
        .mode = mode_of(m, a),
        .dead_time = a->dead_time,
        .lag = a->lag,
        .gain = 1 + m->cfg->control.gain_error,
        .bias = a->bias / n,
        .motor_limit = a->limit / n,
        .balance_sheet_pct = 100 * a->sheet_front / (a->sheet_front + a->sheet_rear),
        .effort_ratio = a->inertia_force / (a->sheet_front + a->sheet_rear),
    };
    m->sink->zone(m->sink->ctx, &out);
}

/* Pedal below the off pressure: a zone falls, a rise comes to nothing. */
static void below(sim *m, zone_tracker *z)
{
    const double t = m->now.t;
    z->above = 0;
    if (z->phase == RISING) z->phase = IDLE;
    if (z->phase == RISING_AGAIN) z->phase = CLOSED;
    if (z->phase == OPEN) {
        keep(m, z, z->last_pedal, m->now.pedal_front_bar, OFF_BAR);
        z->phase = FALLING;
    }
    if (z->phase == FALLING && t - z->kept.t1 >= OFF_TIME) z->phase = CLOSED;
    if (z->phase == CLOSED && t - z->kept.t1 >= MERGE_GAP) emit(m, z);
    z->stopped = false;
}

static void above(sim *m, zone_tracker *z)
{
    const plant_state *p = &m->now;
    if (z->stopped) return;
    if (z->phase == IDLE) {
        begin(m, z);
        z->phase = RISING;
    }
    if (z->phase == FALLING) z->phase = OPEN;
    if (z->phase == CLOSED) z->phase = RISING_AGAIN;
    const bool pressed = p->pedal_front_bar > ON_BAR && p->v > MIN_SPEED;
    z->above = pressed ? z->above + m->dt : 0;
    if (z->above >= ON_TIME && (z->phase == RISING || z->phase == RISING_AGAIN)) z->phase = OPEN;
    if (z->phase != OPEN) return;
    if (p->v >= STAND) {
        z->stood = 0;
        return;
    }
    if (z->stood <= 0) keep(m, z, z->last_v, p->v, STAND);
    z->stood += m->dt;
    if (z->stood >= STAND_TIME) {
        emit(m, z);
        z->stopped = true;
    }
}

void plant_zones_step(sim *m)
{
    zone_tracker *z = m->zones;
    if (m->now.pedal_front_bar >= OFF_BAR)
        above(m, z);
    else
        below(m, z);
    if (z->phase != IDLE) add(m, z);
    z->last_pedal = m->now.pedal_front_bar;
    z->last_v = m->now.v;
}

void plant_zones_end(sim *m)
{
    zone_tracker *z = m->zones;
    if (z->phase == OPEN) keep(m, z, z->last_pedal, z->last_pedal, OFF_BAR);
    if (z->phase != IDLE && z->phase != RISING) emit(m, z);
}

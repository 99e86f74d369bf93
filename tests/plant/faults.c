/* The schedule of faults: when each begins and ends, what it does to the car in this step,
 * and the true event it leaves behind.  Wheel locks are events too, found from the true slip. */
#include "sim.h"

#include <math.h>

#define LOCK_MIN_TIME  0.05
#define LOCK_MIN_SPEED 5.0

static const char *const words[] = {
#define X(id, word) word,
    PLANT_FAULT_LIST(X)
#undef X
};

static bool begins(const sim *m, const plant_fault *f)
{
    if (f->kind == PLANT_FAULT_MISSED || f->kind == PLANT_FAULT_EXTRA) return false; /* driver's */
    if (f->lap <= 0) return m->t >= f->start;
    if (f->corner <= 0) return m->lap >= f->lap && m->t >= f->delay;
    const driver_state *d = &m->driver;
    if (d->brake_start < 0 || m->t < d->brake_start + f->delay) return false;
    return d->brake_lap > f->lap || (d->brake_lap == f->lap && d->brake_corner >= f->corner);
}

static bool ends(const sim *m, const plant_fault *f, const fault_run *r)
{
    return m->t >= r->t_on + f->duration || (f->end_lap > 0 && m->lap >= f->end_lap);
}

static void emit(const sim *m, const plant_fault *f, const fault_run *r)
{
    if (!m->sink->event) return;
    const bool by_wheel = f->kind == PLANT_FAULT_LEFT_RIGHT || f->kind == PLANT_FAULT_GRIP ||
                          f->kind == PLANT_FAULT_DRAG;
    const bool flagged =
        f->kind == PLANT_FAULT_FALSE_FLAG ||
        (f->kind == PLANT_FAULT_FALLBACK && f->flagged && r->t_off > r->t_on + f->flag_delay);
    const plant_event e = {
        .kind = f->kind == PLANT_FAULT_FALLBACK && !flagged ? "silent-fallback" : words[f->kind],
        .start = r->t_on,
        .end = r->t_off,
        .flagged = flagged,
        .flag_start = !flagged                            ? NAN
                      : f->kind == PLANT_FAULT_FALSE_FLAG ? r->t_on
                                                          : r->t_on + f->flag_delay,
        .lap = r->lap,
        .corner = r->corner,
        .wheel = by_wheel ? f->wheel : -1,
        .value = f->value,
    };
    m->sink->event(m->sink->ctx, &e);
}

static void apply(effects *fx, const plant_fault *f, const fault_run *r, double t)
{
    const double ramp = f->ramp > 0 ? plant_clamp((t - r->t_on) / f->ramp, 0, 1) : 1;
    switch (f->kind) {
    case PLANT_FAULT_FALLBACK:
        fx->fallback = true;
        if (f->value != 0) fx->motor_stays = true;
        if (f->flagged && t >= r->t_on + f->flag_delay) fx->flag = true;
        break;
    case PLANT_FAULT_FALSE_FLAG:
        fx->flag = true;
        break;
    case PLANT_FAULT_MOTOR_LOSS:
        fx->motor_lost = true;
        break;
    case PLANT_FAULT_MOTOR_OFF:
        fx->motor_off = true;
        break;
    case PLANT_FAULT_ACTUATOR_SLOW:
        fx->dead_time += ramp * f->value;
        fx->lag += ramp * f->value2;
        break;
    case PLANT_FAULT_ACTUATOR_STALL:
        fx->stall = true;
        break;
    case PLANT_FAULT_LEFT_RIGHT:
        fx->caliper[f->wheel] *= 1 + ramp * (f->value - 1);
        break;
    case PLANT_FAULT_DRAG:
        fx->drag_bar[f->wheel / 2] = f->value * ramp;
        break;
    case PLANT_FAULT_GRIP:
        fx->grip[f->wheel] *= f->value;
        break;
    case PLANT_FAULT_PEDAL_LIFT:
        fx->pedal *= f->value;
        break;
    case PLANT_FAULT_ABS:
        fx->abs_depth = f->value;
        fx->abs_hz = f->value2;
        break;
    case PLANT_FAULT_BIAS:
        fx->bias += f->value;
        break;
    case PLANT_FAULT_MOTOR_LIMIT:
        fx->motor *= 1 + ramp * (f->value - 1);
        break;
    default:
        break; /* the driver's and the sensors' own */
    }
}

void plant_faults_step(sim *m)
{
    m->fx = (effects){.caliper = {1, 1, 1, 1}, .grip = {1, 1, 1, 1}, .pedal = 1, .motor = 1};
    for (int i = 0; i < m->cfg->faults; i++) {
        const plant_fault *f = &m->cfg->fault[i];
        fault_run *r = &m->fault[i];
        if (r->done) continue;
        if (!r->active && begins(m, f)) {
            *r = (fault_run){.active = true, .t_on = m->t, .frozen = NAN, .stamp = NAN};
            r->lap = m->lap;
            r->corner = m->driver.target + 1;
        }
        if (r->active && ends(m, f, r)) {
            r->active = false;
            r->done = true;
            r->t_off = m->t;
            emit(m, f, r);
        }
        if (r->active) apply(&m->fx, f, r, m->t);
    }
}

void plant_fault_once(sim *m, int i)
{
    fault_run *r = &m->fault[i];
    if (r->done) return;
    *r = (fault_run){.done = true, .t_on = m->t, .t_off = m->t, .lap = m->lap};
    r->corner = m->driver.target + 1;
    emit(m, &m->cfg->fault[i], r);
}

static void emit_lock(const sim *m, int w, double end)
{
    const lock_run *l = &m->lock[w];
    if (!m->sink->event || !l->on || end - l->start < LOCK_MIN_TIME) return;
    const plant_event e = {.kind = "wheel-lock",
                           .start = l->start,
                           .end = end,
                           .flag_start = NAN,
                           .lap = m->now.lap,
                           .corner = m->now.corner,
                           .wheel = w,
                           .value = m->cfg->slip_limit};
    m->sink->event(m->sink->ctx, &e);
}

void plant_locks_step(sim *m)
{
    for (int w = 0; w < 4; w++) {
        const bool on = m->now.slip[w] > m->cfg->slip_limit && m->now.v > LOCK_MIN_SPEED;
        if (on && !m->lock[w].on) m->lock[w] = (lock_run){.start = m->t, .on = true};
        if (!on && m->lock[w].on) {
            emit_lock(m, w, m->t);
            m->lock[w].on = false;
        }
    }
}

void plant_faults_end(sim *m)
{
    for (int w = 0; w < 4; w++) emit_lock(m, w, m->t);
    for (int i = 0; i < m->cfg->faults; i++) {
        if (!m->fault[i].active) continue;
        m->fault[i].t_off = m->t;
        emit(m, &m->cfg->fault[i], &m->fault[i]);
    }
}

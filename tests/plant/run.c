/* Wires the parts: one physics step after the other, a log row whenever one is due. */
#include "sim.h"

#include <math.h>
#include <stdlib.h>

#define UNEVEN_SPREAD 0.4
#define COAST_OUT     1.0 /* s driven on after the last lap or stop */

enum { STREAM_DRIVER = 1, STREAM_CONTROL, STREAM_SENSORS, STREAM_STEPS };

static bool possible(const plant_config *g)
{
    const plant_track *tr = &g->track;
    if (!(g->rate > 0) || !(g->fine_rate >= 1000) || g->fine_rate > 16000) return false;
    if (!(g->car.mass > 0) || g->faults < 0 || g->faults > PLANT_FAULTS_MAX) return false;
    if (tr->stops > PLANT_STOPS_MAX || tr->corners > PLANT_CORNERS_MAX) return false;
    if (tr->stops > 0) return true;
    if (tr->corners < 1 || g->laps < 1) return false;
    for (int i = 0; i < tr->corners; i++) {
        const double before = i ? tr->corner[i - 1].apex : 0;
        if (!(tr->corner[i].apex > before && tr->corner[i].apex < tr->lap_length)) return false;
    }
    return true;
}

static void observe(sim *m)
{
    plant_state *p = &m->now;
    p->t = m->t;
    p->v = m->chassis.v;
    p->s = m->chassis.s;
    for (int w = 0; w < 4; w++) {
        const double radius = m->cfg->car.radius[w / 2] * m->cfg->deviation.radius[w / 2];
        p->omega[w] = m->chassis.omega[w];
        p->slip[w] = p->v > 1 ? (p->v - p->omega[w] * radius) / p->v : 0;
        p->disc[w] = m->chassis.disc[w];
    }
    p->lap = m->lap;
    p->lap_distance = p->s - m->lap_start;
    p->corner = m->driver.extra ? m->driver.extra_id : m->driver.target + 1;
    p->fallback = m->fx.fallback;
    p->flag = m->fx.flag;
    p->bias = plant_clamp(m->cfg->driver.bias + m->fx.bias, 0.2, 0.8);
    p->pedal_front_bar = 2 * p->bias * m->driver.smooth_bar;
    p->pedal_rear_bar = 2 * (1 - p->bias) * m->driver.smooth_bar;
}

static void count_laps(sim *m)
{
    const plant_track *tr = &m->cfg->track;
    if (tr->stops > 0) return;
    while (m->chassis.s - m->lap_start >= tr->lap_length) {
        m->lap_start += tr->lap_length;
        m->lap++;
    }
    if (m->lap > m->cfg->laps) m->over = true;
}

static void step(sim *m)
{
    plant_faults_step(m);
    plant_driver_step(m);
    observe(m);
    plant_rear_step(m);
    plant_chassis_torques(m);
    plant_chassis_step(m); /* moves the chassis on; `now` stays at t */
    plant_battery_step(m);
    m->now.volts = m->rear.volts;
    m->now.amps = m->rear.amps;
    m->now.charge = m->rear.charge;
    plant_zones_step(m);
    plant_locks_step(m);
    if (m->sink->step) m->sink->step(m->sink->ctx, &m->now);
}

/* Curvature and position are wanted at logged rows only. */
static void log_row(sim *m)
{
    plant_row row;
    double curvature;
    plant_track_at(m, m->now.lap_distance, &curvature, &m->now.latitude, &m->now.longitude);
    m->now.accel_lat = m->now.v * m->now.v * curvature;
    if (plant_sensors_row(m, &row) && m->sink->row) m->sink->row(m->sink->ctx, &row);
}

static double next_due(sim *m, uint64_t rows, double due)
{
    if (!m->cfg->uneven) return (double)rows / m->cfg->rate;
    const double u = 2 * plant_random_uniform(&m->step_random) - 1;
    return due + (1 + UNEVEN_SPREAD * u) / m->cfg->rate;
}

static void run(sim *m)
{
    double due = 0, last = -1;
    uint64_t rows = 0;
    for (m->n = 0;; m->n++) {
        m->t = (double)m->n / m->cfg->fine_rate;
        step(m);
        if (m->t >= due - 0.5 * m->dt) {
            log_row(m);
            due = next_due(m, ++rows, due);
        }
        count_laps(m);
        if (m->over && last < 0) last = m->t;
        if ((last >= 0 && m->t >= last + COAST_OUT) || m->t >= m->cfg->time_limit) break;
    }
}

static void init(sim *m, const plant_config *cfg, const plant_sink *sink)
{
    m->own = *cfg;
    if (m->own.fine_rate < m->own.rate) m->own.fine_rate = m->own.rate;
    if (m->own.uneven && m->own.fine_rate < 4 * m->own.rate) m->own.fine_rate = 4 * m->own.rate;
    m->cfg = &m->own;
    m->sink = sink;
    m->dt = 1 / m->own.fine_rate;
    m->lap = 1;
    plant_random_init(&m->driver_random, cfg->seed, STREAM_DRIVER);
    plant_random_init(&m->control_random, cfg->seed, STREAM_CONTROL);
    plant_random_init(&m->sensor_random, cfg->seed, STREAM_SENSORS);
    plant_random_init(&m->step_random, cfg->seed, STREAM_STEPS);
    for (int ch = 0; ch < PLANT_CHANNELS; ch++) m->held[ch] = NAN;
    m->fx = (effects){.caliper = {1, 1, 1, 1}, .grip = {1, 1, 1, 1}, .pedal = 1, .motor = 1};
    plant_track_shape(m);
    plant_rear_init(m);
    plant_chassis_init(m);
    plant_driver_init(m);
}

int plant_run(const plant_config *cfg, const plant_sink *sink)
{
    if (!possible(cfg)) return -1;
    sim *m = calloc(1, sizeof *m);
    if (!m) return -1;
    m->zones = plant_zones_new();
    m->rear.delay = calloc(PLANT_DELAY_MAX, sizeof *m->rear.delay);
    m->rear.wire_delay = calloc(PLANT_DELAY_MAX, sizeof *m->rear.wire_delay);
    const bool ready = m->zones && m->rear.delay && m->rear.wire_delay;
    if (ready) {
        init(m, cfg, sink);
        run(m);
        plant_zones_end(m);
        plant_faults_end(m);
        m->ledger.kinetic = plant_kinetic(m) - m->kinetic0;
        if (sink->ledger) sink->ledger(sink->ctx, &m->ledger);
    }
    free(m->rear.delay);
    free(m->rear.wire_delay);
    plant_zones_free(m->zones);
    free(m);
    return ready ? 0 : -1;
}

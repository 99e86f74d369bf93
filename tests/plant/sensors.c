/* What the logger sees of the truth: offset, noise, gain, quantisation, blanks at slower rates,
 * and the faults of sensors and of the clock. */
#include "sim.h"

#include <math.h>

static void true_values(const sim *m, double *x)
{
    const plant_state *p = &m->now;
    const plant_car *c = &m->cfg->car;
    const double even = p->pedal_front_bar / (2 * p->bias); /* pedal pressure at even bias */
    const double bend = p->v > 1 ? p->accel_lat / (p->v * p->v) * PLANT_TRACK_HALF : 0;
    x[PLANT_TIME] = p->t;
    x[PLANT_SPEED] = p->v;
    for (int w = 0; w < 4; w++) {
        const double side = w % 2 == 0 ? -bend : bend; /* to the left the left wheels are inside */
        x[PLANT_WHEEL_FL + w] = p->omega[w] * c->radius[w / 2] * (1 + side);
        x[PLANT_LINE_FL + w] = p->line_bar[w];
        x[PLANT_DISC_FL + w] = p->disc[w];
    }
    x[PLANT_PEDAL_FRONT] = p->pedal_front_bar;
    x[PLANT_PEDAL_REAR] = p->pedal_rear_bar;
    x[PLANT_PEDAL_TRAVEL] = 9 * (1 - exp(-even / 5)) + 0.22 * even;
    x[PLANT_PEDAL_FORCE] = 9.5 * even;
    x[PLANT_LINE_FRONT] = m->rear.line_front;
    x[PLANT_LINE_REAR] = p->line_rear_bar;
    x[PLANT_LINE_REQUEST] = p->line_request_bar;
    x[PLANT_MOTOR_TORQUE] = p->motor_torque;
    x[PLANT_MOTOR_REQUEST] = p->motor_request;
    x[PLANT_MOTOR_SPEED] = 0.5 * (p->omega[2] + p->omega[3]) * c->motor_ratio * 30 / PLANT_PI;
    x[PLANT_BATTERY_VOLTAGE] = p->volts;
    x[PLANT_BATTERY_CURRENT] = p->amps;
    x[PLANT_BYWIRE_STATE] = p->flag ? 1 : 0;
    x[PLANT_BIAS_SETTING] = 100 * p->bias;
    x[PLANT_ACCEL_LONG] = p->a;
    x[PLANT_ACCEL_LAT] = p->accel_lat;
    x[PLANT_LAP] = p->lap;
    x[PLANT_LAP_DISTANCE] = p->lap_distance;
    x[PLANT_LATITUDE] = p->latitude;
    x[PLANT_LONGITUDE] = p->longitude;
    x[PLANT_AMBIENT] = c->ambient;
}

/* Noise is drawn for every row, so that one channel's fault leaves the others as they were. */
static double sense(sim *m, int ch, double x)
{
    const plant_sensor *s = &m->cfg->sensor[ch];
    double y = x * (1 + s->gain_error) + s->offset;
    if (s->sigma > 0) y += s->sigma * plant_random_normal(&m->sensor_random);
    if (s->quantum > 0) y = floor(y / s->quantum + 0.5) * s->quantum;
    if (!(s->period > 0)) return y;
    if (m->t >= m->next_sample[ch] - 1e-9) {
        while (m->next_sample[ch] <= m->t + 1e-9) m->next_sample[ch] += s->period;
        m->held[ch] = y;
        return y;
    }
    return s->hold ? m->held[ch] : NAN;
}

static void sensor_faults(sim *m, double *y)
{
    for (int i = 0; i < m->cfg->faults; i++) {
        const plant_fault *f = &m->cfg->fault[i];
        fault_run *r = &m->fault[i];
        if (!r->active || f->channel <= 0 || f->channel >= PLANT_CHANNELS) continue;
        double *v = &y[f->channel];
        if (f->kind == PLANT_FAULT_SENSOR_GAP) *v = NAN;
        if (f->kind == PLANT_FAULT_SENSOR_OFFSET)
            *v += f->value * (f->ramp > 0 ? plant_clamp((m->t - r->t_on) / f->ramp, 0, 1) : 1);
        if (f->kind == PLANT_FAULT_SENSOR_STUCK) {
            if (isnan(r->frozen)) r->frozen = *v;
            if (!isnan(*v)) *v = r->frozen;
        }
    }
}

static bool clock_faults(sim *m, double *stamp)
{
    for (int i = 0; i < m->cfg->faults; i++) {
        const plant_fault *f = &m->cfg->fault[i];
        if (!m->fault[i].active) continue;
        if (f->kind == PLANT_FAULT_TIME_HOLE) return false;
        if (f->kind == PLANT_FAULT_TIME_BACK) *stamp -= f->value;
        if (f->kind == PLANT_FAULT_TIME_REPEAT) *stamp = m->last_stamp;
    }
    m->last_stamp = *stamp;
    return true;
}

bool plant_sensors_row(sim *m, plant_row *row)
{
    double x[PLANT_CHANNELS] = {0};
    true_values(m, x);
    row->truth = &m->now;
    for (int ch = 0; ch < PLANT_CHANNELS; ch++) row->value[ch] = sense(m, ch, x[ch]);
    sensor_faults(m, row->value);
    return clock_faults(m, &row->value[PLANT_TIME]);
}

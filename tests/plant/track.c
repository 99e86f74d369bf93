/* The shape of the closed track: curvature around each corner, headings and positions
 * from it by integration, for positions by satellite and for the lateral acceleration.
 * The corners' angles are scaled so that they make one full turn; what then misses
 * closing is spread evenly over the lap, which bends the straights a little. */
#include "sim.h"

#include <math.h>

#define EARTH_RADIUS   6371000.0
#define CORNER_LATERAL 11.0 /* m/s2 at the apex, sets how long a corner is */

static void add_corner(sim *m, const plant_corner *c, double angle)
{
    const double length = m->cfg->track.lap_length;
    const double step = length / PLANT_TRACK_N;
    const double arc = plant_clamp(2 * fabs(angle) * c->speed * c->speed / CORNER_LATERAL, 20, 260);
    for (int i = 0; i < PLANT_TRACK_N; i++) {
        double d = i * step - c->apex;
        d -= length * floor(d / length + 0.5);
        if (fabs(d) < 0.5 * arc)
            m->track_curve[i] += angle / arc * (1 + cos(2 * PLANT_PI * d / arc));
    }
}

void plant_track_shape(sim *m)
{
    const plant_track *tr = &m->cfg->track;
    double total = 0;
    for (int i = 0; i < tr->corners; i++) total += tr->corner[i].angle;
    const double scale = fabs(total) > 1 ? 360.0 / fabs(total) : 1;
    for (int i = 0; i < tr->corners; i++)
        add_corner(m, &tr->corner[i], tr->corner[i].angle * scale * PLANT_PI / 180);
    m->track_curve[PLANT_TRACK_N] = m->track_curve[0];

    const double step = tr->lap_length / PLANT_TRACK_N;
    double heading = 0;
    for (int i = 0; i < PLANT_TRACK_N; i++) {
        heading += 0.5 * m->track_curve[i] * step;
        m->track_x[i + 1] = m->track_x[i] + step * cos(heading);
        m->track_y[i + 1] = m->track_y[i] + step * sin(heading);
        heading += 0.5 * m->track_curve[i] * step;
    }
    const double miss_x = m->track_x[PLANT_TRACK_N], miss_y = m->track_y[PLANT_TRACK_N];
    for (int i = 0; i <= PLANT_TRACK_N; i++) {
        m->track_x[i] -= miss_x * i / PLANT_TRACK_N;
        m->track_y[i] -= miss_y * i / PLANT_TRACK_N;
    }
}

void plant_track_at(const sim *m, double lap_distance, double *curvature, double *latitude,
                    double *longitude)
{
    const plant_track *tr = &m->cfg->track;
    double x = 0, y = 0;
    *curvature = 0;
    if (tr->stops > 0) { /* up and down the runway */
        const double runway = 1800, there = fmod(lap_distance, 2 * runway);
        x = there < runway ? there : 2 * runway - there;
    } else {
        const double where = lap_distance / tr->lap_length * PLANT_TRACK_N;
        int i = (int)floor(where);
        i = i < 0 ? 0 : i >= PLANT_TRACK_N ? PLANT_TRACK_N - 1 : i;
        const double f = where - i;
        x = m->track_x[i] + f * (m->track_x[i + 1] - m->track_x[i]);
        y = m->track_y[i] + f * (m->track_y[i + 1] - m->track_y[i]);
        *curvature = m->track_curve[i] + f * (m->track_curve[i + 1] - m->track_curve[i]);
    }
    const double degree = 180 / PLANT_PI / EARTH_RADIUS;
    *latitude = tr->latitude + y * degree;
    *longitude = tr->longitude + x * degree / cos(tr->latitude * PLANT_PI / 180);
}

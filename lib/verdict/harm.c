/* What a fallback did: see harm.h (METHODS 8). */
#include "verdict/harm.h"

#include <math.h>

#define GONE    0.05 /* of the demand: less is no motor braking */
#define BRAKES  0.10 /* of the demand: more is */
#define PRESSED 5e5  /* Pa of pedal; how a line ends its release tells nothing of its ratio */
#define MOVED   1e5  /* Pa, standard deviation of a pedal that moved, well above noise */
#define ALONG   0.5  /* of the slope that a bypass has */

static size_t range_of(const bt_zone *row)
{
    const double at = row->pedal_peak / BT_HARM_RANGE;
    return at < BT_HARM_RANGES ? (size_t)at : BT_HARM_RANGES - 1;
}

static double energy_of(const bt_zone *row, const bt_car *car)
{
    return car->bywire_axle == BT_FRONT ? row->energy_front : row->energy_rear;
}

/* What the brakes of both axles and the motor have worked. */
static double work_of(const bt_zone *row)
{
    return row->energy_front + row->energy_rear +
           (isnan(row->energy_motor) ? 0 : row->energy_motor);
}

static bool comparable(const bt_zone *row, const bt_car *car)
{
    return row->pedal_peak >= 0 && !isnan(row->balance + energy_of(row, car)) && work_of(row) > 0;
}

void bt_harm_learn(bt_harm_before *before, const bt_zone *row, const bt_car *car)
{
    if (!isnan(row->motor + row->demand)) {
        before->motor += row->motor;
        before->demand += row->demand;
    }
    if (!comparable(row, car)) return;
    const size_t r = range_of(row);
    before->n[r]++;
    before->balance[r] += row->balance;
    before->energy[r] += energy_of(row, car);
    before->work[r] += work_of(row);
}

void bt_harm_add(bt_harm *harm, const bt_harm_sample *s)
{
    harm->time += s->dt;
    if (s->pedal >= PRESSED && !isnan(s->line)) {
        harm->both += s->dt;
        harm->line += s->dt * s->line;
        harm->pedal += s->dt * s->pedal;
        harm->line_pedal += s->dt * s->line * s->pedal;
        harm->pedal_square += s->dt * s->pedal * s->pedal;
    }
    if (isnan(s->demand + s->delivered)) return;
    harm->known += s->dt;
    harm->demand += s->dt * s->demand;
    harm->missed += s->dt * (s->demand - s->delivered);
    harm->motor += s->dt * s->motor;
}

void bt_harm_zone(bt_harm *harm, const bt_harm_before *before, const bt_zone *row,
                  const bt_car *car)
{
    if (!comparable(row, car)) return;
    const size_t r = range_of(row);
    if (before->n[r] == 0) return;
    harm->zones++;
    harm->shift += row->balance - before->balance[r] / (double)before->n[r];
    harm->energy += energy_of(row, car);
    harm->energy_was += work_of(row) * before->energy[r] / before->work[r];
}

bool bt_harm_stood(const bt_harm *h, double ratio)
{
    const double moved = h->pedal_square * h->both - h->pedal * h->pedal;
    return moved > MOVED * MOVED * h->both * h->both &&
           h->line_pedal * h->both - h->line * h->pedal < ALONG * ratio * moved;
}

double bt_harm_ratio(const bt_harm *harm)
{
    return harm->pedal_square > 0 ? harm->line_pedal / harm->pedal_square : NAN;
}

double bt_harm_missed(const bt_harm *harm)
{
    return harm->known > 0 ? harm->missed / harm->known : NAN;
}

static void say_motor(const bt_harm *harm, const bt_harm_before *before, bt_event *event)
{
    if (!(before->motor > BRAKES * before->demand)) return; /* it never braked here */
    if (harm->motor < GONE * harm->demand)
        bt_event_say(event, "motor gone");
    else if (harm->motor > BRAKES * harm->demand)
        bt_event_say(event, "motor brakes on");
}

void bt_harm_say(const bt_harm *harm, const bt_harm_before *before, const bt_car *car,
                 bt_event *event)
{
    say_motor(harm, before, event);
    const double demand = harm->demand / harm->known, missed = bt_harm_missed(harm);
    if (missed >= 0)
        bt_event_say(event, "%.0f N·m of %.0f N·m demand missed", missed, demand);
    else if (missed < 0)
        bt_event_say(event, "%.0f N·m above %.0f N·m demand", -missed, demand);
    if (harm->zones == 0) return;
    bt_event_say(event, "balance %+.1f pp", 100 * harm->shift / (double)harm->zones);
    if (harm->energy_was > 0)
        bt_event_say(event, "%s friction energy %+.0f %%",
                     car->bywire_axle == BT_FRONT ? "front" : "rear",
                     100 * (harm->energy / harm->energy_was - 1));
}

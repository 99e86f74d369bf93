/* The whole line, from a log to zone rows, against published drive cycles and stopping distances.  Logs
 * are written from the published tables; figures come back through bt_analyse().
 *
 * How near: on an even grid with a window that holds three samples the smoothing is exact (a quadratic
 * through three points), so that the speed is the log's and the slope its central difference.  What the
 * segmentation rule makes of that follows in closed form; only the printing of the log (1e-6 km/h)
 * and what is said at each check is left as tolerance. */
#include "tests/reference/cycle.h"
#include "tests/reference/support.h"

/* ---- the European cycle ---- */

/* zone_on_decel: below the gentlest falling part, 0.52 m/s2.  zone_off_decel: below half of the gentlest
 * piece, 0.4167. */
#define OFF_DECEL 0.2
#define STAND     0.5 /* m/s, a stop ends there */
#define CYCLE_CAR                                                                                  \
    "quantity,value,unit\nzone_on_decel,0.4,m/s2\nzone_off_decel,0.2,m/s2\nzone_min_speed,3,m/s\n"

/* At a corner the central difference is half the slope of the piece: it passes `off` between the corner
 * and the sample outside, where it is 0. */
static double outside(double piece_slope, double step)
{
    return step * (1 - OFF_DECEL / (piece_slope / 2));
}

START_TEST(the_nedc_has_its_eighteen_zones_with_exact_times_and_decelerations) /* CHECKS 8.1 */
{
    static const double rates[] = {1, 10};
    const double step = 1 / rates[_i];
    const trace c = nedc();
    fall falls[CORNERS];
    ck_assert_uint_eq(trace_falls(&c, falls), NEDC_ZONES);
    ref_file log = ref_open();
    fputs("time,speed [km/h]\n", log.f);
    for (int i = 0; i <= 1180 * (int)rates[_i]; i++)
        fprintf(log.f, "%.1f,%.6f\n", i * step, trace_at(&c, i * step));
    bt_result r = ref_analyse(&log, CYCLE_CAR, NULL, 0);
    char figure[80];
    snprintf(figure, sizeof figure, "NEDC at %g Hz: braking zones", rates[_i]);
    REF_HELD(figure, NEDC, "second", NEDC_ZONES, (double)r.n_zones, 0);
    double start = 0, end = 0, published = 0, entry = 0, mean = 0, dist = 0, peak = 0, length = 0;
    for (size_t k = 0; k < NEDC_ZONES; k++) {
        const bt_zone *z = &r.zones[k];
        const size_t a = falls[k].first, b = falls[k].last;
        const double v0 = c.v[a] * REF_KMH, v1 = fmax(c.v[b + 1] * REF_KMH, 0);
        const bool stop = v1 < STAND;
        const double lead = outside(slope(&c, a), step);
        const double tail = stop ? -STAND / slope(&c, b) : outside(slope(&c, b), step);
        const double from = c.t[a] - lead, to = c.t[b + 1] + tail, last = stop ? STAND : v1;
        const double s = trace_distance(&c, to) - trace_distance(&c, from);
        double steepest = 0;
        for (size_t i = a; i <= b; i++) steepest = fmax(steepest, slope(&c, i));
        ref_worst(&start, from, z->start);
        ref_worst(&end, to, z->start + z->duration);
        ref_worst(&published, c.t[a], z->start);
        ref_worst(&entry, v0, z->entry);
        ref_worst(&mean, (v0 - last) / (to - from), z->decel_mean);
        ref_worst(&dist, (v0 * v0 - last * last) / (2 * s), z->decel_dist);
        ref_worst(&length, s, z->distance);
        ref_worst(&peak, steepest, z->decel_peak);
    }
    REF_HELD("- start against the table, largest difference, s", NEDC, "second", 0, published,
             step);
    REF_HELD("- start by the rule in closed form, s", NEDC, "derived", 0, start, 1e-4);
    REF_HELD("- end by the rule (stops: at 0.5 m/s), s", NEDC, "derived", 0, end, 1e-4);
    REF_HELD("- entry speed, m/s", NEDC, "second", 0, entry, 1e-4);
    REF_HELD("- mean deceleration, m/s2", NEDC, "derived", 0, mean, 1e-4);
    /* Between samples the distance is taken along a straight line: a step^2 / 8 at most, of 10 m or more. */
    const double bow = 1.389 * step * step / 8;
    REF_HELD("- deceleration by distance, m/s2", NEDC, "derived", 0, dist, bow / 10 + 1e-4);
    REF_HELD("- distance, m", NEDC, "derived", 0, length, bow + 1e-4);
    REF_HELD("- peak deceleration (1.388889 in the last), m/s2", NEDC, "derived", 0, peak, 1e-4);
    REF_HELD("- duration of the log, s", NEDC, "second", 1180, r.run.duration, 1e-6);
    const bt_zone *z = &r.zones[NEDC_ZONES - 1];
    /* What is left behind the last zone is 0.5 m/s to nothing at 1.388889 m/s2. */
    REF_HELD("- distance of the whole cycle, m", NEDC, "derived", 11013.1944,
             z->start_dist + z->distance + 0.125 / 1.388889, bow + 1e-3);
    bt_result_clear(&r);
}
END_TEST

START_TEST(at_one_metre_a_second_squared_only_the_end_of_the_last_stop_is_left) /* CHECKS 8.1 */
{
    const trace c = nedc();
    ref_file log = ref_open();
    fputs("time,speed [km/h]\n", log.f);
    for (int i = 0; i <= 11800; i++) fprintf(log.f, "%.1f,%.6f\n", i * 0.1, trace_at(&c, i * 0.1));
    bt_result r = ref_analyse(
        &log, "quantity,value,unit\nzone_on_decel,1,m/s2\nzone_off_decel,1,m/s2\n", NULL, 0);
    REF_HELD("NEDC, threshold 1 m/s2: zones", NEDC, "derived", 1, (double)r.n_zones, 0);
    REF_HELD("- its start (last 18 s of the stop), s", NEDC, "derived", 1142, r.zones[0].start,
             0.1);
    bt_result_clear(&r);
}
END_TEST

/* ---- 1 Hz schedules ---- */

enum { SAMPLES = 2000, ZONES = 64 };
static const struct {
    const char *cycle, *table, *header, *source;
    double unit; /* m/s */
} cycles[] = {
    {"wltc_class3b", "wltc_class3b_1hz", "time,speed [km/h]\n", "UN GTR 15 Annex 1, class 3b",
     1 / 3.6},
    {"udds", "udds_1hz", "time,speed [mph]\n", "40 CFR 86 App. I, UDDS", 0.44704},
    {"us06", "us06_1hz", "time,speed [mph]\n", "40 CFR 86 App. I, US06", 0.44704},
    {"hwfet", "hwfet_1hz", "time,speed [mph]\n", "40 CFR 600 App. I, HWFET", 0.44704},
};
enum { CYCLES = sizeof cycles / sizeof *cycles };

/* Speeds of a schedule in its own unit, one a second. */
static size_t schedule(const char *table, double v[SAMPLES])
{
    ref_row row;
    FILE *f = ref_table(table);
    size_t n = 0;
    while (n < SAMPLES && ref_next(f, &row)) v[n++] = ref_number(&row, 1);
    fclose(f);
    return n;
}

typedef struct {
    double start, end, v0, v1, distance, mean, by_distance; /* s, m/s, m, m/s2 */
} published_zone;

static size_t published(const char *cycle, published_zone z[ZONES])
{
    ref_row row;
    FILE *f = ref_table("cycle_braking_zones");
    size_t n = 0;
    while (ref_next(f, &row)) {
        if (strcmp(row.field[0], cycle) != 0) continue;
        ck_assert_uint_lt(n, ZONES);
        z[n++] = (published_zone){ref_number(&row, 2),
                                  ref_number(&row, 3),
                                  ref_number(&row, 4) * REF_KMH,
                                  ref_number(&row, 5) * REF_KMH,
                                  ref_number(&row, 7),
                                  ref_number(&row, 8),
                                  ref_number(&row, 9)};
    }
    fclose(f);
    return n;
}

static double summary(const char *cycle, int field)
{
    ref_row row;
    FILE *f = ref_table("cycle_summary");
    double x = NAN;
    while (ref_next(f, &row))
        if (strcmp(row.field[0], cycle) == 0) x = ref_number(&row, field);
    fclose(f);
    return x;
}

/* A zone that goes below 0.5 m/s, cut short where the speed passes it, along the straight line of that
 * second. */
static void cut_short(published_zone *z, const double *v, double unit)
{
    z->distance = 0;
    for (size_t i = (size_t)z->start;; i++) {
        const double a = v[i] * unit, b = v[i + 1] * unit;
        if (b >= STAND) {
            z->distance += (a + b) / 2;
            continue;
        }
        const double part = (a - STAND) / (a - b);
        z->distance += part * (a + STAND) / 2;
        z->end = (double)i + part;
        break;
    }
    z->v1 = STAND;
    z->mean = (z->v0 - STAND) / (z->end - z->start);
    z->by_distance = (z->v0 * z->v0 - STAND * STAND) / (2 * z->distance);
}

/* The schedule ten times a second along straight lines, with a pedal at 10 bar while the speed falls.  At
 * both ends of a falling part it is at 1.5 bar (zone_off) exactly, so that the rule dates the zone to
 * the published seconds.  A stop ends where the speed passes 0.5 m/s: there the published figures are
 * cut short the same way, along the last straight line. */
START_TEST(zones_of_the_1hz_schedules_have_the_published_figures) /* CHECKS 8.2 */
{
    static double v[SAMPLES];
    static published_zone want[ZONES];
    const size_t n = schedule(cycles[_i].table, v), zones = published(cycles[_i].cycle, want);
    const double unit = cycles[_i].unit;
    ref_file log = ref_open();
    fprintf(log.f, "pedal_front [bar],%s", cycles[_i].header);
    for (size_t i = 0; i < n; i++) {
        const bool falls = i + 1 < n && v[i + 1]<v[i], fell = i> 0 && v[i] < v[i - 1];
        fprintf(log.f, "%g,%zu,%.6f\n", falls && fell ? 10 : falls || fell ? 1.5 : 0.0, i, v[i]);
        for (int k = 1; k < 10 && i + 1 < n; k++)
            fprintf(log.f, "%d,%zu.%d,%.6f\n", falls ? 10 : 0, i, k,
                    v[i] + (v[i + 1] - v[i]) * 0.1 * k);
    }
    bt_result r = ref_analyse(
        &log, "quantity,value,unit\nzone_min_speed,0.6,m/s\nzone_min_drop,0.5,m/s\n", NULL, 0);
    double edges = 0, speeds = 0, mean = 0, by_distance = 0, length = 0, found = 0, others = 0;
    for (size_t k = 0, next = 0; k < r.n_zones; k++) {
        const bt_zone *z = &r.zones[k];
        if (next == zones || fabs(z->start - want[next].start) > 0.5) {
            others += !(z->entry - z->exit < 5 * REF_KMH); /* their rule: a drop of 5 km/h */
            continue;
        }
        published_zone w = want[next++];
        found++;
        if (w.v1 < STAND) cut_short(&w, v, unit);
        ref_worst(&edges, w.start, z->start);
        ref_worst(&edges, w.end, z->start + z->duration);
        ref_worst(&speeds, w.v0, z->entry);
        ref_worst(&speeds, w.v1, z->exit);
        ref_worst(&mean, w.mean, z->decel_mean);
        ref_worst(&by_distance, w.by_distance, z->decel_dist);
        ref_worst(&length, w.distance, z->distance);
    }
    char figure[80];
    snprintf(figure, sizeof figure, "%s: zones with a drop of 5 km/h", cycles[_i].cycle);
    REF_HELD(figure, cycles[_i].source, "second", (double)zones, found, 0);
    REF_HELD("- zones of such a drop beyond them", cycles[_i].source, "second", 0, others, 0);
    REF_HELD("- start and end, largest difference, s", cycles[_i].source, "second", 0, edges, 1e-3);
    REF_HELD("- entry and exit speed, m/s", cycles[_i].source, "second", 0, speeds, 1e-3);
    REF_HELD("- mean deceleration, m/s2", cycles[_i].source, "second", 0, mean, 1e-3);
    REF_HELD("- deceleration by distance, m/s2", cycles[_i].source, "second", 0, by_distance, 1e-3);
    REF_HELD("- distance, m", cycles[_i].source, "second", 0, length, 1e-2);
    bt_result_clear(&r);
}
END_TEST

/* The raw schedule, without any pedal: zones by deceleration with `on` and `off` below one step of the
 * table (0.0139 and 0.0224 m/s2 of the central difference).  Ours are theirs, but that the central
 * difference does not see a single second of rest between two falls, nor one of rise that is smaller
 * than the falls around it: such falls are one zone, as a driver means them. */
START_TEST(raw_1hz_schedules_are_cut_into_the_published_zones) /* CHECKS 8.2 */
{
    static double v[SAMPLES];
    static published_zone want[ZONES];
    const size_t n = schedule(cycles[_i].table, v), zones = published(cycles[_i].cycle, want);
    const double unit = cycles[_i].unit;
    ref_file log = ref_open();
    fputs(cycles[_i].header, log.f);
    for (size_t i = 0; i < n; i++) fprintf(log.f, "%zu,%.1f\n", i, v[i]);
    bt_result r =
        ref_analyse(&log,
                    "quantity,value,unit\nzone_on_decel,0.01,m/s2\nzone_off_decel,0.005,m/s2\n"
                    "zone_min_speed,0.6,m/s\nzone_min_drop,0.8,m/s\n",
                    NULL, 0);
    double covered = 0, empty = 0, rest = 0;
    for (size_t i = 0; i < zones; i++) {
        size_t over = 0, meets = 0;
        if (want[i].v1 < STAND) cut_short(&want[i], v, unit);
        for (size_t k = 0; k < r.n_zones; k++) {
            const double start = r.zones[k].start, end = start + r.zones[k].duration;
            meets += start < want[i].end - 0.5 && end > want[i].start + 0.5;
            over += start <= want[i].start + 1 && end >= want[i].end - 1;
        }
        covered += over == 1 && meets == 1;
    }
    for (size_t k = 0; k < r.n_zones; k++) {
        const bt_zone *z = &r.zones[k];
        const double end = z->start + z->duration;
        size_t in = 0;
        for (size_t i = 0; i < zones; i++)
            in += want[i].start < end - 0.5 && want[i].end > z->start + 0.5;
        double largest = 0; /* fall of one run inside, m/s */
        double run = 0;
        for (size_t i = (size_t)z->start; i + 1 < n && (double)i < end; i++) {
            run = v[i + 1] < v[i] ? run + (v[i] - v[i + 1]) * unit : 0;
            largest = fmax(largest, run);
        }
        empty += in == 0 && largest >= 5 * REF_KMH;
        /* No second inside at which the speed rises over both its neighbours' steps. */
        for (size_t i = (size_t)ceil(z->start) + 1; i + 1 < n && (double)i + 1 < end; i++)
            rest += v[i + 1] > v[i - 1];
    }
    char figure[80];
    snprintf(figure, sizeof figure, "%s, raw at 1 Hz: published zones inside one of ours",
             cycles[_i].cycle);
    REF_HELD(figure, cycles[_i].source, "second", (double)zones, covered, 0);
    REF_HELD("- zones of ours with a fall of 5 km/h that they do not have", cycles[_i].source,
             "second", 0, empty, 0);
    REF_HELD("- seconds in them at which the speed rises", cycles[_i].source, "second", 0, rest, 0);
    REF_HELD("- duration, s", cycles[_i].source, "second", summary(cycles[_i].cycle, 2),
             r.run.duration, 1e-6);
    const bt_zone *z = &r.zones[r.n_zones - 1];
    double total = z->start_dist, t = z->start;
    for (size_t i = 0; i + 1 < n; i++) { /* from the last zone's start to the end, by trapezoids */
        if ((double)i + 1 <= t) continue;
        const double part = fmax(t, (double)i) - (double)i, at = v[i] + (v[i + 1] - v[i]) * part;
        total += 0.5 * (at + v[i + 1]) * unit * (1 - part);
    }
    REF_HELD("- distance up to the last zone, with the published rest, m", cycles[_i].source,
             "second", summary(cycles[_i].cycle, 3), total, 0.05);
    bt_result_clear(&r);
}
END_TEST

/* ---- stops ---- */

#define STOP_CAR "quantity,value,unit\ngrip_limit,3,g\n"
enum { STOP_RATE = 200 };

/* A stop: at v0 for 2 s, then the pedal goes down; speed at t seconds behind that from `speed`. */
typedef double (*stop_speed)(double t, const double *p);

static bt_result stop_log(stop_speed speed, const double *p, double time, const char *unit,
                          double in_unit, double nominal)
{
    ref_file log = ref_open();
    fprintf(log.f, "time,speed [%s],pedal_front [bar]\n", unit);
    for (int i = -2 * STOP_RATE; i <= (int)((time + 1) * STOP_RATE); i++) {
        const double t = (double)i / STOP_RATE;
        fprintf(log.f, "%.4f,%.9f,%g\n", t + 2, speed(fmax(t, 0), p) / in_unit,
                i < 0    ? 0.0
                : i == 0 ? 1.5
                         : 40); /* zone_off exactly at the control movement */
    }
    return ref_analyse(&log, STOP_CAR, NULL, nominal);
}

/* p = v0, delay, deceleration. */
static double delayed(double t, const double *p)
{
    return fmax(0, p[0] - p[2] * fmax(0, t - p[1]));
}

/* The share by which the smoothed speed reads low at the corner where a deceleration begins at once: a
 * least-squares quadratic over +-h takes 3 h a / 32 off (h = 0.1 s, half the window).  A driver's rise
 * is slower; the stops here have none. */
static double corner(double decel, double v0)
{
    return 3 * 0.1 * decel / 32 / v0;
}

static const double constants[][2] = {{100, 6.43}, {120, 9.5}, {250, 14.7}}; /* km/h, m/s2 */

START_TEST(constant_stops_have_their_mfdd) /* CHECKS 1.1; 14.7 m/s2 needs a grip_limit beyond 1.5 */
{
    const double p[] = {constants[_i][0] * REF_KMH, 0, constants[_i][1]};
    bt_result r = stop_log(delayed, p, p[0] / p[2], "km/h", REF_KMH, 0);
    char figure[80];
    ck_assert_uint_eq(r.n_zones, 1);
    snprintf(figure, sizeof figure, "MFDD, constant, from %g km/h, m/s2", constants[_i][0]);
    REF_HELD(figure, "UN R13 Annex 4, 1.1.2; R13-H Annex 3", "text", p[2], r.zones[0].mfdd,
             1e-3 * p[2]);
    bt_result_clear(&r);
}
END_TEST

static double two_level(double t, const double *p)
{
    const double knee = (p[0] - 45 * REF_KMH) / 4;
    return t < knee ? p[0] - 4 * t : fmax(0, 45 * REF_KMH - 8 * (t - knee));
}
static double exponential(double t, const double *p)
{
    return p[0] * exp(-t / 3);
}
/* 0.2 s dead time, 0.3 s rise to 8 m/s2. */
static double risen(double t, const double *p)
{
    const double u = t - 0.2, jerk = 8 / 0.3;
    return u < 0 ? p[0] : u < 0.3 ? p[0] - jerk * u * u / 2 : fmax(0, p[0] - 1.2 - 8 * (u - 0.3));
}

START_TEST(mfdd_is_the_mean_over_distance_of_uneven_stops) /* CHECKS 1.1 */
{
    static const char source[] = "UN R13 Annex 4, 1.1.2";
    const double p[] = {100 * REF_KMH};
    bt_result r = stop_log(two_level, p, 6, "km/h", REF_KMH, 0);
    REF_HELD("MFDD, 4 then 8 m/s2 from 45 km/h, m/s2", source, "derived", 4.721311, r.zones[0].mfdd,
             5e-3);
    bt_result_clear(&r);
    r = stop_log(exponential, p, 13, "km/h", REF_KMH, 0);
    /* In proportion to the speed at the control. */
    REF_HELD("MFDD, exponential of 3 s, m/s2", source, "derived", 4.166667, r.zones[0].mfdd,
             4.166667 * corner(p[0] / 3, p[0]) + 1e-3);
    bt_result_clear(&r);
    r = stop_log(risen, p, 3.9, "km/h", REF_KMH, 0);
    const bt_zone *z = &r.zones[0];
    REF_HELD("MFDD, dead time and rise before 8 m/s2, m/s2", source, "derived", 8, z->mfdd, 8e-3);
    /* The zone ends at 0.5 m/s; from there 0.5^2 / 2 / 8 m and 0.0625 s are left. */
    REF_HELD("- its stopping distance, m", source, "derived", 57.917531, z->stop + 0.125 / 8, 0.03);
    REF_HELD("- its duration, s", source, "derived", 3.822222, z->duration + 0.5 / 8, 5e-3);
    /* A corner every 0.3 s under a window of 0.2 s: its slope is a mean over 0.2 s, 26.67 in the middle. */
    REF_HELD("- its jerk in the rise, m/s3", source, "derived", 26.666667, z->jerk, 0.03 * 26.67);
    bt_result_clear(&r);
}
END_TEST

/* S = a v + b v^2: a delay of 3.6 a at the control, then 1 / (25.92 b). */
START_TEST(stops_of_the_braking_rules_have_the_prescribed_distance) /* CHECKS 1.2, 2 */
{
    ref_row row;
    FILE *f = ref_table("regulation_stopping_formulas");
    while (ref_next(f, &row)) {
        const double v0 = ref_number(&row, 2) * REF_KMH, decel = 1 / (25.92 * ref_number(&row, 4));
        const double p[] = {v0, 3.6 * ref_number(&row, 3), decel};
        bt_result r = stop_log(delayed, p, p[1] + v0 / decel, "km/h", REF_KMH, 0);
        char figure[160];
        const char *sure = row.field[9][0] == 't'   ? "text"
                           : row.field[9][0] == 's' ? "second"
                                                    : "memory";
        ck_assert_uint_eq(r.n_zones, 1);
        snprintf(figure, sizeof figure, "stop, %s, m", row.field[1]);
        /* The last 0.5 m/s are not in the zone. */
        REF_HELD(figure, row.field[0], sure, ref_number(&row, 5), r.zones[0].stop + 0.125 / decel,
                 1e-3 * ref_number(&row, 5));
        snprintf(figure, sizeof figure, "- its MFDD, m/s2");
        REF_HELD(figure, row.field[0], sure, ref_number(&row, 6), r.zones[0].mfdd, 1e-3 * decel);
        if (row.field[7][0]) /* printed with one or two decimals */
            REF_HELD("- and as printed, m/s2", row.field[0], sure, ref_number(&row, 7),
                     r.zones[0].mfdd, strlen(row.field[7]) < 4 ? 0.05 : 0.005);
        bt_result_clear(&r);
    }
    fclose(f);
}
END_TEST

/* Braking from the printed speed over the printed distance: the deceleration by distance. */
START_TEST(printed_stopping_distances_give_the_printed_decelerations) /* CHECKS 1.4 */
{
    ref_row row;
    FILE *f = ref_table("stopping_distance_tables");
    while (ref_next(f, &row)) {
        const bool miles = strcmp(row.field[2], "mile/h") == 0,
                   feet = strcmp(row.field[6], "ft") == 0;
        const double unit = miles ? 0.44704 : REF_KMH, v0 = ref_number(&row, 1) * unit;
        const double s = ref_number(&row, 4) * (feet ? 0.3048 : 1), decel = v0 * v0 / (2 * s);
        const double p[] = {v0, 0, decel};
        bt_result r = stop_log(delayed, p, v0 / decel, miles ? "mph" : "km/h", unit, 0);
        char figure[120];
        const char *sure = strncmp(row.field[0], "StrabVO", 7) == 0           ? "text"
                           : strncmp(row.field[0], "AASHTO", 6) == 0 && !feet ? "memory"
                                                                              : "second";
        ck_assert_uint_eq(r.n_zones, 1);
        snprintf(figure, sizeof figure, "deceleration of %s %s in %s %s, m/s2", row.field[1],
                 row.field[2], row.field[4], row.field[6]);
        REF_HELD(figure, row.field[0], sure, ref_number(&row, 8), r.zones[0].decel_dist,
                 (2 * corner(decel, v0) + 5e-4) * decel);
        if (row.field[0][0] == 'S' && ref_number(&row, 9) == 1) /* printed to 0.01 and consistent */
            REF_HELD("- and as printed, m/s2", row.field[0], sure, ref_number(&row, 7),
                     r.zones[0].decel_dist, 0.005 + 2 * corner(decel, v0) * decel);
        bt_result_clear(&r);
    }
    fclose(f);
}
END_TEST

/* Stops of the measured distance, corrected.  Of the two published forms the tool takes that of SAE J299;
 * that of FMVSS 122 and GTR 3 (70.035429, 42.644630 m) keeps a reaction part out of the square. */
START_TEST(stops_are_corrected_to_the_nominal_speed) /* CHECKS 3 */
{
    static const double rows[][3] = {{72.00, 101.5, 69.887646}, {41.30, 98.2, 42.827929}};
    const double v0 = rows[_i][1] * REF_KMH, decel = v0 * v0 / (2 * rows[_i][0]),
                 p[] = {v0, 0, decel};
    bt_result r = stop_log(delayed, p, v0 / decel, "km/h", REF_KMH, 100 * REF_KMH);
    char figure[80];
    snprintf(figure, sizeof figure, "%.2f m from %g km/h, corrected to 100 km/h, m", rows[_i][0],
             rows[_i][1]);
    ck_assert_uint_eq(r.n_zones, 1);
    /* What the end at 0.5 m/s leaves out is corrected along. */
    const double rest = 0.125 / decel * pow(100 / rows[_i][1], 2);
    REF_HELD(figure, "SAE J299", "memory", rows[_i][2], r.zones[0].stop_nominal + rest,
             (2 * corner(decel, v0) + 5e-4) * rows[_i][2]);
    bt_result_clear(&r);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("reference: cycles and stops");
    TCase *t = tcase_create("cycles");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, the_nedc_has_its_eighteen_zones_with_exact_times_and_decelerations, 0,
                        2);
    tcase_add_test(t, at_one_metre_a_second_squared_only_the_end_of_the_last_stop_is_left);
    tcase_add_loop_test(t, zones_of_the_1hz_schedules_have_the_published_figures, 0, CYCLES);
    tcase_add_loop_test(t, raw_1hz_schedules_are_cut_into_the_published_zones, 0, CYCLES);
    suite_add_tcase(s, t);
    t = tcase_create("stops");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, constant_stops_have_their_mfdd, 0, 3);
    tcase_add_test(t, mfdd_is_the_mean_over_distance_of_uneven_stops);
    tcase_add_test(t, stops_of_the_braking_rules_have_the_prescribed_distance);
    tcase_add_test(t, printed_stopping_distances_give_the_printed_decelerations);
    tcase_add_loop_test(t, stops_are_corrected_to_the_nominal_speed, 0, 2);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)

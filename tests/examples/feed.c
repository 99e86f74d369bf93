/* Samples of one's own acquisition, without a log: each zone is told as soon as it is over. */
#include <braketally.h>
#include <stdio.h>

static bt_status tell(void *user, const bt_zone *zone, bt_error *err)
{
    (void)user, (void)err;
    printf("zone %.0f: %.1f m/s to %.1f m/s, %.2f m/s2, pedal %.0f bar\n", zone->zone, zone->entry,
           zone->exit, zone->decel_mean, zone->pedal_peak / 1e5);
    return BT_OK;
}

/* Stands for the acquisition: every 10 s the car slows from 40 m/s to 16 m/s in 3 s. */
static void acquire(int i, double row[3])
{
    const double t = 0.01 * i, within = 0.01 * (i % 1000);
    row[0] = t;
    row[1] = within < 4 ? 40 : within < 7 ? 40 - 8 * (within - 4) : 16 + 8 * (within - 7);
    row[2] = within >= 4 && within < 7 ? 60 : 0;
}

int main(void)
{
    static const char *const columns[] = {"time [s]", "speed [m/s]", "pedal_front [bar]"};
    const bt_setup setup = {.zone = tell};
    bt_error err = {0};
    bt_feed *feed;
    bt_status status = bt_feed_new(&feed, "bench", columns, 3, &setup, &err);
    for (int i = 0; i < 3000 && status == BT_OK; i++) {
        double row[3];
        acquire(i, row);
        status = bt_feed_push(feed, row, 1, &err);
    }
    if (status == BT_OK) {
        bt_result result;
        status = bt_feed_end(feed, &result, &err);
        printf("%.0f zones, %.2f m/s2 at most\n", result.run.zones, result.run.decel_peak);
        bt_result_clear(&result);
    }
    bt_feed_free(feed);
    if (status != BT_OK) fprintf(stderr, "%s\n", err.message);
    return status != BT_OK;
}

/* Digests: is a row of the day sheet still that of its log, and was it made with the same car, map and
 * options?  They guard against change, not against malice.  Public: bt_digest_* in braketally.h. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <zlib.h>

#include "base/error.h"
#include "samples/car.h"
#include "samples/map.h"

static void write_digest(char digest[BT_LABEL_MAX], uLong sum)
{
    snprintf(digest, BT_LABEL_MAX, "c%08lx", sum & 0xffffffffUL);
}

bt_status bt_digest_log(const char *path, char digest[BT_LABEL_MAX], bt_error *err)
{
    unsigned char bytes[65536];
    uLong sum = crc32(0, NULL, 0);
    digest[0] = '\0';
    errno = 0;
    FILE *f = fopen(path, "rb");
    for (size_t n; f && (n = fread(bytes, 1, sizeof bytes, f)) > 0;)
        sum = crc32(sum, bytes, (uInt)n);
    const bool good = f && !ferror(f);
    const int number = errno;
    if (f) fclose(f);
    if (!good) return bt_at(err, bt_fail(err, BT_READ, "%s", strerror(number)), path, 0, 0);
    write_digest(digest, sum);
    return BT_OK;
}

/* ---- all but the log ---- */

static uLong add_word(uLong sum, uint64_t word)
{
    unsigned char bytes[8];
    for (int i = 0; i < 8; i++) bytes[i] = (unsigned char)(word >> 8 * i); /* on any machine */
    return crc32(sum, bytes, sizeof bytes);
}

static uLong add_number(uLong sum, double x)
{
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    return add_word(sum, isnan(x) ? UINT64_MAX : bits); /* there are many ways to write NaN */
}

static uLong add_text(uLong sum, const char *text)
{
    return crc32(sum, (const Bytef *)text, (uInt)strlen(text) + 1);
}

static uLong add_car(uLong sum, const bt_car *car)
{
    for (unsigned i = 0; i < BT_CAR_COUNT; i++)
        sum = add_number(add_number(sum, car->value[i]), car->u[i]);
    sum = add_word(add_word(sum, car->motor_axle), car->bywire_axle);
    for (size_t i = 0; i < car->curve_n; i++)
        sum = add_number(add_number(sum, car->curve_pedal[i]), car->curve_torque[i]);
    return sum;
}

static uLong add_map(uLong sum, const bt_map *map)
{
    for (size_t i = 0; i < map->n; i++) {
        const bt_map_row *row = &map->row[i];
        sum = add_text(add_text(add_text(sum, row->channel), row->column), row->unit);
        sum = add_number(add_number(add_number(sum, row->scale), row->offset), row->tolerance);
    }
    return sum;
}

void bt_digest_setup(const bt_setup *setup, char digest[BT_LABEL_MAX])
{
    uLong sum = add_text(crc32(0, NULL, 0), BT_VERSION);
    sum = add_number(add_word(sum, setup->layout), setup->rate);
    if (setup->car) sum = add_car(sum, setup->car);
    if (setup->map) sum = add_map(sum, setup->map);
    write_digest(digest, sum);
}

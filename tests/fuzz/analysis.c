/* Fuzz target: the whole analysis of any bytes as a log.
 *
 * The first byte chooses what is known beside the log; the rest is the log, read once as it is and once
 * as gzip: times rise, zones follow each other within the log, and both ways tell the same.  The
 * bytes as they are may be gzip too. */
#include <zlib.h>

#include "result.h"

/* The bytes as one gzip member; the caller's to free. */
static unsigned char *packed(const uint8_t *bytes, size_t n, size_t *size)
{
    z_stream z = {.next_in = (Bytef *)(uintptr_t)bytes, .avail_in = (uInt)n};
    must(deflateInit2(&z, 1, Z_DEFLATED, 16 + 10, 1, Z_DEFAULT_STRATEGY) == Z_OK);
    const uLong room = deflateBound(&z, (uLong)n);
    unsigned char *out = malloc(room);
    must(out);
    z.next_out = out;
    z.avail_out = (uInt)room;
    must(deflate(&z, Z_FINISH) == Z_STREAM_END);
    *size = z.total_out;
    deflateEnd(&z);
    return out;
}

static bt_status analyse(const char *path, bt_setup setup, watcher *w, bt_result *r, bt_error *err)
{
    *w = (watcher){.hash = UINT64_C(14695981039346656037)};
    must(bt_sketch_new(&w->sketch, setup.car, NULL) == BT_OK);
    setup.trace = watch_sample;
    setup.zone = watch_zone;
    setup.user = w;
    const bt_status status = bt_analyse(path, &setup, r, err);
    must_explain(status, err);
    check_result(r, w);
    return status;
}

static bool same_text(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static scratch plain, zipped;
    static bt_car *car;
    if (n == 0) return 0;
    if (!car) car = full_car();
    const bt_setup setup = {.car = data[0] & 1 ? NULL : car,
                            .rate = data[0] & 2 ? 50 : 0,
                            .nominal = data[0] & 4 ? 100 / 3.6 : 0,
                            .layout = (bt_layout)((data[0] >> 3 & 3) % 3),
                            .threads = 1};
    watcher one, two;
    bt_result r, s;
    bt_error err = {0}, other = {0};
    scratch_fill(&plain, data + 1, n - 1);
    const bt_status status = analyse(plain.path, setup, &one, &r, &err);
    if (data[0] & 32) { /* they take longer than all the rest */
        check_page(&r, &one, setup.car);
        check_tables(&r);
    }

    /* What begins like gzip would be unpacked once more only if it is not packed here. */
    const bool is_gzip = n > 2 && data[1] == 0x1f && data[2] == 0x8b;
    if (!is_gzip) {
        size_t size;
        unsigned char *bytes = packed(data + 1, n - 1, &size);
        scratch_fill(&zipped, bytes, size);
        free(bytes);
        must(analyse(zipped.path, setup, &two, &s, &other) == status);
        must(one.hash == two.hash && one.samples == two.samples);
        must(r.n_zones == s.n_zones && r.n_events == s.n_events && r.run.flags == s.run.flags);
        must(same_text(err.message, other.message) && err.line == other.line);
        for (size_t i = 0; i < r.n_events; i++)
            must(same_text(r.events[i].reason, s.events[i].reason));
        bt_sketch_free(two.sketch);
        bt_result_clear(&s);
    }
    bt_sketch_free(one.sketch);
    bt_result_clear(&r);
    return 0;
}

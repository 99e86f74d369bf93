/* Sources: see source.h.  The gzip format is RFC 1952.  zlib's inflate is driven here
 * rather than gzread, because gzread passes junk behind the last member in silence
 * and tells a member cut short only by its error text. */
#include "rows/source.h"

#include "base/error.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

enum { STORED_SIZE = 256 * 1024 };

typedef enum {
    START, /* nothing read yet: plain or gzip? */
    PLAIN,
    MEMBER,  /* inside a gzip member */
    BETWEEN, /* behind one: another member, zero bytes or the end */
    PADDING, /* zero bytes behind the last member */
    FINISHED
} state;

struct bt_source {
    char *path; /* for messages */
    int fd;     /* -1 = memory */
    const unsigned char *memory;
    size_t memory_left, chunk;
    state state;
    bool stored_end, truncated;
    bool inflating; /* `z` needs inflateEnd */
    bt_error fault; /* kept, so that later calls give it again */
    z_stream z;     /* next_in, avail_in: what is stored and not taken yet */
    atomic_uint_fast64_t done;
    uint64_t total;
    unsigned char stored[STORED_SIZE];
};

static bt_status fail_errno(bt_source *s, const char *what, int number)
{
    char text[128];
    if (strerror_r(number, text, sizeof text) != 0) text[0] = '\0';
    bt_fail(&s->fault, BT_READ, "%s: %s", what, text);
    return bt_at(&s->fault, BT_READ, s->path, 0, 0);
}

static bt_status source_new(bt_source **out, const char *path, bt_error *err)
{
    bt_source *s = calloc(1, sizeof *s);
    char *copy = s ? malloc(strlen(path) + 1) : NULL;
    if (!copy) {
        free(s);
        return bt_fail(err, BT_NOMEM, "no memory to read %s", path);
    }
    s->path = strcpy(copy, path);
    s->fd = -1;
    *out = s;
    return BT_OK;
}

static bt_status open_file(bt_source *s)
{
    const bool standard = strcmp(s->path, "-") == 0;
    do {
        s->fd = standard ? STDIN_FILENO : open(s->path, O_RDONLY | O_CLOEXEC);
    } while (s->fd < 0 && errno == EINTR);
    if (s->fd < 0) return fail_errno(s, "cannot open", errno);
    struct stat st;
    if (fstat(s->fd, &st) != 0) return fail_errno(s, "cannot read", errno);
    if (S_ISDIR(st.st_mode)) return fail_errno(s, "cannot read", EISDIR);
    if (S_ISREG(st.st_mode) && st.st_size > 0) s->total = (uint64_t)st.st_size;
    return BT_OK;
}

bt_status bt_source_open(bt_source **out, const char *path, bt_error *err)
{
    *out = NULL;
    bt_source *s;
    BT_TRY(source_new(&s, path, err));
    if (open_file(s) != BT_OK) {
        bt_fail(err, s->fault.status, "%s", s->fault.message);
        const bt_status status = bt_at(err, s->fault.status, path, 0, 0);
        bt_source_free(s);
        return status;
    }
    *out = s;
    return BT_OK;
}

bt_status bt_source_memory(bt_source **out, const void *bytes, size_t n, size_t chunk,
                           bt_error *err)
{
    *out = NULL;
    bt_source *s;
    BT_TRY(source_new(&s, "", err));
    s->memory = bytes;
    s->memory_left = n;
    s->chunk = chunk;
    s->total = n;
    *out = s;
    return BT_OK;
}

/* Up to cap stored bytes to buf; 0 = the end.  *n is set even on failure. */
static bt_status read_stored(bt_source *s, unsigned char *buf, size_t cap, size_t *n)
{
    *n = 0;
    if (s->stored_end) return BT_OK;
    if (s->fd < 0) {
        *n = s->memory_left < cap ? s->memory_left : cap;
        if (s->chunk > 0 && *n > s->chunk) *n = s->chunk;
        if (*n > 0) { /* the memory of nothing may be NULL */
            memcpy(buf, s->memory, *n);
            s->memory += *n;
            s->memory_left -= *n;
        }
    } else {
        ssize_t got;
        do {
            got = read(s->fd, buf, cap);
        } while (got < 0 && errno == EINTR);
        if (got < 0) return fail_errno(s, "cannot read", errno);
        *n = (size_t)got;
    }
    s->stored_end = *n == 0;
    atomic_fetch_add_explicit(&s->done, *n, memory_order_relaxed);
    return BT_OK;
}

/* At least `need` bytes at z.next_in unless the file ends before. */
static bt_status fill(bt_source *s, size_t need)
{
    while (s->z.avail_in < need && !s->stored_end) {
        if (s->z.avail_in == 0)
            s->z.next_in = s->stored;
        else if (s->z.next_in != s->stored) /* a few bytes at most: need is small */
            s->z.next_in = memmove(s->stored, s->z.next_in, s->z.avail_in);
        size_t n;
        BT_TRY(read_stored(s, s->stored + s->z.avail_in, STORED_SIZE - s->z.avail_in, &n));
        s->z.avail_in += (uInt)n;
    }
    return BT_OK;
}

static uint64_t stored_offset(const bt_source *s)
{
    return atomic_load_explicit(&s->done, memory_order_relaxed) - s->z.avail_in;
}

static bt_status start_member(bt_source *s)
{
    const int window_of_gzip = MAX_WBITS + 16;
    const int z = s->inflating ? inflateReset(&s->z) : inflateInit2(&s->z, window_of_gzip);
    if (z != Z_OK) return bt_fail(&s->fault, BT_NOMEM, "no memory to inflate");
    s->inflating = true;
    s->state = MEMBER;
    return BT_OK;
}

/* The state that the next stored bytes call for.  The two bytes 1f 8b are no text in
 * any encoding that we read. */
static bt_status look(bt_source *s)
{
    BT_TRY(fill(s, 2));
    const unsigned char *p = s->z.next_in;
    const bool gzip = s->z.avail_in >= 2 && p[0] == 0x1f && p[1] == 0x8b;
    if (s->z.avail_in == 0) {
        s->state = FINISHED;
    } else if (gzip && s->state != PADDING) {
        return start_member(s);
    } else if (s->state == START) {
        s->state = PLAIN;
    } else if (p[0] == 0) {
        s->state = PADDING;
        s->z.next_in++;
        s->z.avail_in--;
    } else if (s->z.avail_in == 1 && p[0] == 0x1f && s->state == BETWEEN) {
        s->truncated = true;
        s->state = FINISHED;
    } else {
        bt_fail(&s->fault, BT_READ,
                "expected the end of the gzip file behind byte %llu, found more",
                (unsigned long long)stored_offset(s));
        return bt_at(&s->fault, BT_READ, s->path, 0, 0);
    }
    return BT_OK;
}

static bt_status read_plain(bt_source *s, unsigned char *buf, size_t cap, size_t *n)
{
    if (s->z.avail_in > 0) {
        *n = s->z.avail_in < cap ? s->z.avail_in : cap;
        memcpy(buf, s->z.next_in, *n);
        s->z.next_in += *n;
        s->z.avail_in -= (uInt)*n;
        return BT_OK;
    }
    BT_TRY(read_stored(s, buf, cap, n));
    if (*n == 0) s->state = FINISHED;
    return BT_OK;
}

static bt_status read_member(bt_source *s, unsigned char *buf, size_t cap, size_t *n)
{
    const bt_status status = fill(s, 1);
    const uInt room = cap < UINT32_MAX ? (uInt)cap : UINT32_MAX;
    s->z.next_out = buf;
    s->z.avail_out = room;
    /* With no input left this still gives what the window holds. */
    const int z = inflate(&s->z, Z_NO_FLUSH);
    *n = room - s->z.avail_out;
    if (z == Z_STREAM_END) {
        s->state = BETWEEN;
    } else if (z == Z_OK || z == Z_BUF_ERROR) {
        if (status != BT_OK) return status;
        if (*n == 0 && s->z.avail_in == 0 && s->stored_end) {
            s->truncated = true;
            s->state = FINISHED;
        }
    } else if (z == Z_MEM_ERROR) {
        return bt_fail(&s->fault, BT_NOMEM, "no memory to inflate");
    } else {
        bt_fail(&s->fault, BT_READ, "damaged gzip near byte %llu: %s",
                (unsigned long long)stored_offset(s), s->z.msg ? s->z.msg : "no gzip");
        return bt_at(&s->fault, BT_READ, s->path, 0, 0);
    }
    return BT_OK;
}

bt_status bt_source_read(bt_source *s, void *buf, size_t cap, size_t *n, bt_error *err)
{
    assert(cap > 0);
    *n = 0;
    while (*n == 0 && s->state != FINISHED && s->fault.status == BT_OK) {
        bt_status ignored; /* kept in s->fault, told when the good bytes are gone */
        if (s->state == PLAIN)
            ignored = read_plain(s, buf, cap, n);
        else if (s->state == MEMBER)
            ignored = read_member(s, buf, cap, n);
        else
            ignored = look(s);
        (void)ignored;
    }
    if (*n > 0 || s->fault.status == BT_OK) return BT_OK;
    bt_fail(err, s->fault.status, "%s", s->fault.message);
    return bt_at(err, s->fault.status, s->path, 0, 0);
}

bool bt_source_truncated(const bt_source *s)
{
    return s->truncated;
}

void bt_source_progress(const bt_source *s, uint64_t *done, uint64_t *total)
{
    *done = atomic_load_explicit(&((bt_source *)s)->done, memory_order_relaxed);
    *total = s->total;
}

void bt_source_free(bt_source *s)
{
    if (!s) return;
    if (s->inflating) inflateEnd(&s->z);
    if (s->fd >= 0 && strcmp(s->path, "-") != 0) close(s->fd);
    free(s->path);
    free(s);
}

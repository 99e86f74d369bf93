/* Is what comes down a pipe a saved table or a log?  Its first bytes tell, and are put back: a thread copies
 * them and the rest into a new pipe, which takes the place of the old one. */
#include "cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { HEAD = 65536 };

typedef struct {
    int from, to;
    size_t n;
    char bytes[HEAD];
} pump;

/* The file descriptor that the path stands for; -1 if it is another kind of path. */
static int descriptor_of(const char *path)
{
    static const char folder[] = "/dev/fd/";
    if (strcmp(path, "-") == 0 || strcmp(path, "/dev/stdin") == 0) return 0;
    if (strncmp(path, folder, sizeof folder - 1) != 0) return -1;
    char *end;
    const long fd = strtol(path + sizeof folder - 1, &end, 10);
    return *end == '\0' && fd >= 0 && fd < 1 << 20 ? (int)fd : -1;
}

static bool write_all(int fd, const char *bytes, size_t n)
{
    while (n > 0) {
        const ssize_t put = write(fd, bytes, n);
        if (put < 0 && errno != EINTR) return false;
        if (put < 0) continue;
        bytes += put;
        n -= (size_t)put;
    }
    return true;
}

/* Up to HEAD bytes, fewer at the end only. */
static size_t read_head(int fd, char *bytes)
{
    size_t n = 0;
    while (n < HEAD) {
        const ssize_t got = read(fd, bytes + n, HEAD - n);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) break;
        n += (size_t)got;
    }
    return n;
}

static void *copy_rest(void *user)
{
    pump *p = user;
    while (p->n > 0 && write_all(p->to, p->bytes, p->n)) p->n = read_head(p->from, p->bytes);
    close(p->to);
    close(p->from);
    free(p);
    return NULL;
}

/* A pipe whose reading end is fd, into which a thread copies; false if the system gives none. */
static bool put_back(int fd, pump *p)
{
    int ends[2];
    pthread_t thread;
    if (pipe(ends) != 0) return false;
    p->from = dup(fd);
    p->to = ends[1];
    const bool good =
        p->from >= 0 && dup2(ends[0], fd) >= 0 && pthread_create(&thread, NULL, copy_rest, p) == 0;
    close(ends[0]);
    if (good) pthread_detach(thread);
    return good;
}

/* A file that was redirected can be read again from where it stands. */
static bool look_into(int fd, bool *saved)
{
    pump *p = malloc(sizeof *p);
    if (!p) return false;
    const off_t at = lseek(fd, 0, SEEK_CUR);
    p->n = read_head(fd, p->bytes);
    *saved = bt_zones_saved_head(p->bytes, p->n);
    if (at < 0 && put_back(fd, p)) return true;
    free(p);
    return at >= 0 && lseek(fd, at, SEEK_SET) == at;
}

bool stream_saved(const char *path)
{
    struct stat there;
    bool saved = true;
    const int fd = descriptor_of(path);
    if (fd < 0) return bt_zones_saved(path);
    if (fstat(fd, &there) != 0) return strcmp(path, "-") == 0;
    if (!look_into(fd, &saved)) say("%s: cannot look into the stream", path_label(path));
    return saved;
}

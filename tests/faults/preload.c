/* Calls that fail under the program, to be preloaded (LD_PRELOAD; the C library has to be glibc).
 *
 *   FAULT_ALLOC=N    allocation number N gives nothing, from 1; with FAULT_ALL=1 those behind it neither
 *   FAULT_CALL=NAME  mkstemp, fchmod, fsync or rename fails with EIO
 *   FAULT_MISSED=F   F is made at the end if there were fewer than N allocations */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

void *__libc_malloc(size_t n);
void *__libc_calloc(size_t count, size_t n);
void *__libc_realloc(void *old, size_t n);

static atomic_long asked;
static long wanted;
static int all;

__attribute__((constructor)) static void begin(void)
{
    const char *n = getenv("FAULT_ALLOC");
    all = getenv("FAULT_ALL") != NULL;
    asked = 0;
    wanted = n ? strtol(n, NULL, 10) : 0;
}

__attribute__((destructor)) static void end(void)
{
    const char *missed = getenv("FAULT_MISSED");
    if (wanted && missed && asked < wanted) close(open(missed, O_CREAT | O_WRONLY, 0600));
}

static int refused(void)
{
    if (!wanted) return 0;
    const long n = ++asked;
    if (n != wanted && !(all && n > wanted)) return 0;
    errno = ENOMEM;
    return 1;
}

void *malloc(size_t n)
{
    return refused() ? NULL : __libc_malloc(n);
}

void *calloc(size_t count, size_t n)
{
    return refused() ? NULL : __libc_calloc(count, n);
}

void *realloc(void *old, size_t n)
{
    return refused() ? NULL : __libc_realloc(old, n);
}

static int fails(const char *call)
{
    const char *which = getenv("FAULT_CALL");
    if (!which || strcmp(which, call) != 0) return 0;
    errno = EIO;
    return 1;
}

int mkstemp(char *path)
{
    int (*next)(char *) = (int (*)(char *))dlsym(RTLD_NEXT, "mkstemp");
    return fails("mkstemp") ? -1 : next(path);
}

int fchmod(int fd, mode_t mode)
{
    int (*next)(int, mode_t) = (int (*)(int, mode_t))dlsym(RTLD_NEXT, "fchmod");
    return fails("fchmod") ? -1 : next(fd, mode);
}

int fsync(int fd)
{
    int (*next)(int) = (int (*)(int))dlsym(RTLD_NEXT, "fsync");
    return fails("fsync") ? -1 : next(fd);
}

int rename(const char *from, const char *to)
{
    int (*next)(const char *, const char *) =
        (int (*)(const char *, const char *))dlsym(RTLD_NEXT, "rename");
    return fails("rename") ? -1 : next(from, to);
}

/* Fails, cuts short or ends the process at the n-th call that changes (or reads) a file below one folder.
 *
 * Loaded before the C library (LD_PRELOAD). Settings, all from the environment:
 *   STEERWRIGHT_FAULT_FOLDER  the folder, without a slash at its end
 *   STEERWRIGHT_FAULT_KINDS   letters of the kinds that count: o open, w write, s sync, n rename, t truncate,
 *                             u unlink, m mkdir, r read
 *   STEERWRIGHT_FAULT_AT      which of the counted calls, from 1; 0 or absent for none
 *   STEERWRIGHT_FAULT_HOW     eio, full (ENOSPC), short (half of a write, ENOSPC from the next on), kill (before the
 *                             call), torn (SIGKILL after half of a write), after (SIGKILL after the call)
 *   STEERWRIGHT_FAULT_STAYS   1: every counted call from there on fails too
 *   STEERWRIGHT_FAULT_COUNTS  a file, elsewhere, that gets "letter count" lines when the process ends by itself
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

static const char letters[] = "owsntumr";
static long counts[sizeof letters];
static long total;

static int below(const char *path) {
    const char *folder = getenv("STEERWRIGHT_FAULT_FOLDER");
    if (folder == NULL || path == NULL) return 0;
    size_t length = strlen(folder);
    return strncmp(path, folder, length) == 0 && (path[length] == '/' || path[length] == 0);
}

static int file_below(int fd) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length <= 0) return 0;
    path[length] = 0;
    return below(path);
}

enum verdict { PASS, FAIL, SHORT, TORN, AFTER };

/* Counts a call of a kind and says what is to become of it; `errno` is set for FAIL. */
static enum verdict judge(char kind) {
    const char *kinds = getenv("STEERWRIGHT_FAULT_KINDS");
    if (kinds == NULL || strchr(kinds, kind) == NULL) return PASS;
    counts[strchr(letters, kind) - letters]++;
    total++;
    const char *at = getenv("STEERWRIGHT_FAULT_AT"), *how = getenv("STEERWRIGHT_FAULT_HOW");
    const char *stays = getenv("STEERWRIGHT_FAULT_STAYS");
    long n = at ? atol(at) : 0;
    if (n == 0 || how == NULL) return PASS;
    int later = total > n && stays && *stays == '1';
    if (total != n && !later) return PASS;
    if (strcmp(how, "kill") == 0) raise(SIGKILL);
    if (strcmp(how, "torn") == 0) return TORN;
    if (strcmp(how, "after") == 0) return AFTER;
    if (strcmp(how, "eio") == 0) { errno = EIO; return FAIL; }
    /* Room is needed by what makes or grows something. */
    if (strchr("owtmn", kind) == NULL) return PASS;
    if (strcmp(how, "short") == 0 && kind == 'w' && !later) return SHORT;
    errno = ENOSPC;
    return FAIL;
}

__attribute__((destructor)) static void tell(void) {
    const char *path = getenv("STEERWRIGHT_FAULT_COUNTS");
    if (path == NULL) return;
    FILE *file = fopen(path, "w");
    if (file == NULL) return;
    for (int kind = 0; letters[kind]; kind++) fprintf(file, "%c %ld\n", letters[kind], counts[kind]);
    fclose(file);
}

#define REAL(type, name, ...)                                        \
    static type (*real)(__VA_ARGS__);                                \
    if (real == NULL) real = (type(*)(__VA_ARGS__))dlsym(RTLD_NEXT, name)

/* A call that is done whole or not at all. */
#define WHOLE(inside, kind, call)                                    \
    enum verdict v = (inside) ? judge(kind) : PASS;                  \
    if (v == FAIL) return -1;                                        \
    if (v == TORN) raise(SIGKILL);                                   \
    int result = (call);                                             \
    if (v == AFTER) raise(SIGKILL);                                  \
    return result

#define WRITING(fd, count, call_of)                                  \
    enum verdict v = file_below(fd) ? judge('w') : PASS;             \
    if (v == FAIL) return -1;                                        \
    if (v == SHORT || v == TORN) count = count > 1 ? count / 2 : count; \
    ssize_t result = (call_of);                                      \
    if (v == TORN || v == AFTER) raise(SIGKILL);                     \
    return result

ssize_t write(int fd, const void *bytes, size_t count) {
    REAL(ssize_t, "write", int, const void *, size_t);
    WRITING(fd, count, real(fd, bytes, count));
}

ssize_t pwrite(int fd, const void *bytes, size_t count, off_t at) {
    REAL(ssize_t, "pwrite", int, const void *, size_t, off_t);
    WRITING(fd, count, real(fd, bytes, count, at));
}

ssize_t pwrite64(int fd, const void *bytes, size_t count, off64_t at) {
    REAL(ssize_t, "pwrite64", int, const void *, size_t, off64_t);
    WRITING(fd, count, real(fd, bytes, count, at));
}

ssize_t read(int fd, void *bytes, size_t count) {
    REAL(ssize_t, "read", int, void *, size_t);
    if (file_below(fd) && judge('r') == FAIL) return -1;
    return real(fd, bytes, count);
}

ssize_t pread64(int fd, void *bytes, size_t count, off64_t at) {
    REAL(ssize_t, "pread64", int, void *, size_t, off64_t);
    if (file_below(fd) && judge('r') == FAIL) return -1;
    return real(fd, bytes, count, at);
}

ssize_t pread(int fd, void *bytes, size_t count, off_t at) {
    REAL(ssize_t, "pread", int, void *, size_t, off_t);
    if (file_below(fd) && judge('r') == FAIL) return -1;
    return real(fd, bytes, count, at);
}

int fsync(int fd) {
    REAL(int, "fsync", int);
    WHOLE(file_below(fd), 's', real(fd));
}

int fdatasync(int fd) {
    REAL(int, "fdatasync", int);
    WHOLE(file_below(fd), 's', real(fd));
}

int ftruncate(int fd, off_t length) {
    REAL(int, "ftruncate", int, off_t);
    WHOLE(file_below(fd), 't', real(fd, length));
}

int ftruncate64(int fd, off64_t length) {
    REAL(int, "ftruncate64", int, off64_t);
    WHOLE(file_below(fd), 't', real(fd, length));
}

int rename(const char *from, const char *to) {
    REAL(int, "rename", const char *, const char *);
    WHOLE(below(from) || below(to), 'n', real(from, to));
}

int unlink(const char *path) {
    REAL(int, "unlink", const char *);
    WHOLE(below(path), 'u', real(path));
}

int mkdir(const char *path, mode_t mode) {
    REAL(int, "mkdir", const char *, mode_t);
    WHOLE(below(path), 'm', real(path, mode));
}

#define MODE                                                         \
    mode_t mode = 0;                                                 \
    if (flags & (O_CREAT | O_TMPFILE)) {                             \
        va_list more;                                                \
        va_start(more, flags);                                       \
        mode = va_arg(more, mode_t);                                 \
        va_end(more);                                                \
    }

int open(const char *path, int flags, ...) {
    MODE
    REAL(int, "open", const char *, int, ...);
    WHOLE(below(path), 'o', real(path, flags, mode));
}

int open64(const char *path, int flags, ...) {
    MODE
    REAL(int, "open64", const char *, int, ...);
    WHOLE(below(path), 'o', real(path, flags, mode));
}

/* Stands between a process and the disk it writes to: keeps a log of what changes, or lets a call fail.
 *
 * Preloaded (LD_PRELOAD). Only what lies below POWER_ROOT counts.
 *   POWER_LOG    file that every change is appended to, as records read by tests/power/disk.py
 *   POWER_ACK    file whose writes are logged as acknowledgements
 *   POWER_FAIL   "N ERRNO HOW": the N-th change fails with ERRNO; HOW is `once`, `ever` (from then on),
 *                `short` (a write that stores only its first half) or `pulled` (from then on nothing
 *                there can be opened, read, listed or changed)
 */
#define _GNU_SOURCE
#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

#define MOST_HANDLES 4096
#define REAL(name) ((name##_t)real(#name))

enum { OUTSIDE = 0, INSIDE, FOLDER, TOLD };

typedef int (*open_t)(const char *, int, ...);
typedef int (*openat_t)(int, const char *, int, ...);
typedef ssize_t (*write_t)(int, const void *, size_t);
typedef ssize_t (*read_t)(int, void *, size_t);
typedef ssize_t (*pread64_t)(int, void *, size_t, off64_t);
typedef ssize_t (*pwrite64_t)(int, const void *, size_t, off64_t);
typedef int (*ftruncate64_t)(int, off64_t);
typedef int (*fsync_t)(int);
typedef int (*close_t)(int);
typedef int (*rename_t)(const char *, const char *);
typedef int (*unlink_t)(const char *);
typedef int (*mkdir_t)(const char *, mode_t);
typedef DIR *(*opendir_t)(const char *);

static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;
static const char *root, *acks;
static size_t root_length;
static int log_handle = -1, fail_errno, pulled;
static long fail_at;
static char fail_how[16];
static unsigned char sort_of[MOST_HANDLES];
static char *path_of[MOST_HANDLES];

static void *real(const char *name) { return dlsym(RTLD_NEXT, name); }

__attribute__((constructor)) static void begin(void) {
    const char *told = getenv("POWER_FAIL"), *log = getenv("POWER_LOG");
    root = getenv("POWER_ROOT");
    acks = getenv("POWER_ACK");
    root_length = root ? strlen(root) : 0;
    if (told) sscanf(told, "%ld %d %15s", &fail_at, &fail_errno, fail_how);
    if (log) log_handle = syscall(SYS_openat, AT_FDCWD, log, O_WRONLY | O_CREAT | O_APPEND, 0600);
}

static int within(const char *path) {
    return root && strncmp(path, root, root_length) == 0 &&
           (path[root_length] == '/' || path[root_length] == 0);
}

static void put(const void *data, size_t size) {
    while (size > 0) {
        ssize_t done = syscall(SYS_write, log_handle, data, size);
        if (done <= 0) abort();
        data = (const char *)data + done;
        size -= done;
    }
}

/* One record: what, number, number, and two strings of bytes with their lengths. */
static void tell(char what, uint64_t file, uint64_t at, const void *a, uint64_t a_size, const void *b,
                 uint64_t b_size) {
    uint64_t head[5] = {(uint64_t)what, file, at, a_size, b_size};
    if (log_handle < 0) return;
    put(head, sizeof head);
    put(a, a_size);
    put(b, b_size);
}

static void tell_names(char what, const char *a, const char *b) {
    tell(what, 0, 0, a, strlen(a), b, strlen(b));
}

/* Whether this change fails, with errno set. */
static int fails(void) {
    if (pulled) {
        errno = fail_errno;
        return 1;
    }
    if (fail_at <= 0) return 0;
    if (fail_at > 1) {
        fail_at--;
        return 0;
    }
    if (strcmp(fail_how, "short") == 0) return 0;
    if (strcmp(fail_how, "pulled") == 0) pulled = 1;
    if (strcmp(fail_how, "once") == 0) fail_at = 0;
    errno = fail_errno;
    return 1;
}

static int shortened(void) {
    if (fail_at != 1 || strcmp(fail_how, "short") != 0) return 0;
    fail_at = 0;
    return 1;
}

static int is_gone(int inside) {
    if (inside && pulled) {
        errno = fail_errno;
        return 1;
    }
    return 0;
}

static uint64_t number(int handle) {
    struct stat known;
    return fstat(handle, &known) == 0 ? (uint64_t)known.st_ino : 0;
}

static int sort(int handle) {
    return handle >= 0 && handle < MOST_HANDLES ? sort_of[handle] : OUTSIDE;
}

static void keep(int handle, const char *path) {
    struct stat known;
    if (handle < 0 || handle >= MOST_HANDLES) return;
    sort_of[handle] = OUTSIDE;
    if (acks && strcmp(path, acks) == 0) sort_of[handle] = TOLD;
    if (!within(path) || fstat(handle, &known) != 0) return;
    if (S_ISDIR(known.st_mode)) sort_of[handle] = FOLDER;
    if (S_ISREG(known.st_mode)) sort_of[handle] = INSIDE;
    free(path_of[handle]);
    path_of[handle] = strdup(path);
}

static int opened(const char *path, int flags, mode_t mode) {
    struct stat known;
    int handle, changes = within(path) && (flags & (O_CREAT | O_TRUNC)) != 0;
    int there = changes && stat(path, &known) == 0;
    int makes = changes && !there && (flags & O_CREAT);
    int empties = there && (flags & O_TRUNC) && known.st_size > 0;
    if (is_gone(within(path))) return -1;
    pthread_mutex_lock(&turn);
    if ((makes || empties) && fails()) {
        pthread_mutex_unlock(&turn);
        return -1;
    }
    handle = syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if (handle >= 0) {
        keep(handle, path);
        if (makes) tell('O', number(handle), 0, path, strlen(path), "", 0);
        if (empties) tell('T', number(handle), 0, "", 0, "", 0);
    }
    pthread_mutex_unlock(&turn);
    return handle;
}

#define MODE_OF(flags)                         \
    mode_t mode = 0;                           \
    if ((flags) & (O_CREAT | O_TMPFILE)) {     \
        va_list more;                          \
        va_start(more, flags);                 \
        mode = va_arg(more, mode_t);           \
        va_end(more);                          \
    }

int open(const char *path, int flags, ...) { MODE_OF(flags) return opened(path, flags, mode); }
int open64(const char *path, int flags, ...) { MODE_OF(flags) return opened(path, flags, mode); }

int openat(int folder, const char *path, int flags, ...) {
    MODE_OF(flags)
    if (folder == AT_FDCWD || path[0] == '/') return opened(path, flags, mode);
    return syscall(SYS_openat, folder, path, flags, mode);
}

int openat64(int folder, const char *path, int flags, ...) {
    MODE_OF(flags)
    if (folder == AT_FDCWD || path[0] == '/') return opened(path, flags, mode);
    return syscall(SYS_openat, folder, path, flags, mode);
}

static ssize_t written(int handle, const void *data, size_t size, off64_t at, int placed) {
    ssize_t done;
    if (sort(handle) == TOLD) tell('A', 0, 0, data, size, "", 0);
    if (sort(handle) != INSIDE)
        return placed ? syscall(SYS_pwrite64, handle, data, size, at)
                      : syscall(SYS_write, handle, data, size);
    pthread_mutex_lock(&turn);
    if (fails()) {
        pthread_mutex_unlock(&turn);
        return -1;
    }
    if (size > 1 && shortened()) size /= 2;
    if (!placed)
        at = fcntl(handle, F_GETFL) & O_APPEND ? lseek(handle, 0, SEEK_END) : lseek(handle, 0, SEEK_CUR);
    done = placed ? syscall(SYS_pwrite64, handle, data, size, at) : syscall(SYS_write, handle, data, size);
    if (done > 0) tell('W', number(handle), at, data, done, "", 0);
    pthread_mutex_unlock(&turn);
    return done;
}

ssize_t write(int handle, const void *data, size_t size) { return written(handle, data, size, 0, 0); }
ssize_t pwrite(int handle, const void *data, size_t size, off_t at) {
    return written(handle, data, size, at, 1);
}
ssize_t pwrite64(int handle, const void *data, size_t size, off64_t at) {
    return written(handle, data, size, at, 1);
}

ssize_t read(int handle, void *data, size_t size) {
    if (is_gone(sort(handle) == INSIDE)) return -1;
    return syscall(SYS_read, handle, data, size);
}
ssize_t pread64(int handle, void *data, size_t size, off64_t at) {
    if (is_gone(sort(handle) == INSIDE)) return -1;
    return syscall(SYS_pread64, handle, data, size, at);
}

static int cut(int handle, off64_t size) {
    int done;
    if (sort(handle) != INSIDE) return syscall(SYS_ftruncate, handle, size);
    pthread_mutex_lock(&turn);
    done = fails() ? -1 : syscall(SYS_ftruncate, handle, size);
    if (done == 0) tell('T', number(handle), size, "", 0, "", 0);
    pthread_mutex_unlock(&turn);
    return done;
}
int ftruncate(int handle, off_t size) { return cut(handle, size); }
int ftruncate64(int handle, off64_t size) { return cut(handle, size); }

static int synced(int handle, long call) {
    int done, known = sort(handle);
    if (known != INSIDE && known != FOLDER) return syscall(call, handle);
    pthread_mutex_lock(&turn);
    done = fails() ? -1 : syscall(call, handle);
    if (done == 0 && known == INSIDE) tell('S', number(handle), 0, "", 0, "", 0);
    if (done == 0 && known == FOLDER) tell_names('D', path_of[handle], "");
    pthread_mutex_unlock(&turn);
    return done;
}
int fsync(int handle) { return synced(handle, SYS_fsync); }
int fdatasync(int handle) { return synced(handle, SYS_fdatasync); }

int close(int handle) {
    if (handle >= 0 && handle < MOST_HANDLES) sort_of[handle] = OUTSIDE;
    return syscall(SYS_close, handle);
}

static int named(char what, const char *a, const char *b, int (*act)(const char *, const char *)) {
    int done, counts = within(a) || within(b);
    if (!counts) return act(a, b);
    pthread_mutex_lock(&turn);
    done = fails() ? -1 : act(a, b);
    if (done == 0) tell_names(what, a, b);
    pthread_mutex_unlock(&turn);
    return done;
}

static int do_rename(const char *a, const char *b) { return syscall(SYS_rename, a, b); }
static int do_link(const char *a, const char *b) { return syscall(SYS_link, a, b); }
static int do_unlink(const char *a, const char *b) { return (void)b, (int)syscall(SYS_unlink, a); }
static int do_rmdir(const char *a, const char *b) { return (void)b, (int)syscall(SYS_rmdir, a); }

int rename(const char *a, const char *b) { return named('R', a, b, do_rename); }
int link(const char *a, const char *b) { return named('L', a, b, do_link); }
int unlink(const char *a) { return named('U', a, "", do_unlink); }
int rmdir(const char *a) { return named('U', a, "", do_rmdir); }

int linkat(int from, const char *a, int to, const char *b, int flags) {
    if ((from == AT_FDCWD || a[0] == '/') && (to == AT_FDCWD || b[0] == '/'))
        return named('L', a, b, do_link);
    return syscall(SYS_linkat, from, a, to, b, flags);
}

int mkdir(const char *path, mode_t mode) {
    int done;
    if (!within(path)) return syscall(SYS_mkdir, path, mode);
    pthread_mutex_lock(&turn);
    done = fails() ? -1 : syscall(SYS_mkdir, path, mode);
    if (done == 0) tell_names('M', path, "");
    pthread_mutex_unlock(&turn);
    return done;
}

DIR *opendir(const char *path) {
    if (is_gone(within(path))) return NULL;
    return REAL(opendir)(path);
}

/* A disk between a program and its folder, loaded before the C library.
 *
 * DISK_LIVE is the folder the program works in. DISK_KEPT beside it holds what
 * would be found after the power was cut: a write reaches DISK_LIVE at once and
 * DISK_KEPT when its file is synced, page by page. Creation, removal and renaming
 * of files count as kept at once: that a folder is not synced goes unseen.
 *
 * DISK_NO_SYNC=1 makes a disk that lies: a sync keeps nothing.
 *
 * DISK_ORDERS is a file of one line, read before each call: `CALL ERRNO PERMILLE`,
 * with CALL one of `sync`, `write`, `read`: so many of a thousand such calls fail.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define PAGE 4096
#define FILES 256
#define HANDLES 65536

struct file {
    dev_t device;
    ino_t inode;
    int kept;
    unsigned char *dirty;
    size_t pages;
};

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static struct file files[FILES];
static int file_count;
static short handles[HANDLES];
static char live[PATH_MAX], kept[PATH_MAX], orders[PATH_MAX];
static int lies, ready;
static unsigned long long dice = 88172645463325252ULL;

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

static void begin(void) {
    if (ready) return;
    for (int i = 0; i < HANDLES; i++) handles[i] = -1;
    const char *said = getenv("DISK_LIVE");
    if (said) snprintf(live, sizeof live, "%s/", said);
    said = getenv("DISK_KEPT");
    if (said) snprintf(kept, sizeof kept, "%s/", said);
    said = getenv("DISK_ORDERS");
    if (said) snprintf(orders, sizeof orders, "%s", said);
    said = getenv("DISK_SEED");
    if (said) dice ^= strtoull(said, NULL, 10) * 2654435761ULL;
    lies = getenv("DISK_NO_SYNC") != NULL;
    ready = 1;
}

/* The error that a call is to end with, or 0. */
static int fails(const char *call) {
    if (!orders[0]) return 0;
    char text[64] = {0}, which[16] = {0};
    int error = 0, permille = 0;
    int handle = REAL(open)(orders, O_RDONLY | O_CLOEXEC);
    if (handle < 0) return 0;
    ssize_t got = REAL(read)(handle, text, sizeof text - 1);
    REAL(close)(handle);
    if (got <= 0 || sscanf(text, "%15s %d %d", which, &error, &permille) != 3) return 0;
    if (strcmp(which, call) != 0) return 0;
    dice ^= dice << 13;
    dice ^= dice >> 7;
    dice ^= dice << 17;
    return (int)(dice % 1000) < permille ? error : 0;
}

/* The name below the folder, or NULL: what other processes share in memory and
 * what only locks is no part of the record. */
static const char *below(const char *path) {
    size_t length = strlen(live);
    if (!length || strncmp(path, live, length) != 0) return NULL;
    const char *name = path + length;
    size_t long_ = strlen(name);
    if (long_ > 4 && strcmp(name + long_ - 4, "-shm") == 0) return NULL;
    if (strcmp(name, "serving.lock") == 0 || strchr(name, '/')) return NULL;
    return name;
}

static void opened(int handle, const char *path) {
    if (handle < 0 || handle >= HANDLES) return;
    const char *name = below(path);
    pthread_mutex_lock(&lock);
    handles[handle] = -1;
    struct stat told;
    if (name && kept[0] && fstat(handle, &told) == 0 && S_ISREG(told.st_mode)) {
        int at = 0;
        while (at < file_count &&
               (files[at].device != told.st_dev || files[at].inode != told.st_ino))
            at++;
        if (at == file_count && at < FILES) {
            char other[PATH_MAX * 2];
            snprintf(other, sizeof other, "%s%s", kept, name);
            files[at].kept = REAL(open)(other, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
            if (files[at].kept < 0) abort();
            files[at].device = told.st_dev;
            files[at].inode = told.st_ino;
            file_count++;
        }
        if (at == FILES) abort();
        handles[handle] = (short)at;
    }
    pthread_mutex_unlock(&lock);
}

static struct file *of(int handle) {
    if (!ready || handle < 0 || handle >= HANDLES || handles[handle] < 0) return NULL;
    return &files[handles[handle]];
}

/* Called with the lock held. */
static void soiled(struct file *file, off_t from, size_t length) {
    if (!length) return;
    size_t first = (size_t)from / PAGE, last = ((size_t)from + length - 1) / PAGE;
    if (last >= file->pages) {
        size_t more = (last + 1) * 2;
        file->dirty = realloc(file->dirty, more);
        if (!file->dirty) abort();
        memset(file->dirty + file->pages, 0, more - file->pages);
        file->pages = more;
    }
    memset(file->dirty + first, 1, last - first + 1);
}

static void keep(int handle, struct file *file) {
    unsigned char page[PAGE];
    struct stat told;
    if (fstat(handle, &told) != 0) abort();
    for (size_t at = 0; at < file->pages; at++) {
        if (!file->dirty[at]) continue;
        file->dirty[at] = 0;
        ssize_t got = REAL(pread)(handle, page, PAGE, (off_t)at * PAGE);
        if (got > 0 && REAL(pwrite)(file->kept, page, (size_t)got, (off_t)at * PAGE) != got) abort();
    }
    if (REAL(ftruncate)(file->kept, told.st_size) != 0) abort();
}

#define OPENING(name)                                        \
    int name(const char *path, int flags, ...) {             \
        begin();                                             \
        mode_t mode = 0;                                     \
        if (flags & (O_CREAT | O_TMPFILE)) {                 \
            va_list more;                                    \
            va_start(more, flags);                           \
            mode = va_arg(more, mode_t);                     \
            va_end(more);                                    \
        }                                                    \
        int handle = REAL(name)(path, flags, mode);          \
        opened(handle, path);                                \
        return handle;                                       \
    }
OPENING(open)
OPENING(open64)

int close(int handle) {
    begin();
    if (handle >= 0 && handle < HANDLES) handles[handle] = -1;
    return REAL(close)(handle);
}

static ssize_t written(int handle, off_t from, ssize_t length) {
    struct file *file = of(handle);
    if (file && length > 0) soiled(file, from, (size_t)length);
    return length;
}

#define WRITING(name)                                                              \
    ssize_t name(int handle, const void *bytes, size_t length, off_t from) {       \
        begin();                                                                   \
        if (!of(handle)) return REAL(name)(handle, bytes, length, from);           \
        pthread_mutex_lock(&lock);                                                 \
        int error = fails("write");                                                \
        ssize_t done = error ? -1                                                  \
            : written(handle, from, REAL(name)(handle, bytes, length, from));      \
        pthread_mutex_unlock(&lock);                                               \
        if (error) errno = error;                                                  \
        return done;                                                               \
    }
WRITING(pwrite)
WRITING(pwrite64)

#define READING(name)                                                              \
    ssize_t name(int handle, void *bytes, size_t length, off_t from) {             \
        begin();                                                                   \
        if (!of(handle)) return REAL(name)(handle, bytes, length, from);           \
        pthread_mutex_lock(&lock);                                                 \
        int error = fails("read");                                                 \
        pthread_mutex_unlock(&lock);                                               \
        if (error) { errno = error; return -1; }                                   \
        return REAL(name)(handle, bytes, length, from);                            \
    }
READING(pread)
READING(pread64)

ssize_t write(int handle, const void *bytes, size_t length) {
    begin();
    if (!of(handle)) return REAL(write)(handle, bytes, length);
    pthread_mutex_lock(&lock);
    off_t from = lseek(handle, 0, SEEK_CUR);
    int error = fails("write");
    ssize_t done = error ? -1 : written(handle, from, REAL(write)(handle, bytes, length));
    pthread_mutex_unlock(&lock);
    if (error) errno = error;
    return done;
}

#define CUTTING(name)                                        \
    int name(int handle, off_t length) {                     \
        begin();                                             \
        return REAL(name)(handle, length);                   \
    }
CUTTING(ftruncate)
CUTTING(ftruncate64)

#define SYNCING(name)                                        \
    int name(int handle) {                                   \
        begin();                                             \
        if (!of(handle)) return REAL(name)(handle);          \
        pthread_mutex_lock(&lock);                           \
        int error = fails("sync");                           \
        if (!error && !lies) keep(handle, of(handle));       \
        pthread_mutex_unlock(&lock);                         \
        if (error) { errno = error; return -1; }             \
        return lies ? 0 : REAL(name)(handle);                \
    }
SYNCING(fsync)
SYNCING(fdatasync)

int unlink(const char *path) {
    begin();
    const char *name = below(path);
    if (name && kept[0]) {
        char other[PATH_MAX * 2];
        snprintf(other, sizeof other, "%s%s", kept, name);
        REAL(unlink)(other);
    }
    return REAL(unlink)(path);
}

// SPDX-License-Identifier: Apache-2.0
// An OpenCL library with one driver of one device, for tests: it takes every command, says that it is done, and computes
// nothing. Beyond that it lies, hangs or ends in the one way that its own file's name says: "<behaviour>.so", "hang-<function>.so",
// "crash-<function>.so", "abort-…", "exit-…", "_exit-…". With "two-" before it, the liar is the first of two drivers. In
// "lies.so" there is a driver for each of LIES, named after it, and a sound one.
//
// With -DLAZY it is the system's own library, but runs only the first work-group of each kernel while a file "<library>.lazy"
// lies beside it. With -DEMPTY it has no function at all.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef void *handle;

#ifdef LAZY
int clEnqueueNDRangeKernel(handle q, handle k, unsigned n, size_t *o, size_t *g, size_t *l, unsigned w, void *f, handle *e) {
    static int (*real)(handle, handle, unsigned, size_t *, size_t *, size_t *, unsigned, void *, handle *);
    static char lazy[4096];
    Dl_info info;
    if (!real) *(void **)&real = dlsym(dlopen("libOpenCL.so.1", RTLD_NOW | RTLD_NOLOAD), "clEnqueueNDRangeKernel");
    if (!real || !dladdr(lazy, &info)) abort();
    snprintf(lazy, sizeof lazy, "%s.lazy", info.dli_fname);
    return real(q, k, n, o, access(lazy, F_OK) == 0 ? l : g, l, w, f, e);
}
#elif !defined EMPTY

static const char *behaviour(void) {
    static char name[256];
    Dl_info info;
    if (!*name && dladdr((void *)behaviour, &info)) {
        snprintf(name, sizeof name, "%s", strrchr(info.dli_fname, '/') + 1);
        *strrchr(name, '.') = 0;
    }
    return name;
}
static int two(void) { return strncmp(behaviour(), "two-", 4) == 0; }
static int is(const char *what) { return strcmp(behaviour() + (two() ? 4 : 0), what) == 0; }

static void begin(const char *function) {
    static const char *const ends[] = {"hang", "crash", "abort", "exit", "_exit"};
    char name[128];
    for (int i = 0; i < 5; i++) {
        snprintf(name, sizeof name, "%s-%s", ends[i], function);
        if (!is(name)) continue;
        if (i == 0) for (;;) pause();
        if (i == 1) *(volatile int *)8 = 1;
        if (i == 2) abort();
        if (i == 3) exit(0);
        _exit(0);
    }
}
#define BEGIN begin(__func__)

static void say(const char *text) {
    if (write(1, text, strlen(text)) < 0) _exit(9);
}

static const char *const LIES[] = {
    "devices-2-31", "devices-negative", "devices-fewer", "devices-more", "devices-none", "size-2-63", "size-gigabyte", "memory-0", "memory-2-63",
    "units-0", "units-2-31", "group-0", "group-2-63", "vector-2-32", "clock-2-32", "allocation-0", "address",
    "allocation-more", "zeroes", "endless-name", "control-name"};
enum { ALL = sizeof LIES / sizeof *LIES };

/* A platform, which is its own only device, is a number from 1. */
static int lies(handle h, const char *what) {
    uintptr_t number = (uintptr_t)h;
    if (is("lies")) return number <= ALL && strcmp(LIES[number - 1], what) == 0;
    return number == 1 && is(what);
}

int clGetPlatformIDs(unsigned room, handle *into, unsigned *count) {
    BEGIN;
    if (is("flood")) for (;;) say("device or something like it\n");
    if (is("endless")) for (;;) say("xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx");
    unsigned n = is("lies") ? ALL + 1 : two() ? 2 : 1;
    if (is("platforms-2-31")) n = 0x7FFFFFFF;
    if (is("platforms-negative")) n = 0xFFFFFFFF;
    if (is("platforms-fewer") && into) n = 0;
    if (count) *count = n;
    for (unsigned i = 0; into && i < room && i < n; i++) into[i] = (handle)(uintptr_t)(i + 1);
    return 0;
}

static int text(const char *what, size_t size, char *value, size_t *out) {
    if (out) *out = strlen(what) + 1;
    if (value) memcpy(value, what, size < strlen(what) + 1 ? size : strlen(what) + 1);
    return 0;
}
static int number(unsigned long long n, size_t width, size_t size, void *value, size_t *out) {
    if (out) *out = width;
    if (value) memcpy(value, &n, size < width ? size : width);
    return 0;
}

int clGetPlatformInfo(handle p, unsigned name, size_t size, void *value, size_t *out) {
    (void)name;
    BEGIN;
    uintptr_t number = (uintptr_t)p;
    if (is("lies")) return text(number <= ALL ? LIES[number - 1] : "sound", size, value, out);
    return text(number == 1 ? "Corvid CL" : "Plain CL", size, value, out);
}

int clGetDeviceIDs(handle p, unsigned long long type, unsigned room, handle *into, unsigned *count) {
    (void)type;
    if (p == (handle)1) BEGIN;
    unsigned n = 1;
    if (lies(p, "devices-2-31")) n = 0x7FFFFFFF;
    if (lies(p, "devices-negative")) n = 0x80000000;
    if (lies(p, "devices-fewer") && !into) n = 3;
    if (lies(p, "devices-more") && into) n = 7;
    if (lies(p, "devices-none")) n = 2;
    if (count) *count = n;
    if (into && room) into[0] = p;
    return 0;
}

int clGetDeviceInfo(handle d, unsigned name, size_t size, void *value, size_t *out) {
    if (d == (handle)1) BEGIN;
    if (lies(d, "size-2-63") && !value) return *out = (size_t)1 << 63, 0;
    if (lies(d, "size-gigabyte") && !value) return *out = (size_t)1 << 30, 0;
    if (name == 0x102B && lies(d, "endless-name")) { /* no zero at its end */
        if (out) *out = 4096;
        if (value) memset(value, 'x', size);
        return 0;
    }
    if (name == 0x102B && lies(d, "control-name"))
        return text("Corvid\ndevice 0\tG7\x1b[2J", size, value, out);
    unsigned long long memory = lies(d, "memory-0") ? 0 : lies(d, "memory-2-63") ? 1ULL << 63 : 1ULL << 30;
    switch (name) {
    case 0x1000: return number(4, 8, size, value, out); /* GPU */
    case 0x1002: return number(lies(d, "units-0") ? 0 : lies(d, "units-2-31") ? 1U << 31 : 8, 4, size, value, out);
    case 0x1004: return number(lies(d, "group-0") ? 0 : lies(d, "group-2-63") ? 1ULL << 63 : 256, 8, size, value, out);
    case 0x100A: return number(lies(d, "vector-2-32") ? 0xFFFFFFFF : lies(d, "zeroes") ? 0 : 1, 4, size, value, out);
    case 0x100C: return number(lies(d, "clock-2-32") ? 0xFFFFFFFF : lies(d, "zeroes") ? 0 : 1500, 4, size, value, out);
    case 0x1010: return number(lies(d, "allocation-0") ? 0 : lies(d, "allocation-more") ? 1ULL << 40 : memory / 4, 8, size, value, out);
    case 0x101F: return number(memory, 8, size, value, out);
    case 0x102B: return text("Corvid G7 150W", size, value, out);
    case 0x102C: return text("Fernhollow", size, value, out);
    case 0x102D: return text("1.0", size, value, out);
    case 0x1030: return text("cl_khr_pci_bus_info", size, value, out);
    case 0x1035: return number(0, 4, size, value, out);
    case 0x410F: {
        unsigned address[4] = {0, lies(d, "address") ? 0xFFFFFFF0 : 1, 0, 0};
        if (out) *out = sizeof address;
        if (value) memcpy(value, address, size);
        return 0;
    }
    default: return -30;
    }
}

/* Every other object is memory that is never freed. */
static handle object(int *code, size_t bytes, const char *function) {
    char name[128];
    snprintf(name, sizeof name, "null-%s", function);
    if (code) *code = 0;
    return is(name) ? NULL : calloc(1, bytes);
}
handle clCreateContext(void *p, unsigned n, handle *d, void *f, void *u, int *c) { (void)p, (void)n, (void)d, (void)f, (void)u; BEGIN; return object(c, 8, __func__); }
handle clCreateCommandQueue(handle x, handle d, unsigned long long p, int *c) { (void)x, (void)d, (void)p; BEGIN; return object(c, 8, __func__); }
handle clCreateProgramWithSource(handle x, unsigned n, const char **t, size_t *l, int *c) { (void)x, (void)n, (void)t, (void)l; BEGIN; return object(c, 8, __func__); }
int clBuildProgram(handle p, unsigned n, handle *d, const char *o, void *f, void *u) { (void)p, (void)n, (void)d, (void)o, (void)f, (void)u; BEGIN; return is("build-log") ? -11 : 0; }
int clGetProgramBuildInfo(handle p, handle d, unsigned name, size_t size, void *value, size_t *out) {
    (void)p, (void)d, (void)name;
    BEGIN;
    if (out) *out = (size_t)1 << 62;
    if (value) memset(value, 'x', size);
    return 0;
}
handle clCreateKernel(handle p, const char *n, int *c) { (void)p, (void)n; BEGIN; return object(c, 8, __func__); }
int clGetKernelWorkGroupInfo(handle k, handle d, unsigned name, size_t size, void *value, size_t *out) {
    (void)k, (void)d, (void)name;
    BEGIN;
    return number(is("kernel-group-0") ? 0 : is("kernel-group-2-63") ? 1ULL << 63 : 256, 8, size, value, out);
}
int clSetKernelArg(handle k, unsigned i, size_t n, const void *v) { (void)k, (void)i, (void)n, (void)v; BEGIN; return 0; }
handle clCreateBuffer(handle x, unsigned long long f, size_t n, void *h, int *c) { (void)x, (void)f, (void)h; BEGIN; return object(c, n, __func__); }

static int done(handle *event, const char *function) {
    if (event) *event = object(NULL, 8, function);
    return 0;
}
int clEnqueueNDRangeKernel(handle q, handle k, unsigned n, size_t *o, size_t *g, size_t *l, unsigned w, void *f, handle *e) {
    (void)q, (void)k, (void)n, (void)o, (void)g, (void)l, (void)w, (void)f;
    BEGIN;
    if (is("says-nonsense")) say("progress 1 2\n");
    if (is("says-caught")) say("planted-caught\n");
    return done(e, __func__);
}
int clEnqueueReadBuffer(handle q, handle b, int s, size_t o, size_t n, void *v, unsigned w, void *f, handle *e) {
    (void)q, (void)s, (void)w, (void)f;
    BEGIN;
    memcpy(v, (char *)b + o, n);
    return done(e, __func__);
}
int clEnqueueWriteBuffer(handle q, handle b, int s, size_t o, size_t n, const void *v, unsigned w, void *f, handle *e) {
    (void)q, (void)s, (void)w, (void)f;
    BEGIN;
    memcpy((char *)b + o, v, n);
    return done(e, __func__);
}
int clGetEventInfo(handle e, unsigned name, size_t size, void *value, size_t *out) { (void)e, (void)name; BEGIN; return number(0, 4, size, value, out); }
int clGetEventProfilingInfo(handle e, unsigned name, size_t size, void *value, size_t *out) {
    (void)e;
    BEGIN;
    static unsigned long long now = 1000000000;
    int end = name == 0x1283;
    now += end ? 3000000 : 1000;
    unsigned long long n = is("clock-still") ? 0 : is("clock-last") ? ~0ULL : is("clock-back") ? (end ? 1000 : 2000)
        : is("clock-leap") ? (end ? 1ULL << 62 : 0) : now;
    return number(n, 8, size, value, out);
}
int clFlush(handle q) { (void)q; BEGIN; return 0; }
int clFinish(handle q) { (void)q; BEGIN; return 0; }
int clReleaseEvent(handle e) { free(e); return 0; }
int clReleaseMemObject(handle b) { (void)b; return 0; }
int clReleaseKernel(handle k) { (void)k; return 0; }
int clReleaseProgram(handle p) { (void)p; return 0; }
int clReleaseCommandQueue(handle q) { (void)q; return 0; }
int clReleaseContext(handle x) { (void)x; return 0; }
#endif

// SPDX-License-Identifier: Apache-2.0
// A library with the functions of the GPU's management library that the agent calls, for tests. What it does is read at
// every call from a file beside it, "<library>.behaviour": lines of "KEY VALUE". A key is the name of a value below, or
// "<function>" with the return code that it shall give, or what else shall happen in it: "hang <function>", "crash
// <function>", "abort <function>", "exit <function> STATUS", "_exit <function> STATUS"; "print <function> TEXT" on standard
// output; "say <function> TEXT" where the server says its answers, "flood <function> TEXT" there without end; "stale
// <function>": not initialised, from its second call after each initialisation on. Texts may have \t, \n and \xNN in them.
// Initialisations and shutdowns are appended to "<library>.calls". Sizes and offsets are those of the real structures.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

typedef void *device_t;

static void beside(const char *suffix, char *path, size_t size) {
    Dl_info info;
    if (!dladdr((void *)beside, &info)) abort();
    snprintf(path, size, "%s%s", info.dli_fname, suffix);
}

/* The text after the key; 0 if there is no such line. */
static int setting(const char *key, char *value, size_t size) {
    char path[4096], line[512];
    beside(".behaviour", path, sizeof path);
    FILE *file = fopen(path, "r");
    if (!file) return 0;
    size_t length = strlen(key);
    int found = 0;
    while (!found && fgets(line, sizeof line, file)) {
        if (strncmp(line, key, length) == 0 && (line[length] == ' ' || line[length] == '\n')) {
            line[strcspn(line, "\n")] = 0;
            snprintf(value, size, "%s", line[length] ? line + length + 1 : "");
            found = 1;
        }
    }
    fclose(file);
    return found;
}

static unsigned long long number(const char *key, unsigned long long otherwise) {
    char value[64];
    return setting(key, value, sizeof value) ? strtoull(value, NULL, 0) : otherwise;
}

/* The text after the key with its escapes made bytes; its length, or -1 if there is no such line. Never ended by a zero. */
static int text(const char *key, char *bytes, int size) {
    char value[512];
    if (!setting(key, value, sizeof value)) return -1;
    int n = 0;
    for (const char *c = value; *c && n < size; c++) {
        unsigned byte = (unsigned char)*c;
        if (*c == '\\' && c[1] == 'x' && sscanf(c + 2, "%2x", &byte) == 1) c += 3;
        else if (*c == '\\' && (c[1] == 'n' || c[1] == 't')) byte = *++c == 'n' ? '\n' : '\t';
        bytes[n++] = (char)byte;
    }
    return n;
}

/* As a text function: the setting or else the usual text, ended by a zero only if there is room left. */
static void fill(const char *key, const char *otherwise, char *into, unsigned size) {
    memset(into, 0, size);
    if (text(key, into, (int)size) < 0) strncpy(into, otherwise, size);
}

/* Into every pipe but the one from which questions come. */
static void say(const char *bytes, int n) {
    for (int fd = 3; fd < 256; fd++) {
        struct stat status;
        if (fstat(fd, &status) == 0 && S_ISFIFO(status.st_mode) && write(fd, bytes, (size_t)n) < 0) continue;
    }
}

static int has(const char *what, const char *function) {
    char key[256], value[64];
    snprintf(key, sizeof key, "%s %s", what, function);
    return setting(key, value, sizeof value);
}

static void misbehave(const char *function) {
    char key[256], bytes[512];
    snprintf(key, sizeof key, "print %s", function);
    int n = text(key, bytes, sizeof bytes);
    if (n > 0 && write(1, bytes, (size_t)n) < 0) return;
    snprintf(key, sizeof key, "say %s", function);
    if ((n = text(key, bytes, sizeof bytes)) > 0) say(bytes, n);
    snprintf(key, sizeof key, "flood %s", function);
    if ((n = text(key, bytes, sizeof bytes)) > 0) {
        static char many[1 << 15];
        int filled = 0;
        for (; filled + n <= (int)sizeof many; filled += n) memcpy(many + filled, bytes, (size_t)n);
        for (;;) say(many, filled);
    }
    snprintf(key, sizeof key, "exit %s", function);
    if (has("exit", function)) exit((int)number(key, 0));
    snprintf(key, sizeof key, "_exit %s", function);
    if (has("_exit", function)) _exit((int)number(key, 0));
    if (has("abort", function)) abort();
    if (has("hang", function)) for (;;) pause();
    if (has("crash", function)) {
        signal(SIGSEGV, SIG_DFL);
        raise(SIGSEGV);
    }
}

/* Calls since the last initialisation of the function that is stale. */
static int stale_calls;

/* Which loading of the driver this library's handles belong to: "generation N" loads it anew. */
static unsigned long long generation;

static int begin(const char *function) {
    misbehave(function);
    if (has("stale", function) && ++stale_calls > 1) return 1;
    if (strncmp(function, "nvmlDevice", 10) == 0 && number("generation", 0) != generation) return 9;
    int all = (int)number("all", 0);
    return (int)number(function, strncmp(function, "nvmlDevice", 10) == 0 ? (unsigned)all : 0);
}

#define BEGIN                        \
    do {                             \
        int code = begin(__func__);  \
        if (code) return code;       \
    } while (0)

static void note(const char *what) {
    char path[4096];
    beside(".calls", path, sizeof path);
    FILE *file = fopen(path, "a");
    if (file) {
        fprintf(file, "%s\n", what);
        fclose(file);
    }
}

int nvmlInit_v2(void) {
    note("init");
    BEGIN;
    generation = number("generation", 0);
    stale_calls = 0;
    return 0;
}
int nvmlShutdown(void) { note("shutdown"); BEGIN; return 0; }
int nvmlSystemGetDriverVersion(char *v, unsigned n) { BEGIN; fill("driver", "580.65.06", v, n); return 0; }

static const char *ADDRESS = "00000000:01:00.0";
int nvmlDeviceGetCount_v2(unsigned *n) { BEGIN; *n = (unsigned)number("count", 1); return 0; }
int nvmlDeviceGetHandleByIndex_v2(unsigned i, device_t *d) {
    BEGIN;
    if (i >= number("count", 1)) return 2;
    *d = (device_t)(uintptr_t)(i + 1);
    return 0;
}
int nvmlDeviceGetHandleByPciBusId_v2(const char *id, device_t *d) {
    BEGIN;
    if (strcmp(id, "0000:01:00.0") != 0) return 6;
    *d = (device_t)(uintptr_t)number("handle", 1);
    return 0;
}
int nvmlDeviceGetPciInfo_v3(device_t d, unsigned char *pci) {
    (void)d;
    BEGIN;
    fill("pci", ADDRESS, (char *)pci + 36, 32);
    return 0;
}
int nvmlDeviceGetName(device_t d, char *name, unsigned n) { (void)d; BEGIN; fill("name", "Corvid G7 150W", name, n); return 0; }

int nvmlDeviceGetTemperature(device_t d, int sensor, unsigned *t) {
    (void)d;
    BEGIN;
    if (sensor != 0) return 2;
    *t = (unsigned)number("temperature", 71);
    return 0;
}
int nvmlDeviceGetTemperatureThreshold(device_t d, int kind, unsigned *t) {
    (void)d;
    BEGIN;
    static const unsigned thresholds[] = {95, 89, 95, 87}; /* shutdown, slowdown, memory, GPU maximum */
    if (kind < 0 || kind > 3) return 3;
    *t = thresholds[kind];
    return 0;
}
int nvmlDeviceGetPowerUsage(device_t d, unsigned *mw) { (void)d; BEGIN; *mw = (unsigned)number("power", 95250); return 0; }
int nvmlDeviceGetEnforcedPowerLimit(device_t d, unsigned *mw) { (void)d; BEGIN; *mw = (unsigned)number("limit", 140000); return 0; }
int nvmlDeviceGetPowerManagementDefaultLimit(device_t d, unsigned *mw) { (void)d; BEGIN; *mw = 115000; return 0; }
int nvmlDeviceGetPowerManagementLimitConstraints(device_t d, unsigned *low, unsigned *high) {
    (void)d;
    BEGIN;
    *low = 5000;
    *high = 150000;
    return 0;
}
int nvmlDeviceGetTotalEnergyConsumption(device_t d, unsigned long long *mj) {
    (void)d;
    BEGIN;
    static unsigned long long fallen;
    *mj = number("energy", 123456789) - 1000 * (fallen += number("energy-falls", 0));
    return 0;
}
int nvmlDeviceGetClockInfo(device_t d, int kind, unsigned *mhz) { (void)d; BEGIN; *mhz = kind == 1 ? (unsigned)number("clock", 1980) : kind == 2 ? 7001 : 0; return 0; }
int nvmlDeviceGetMaxClockInfo(device_t d, int kind, unsigned *mhz) { (void)d; BEGIN; *mhz = kind == 1 ? 2100 : 7001; return 0; }

int nvmlDeviceGetCurrentClocksEventReasons(device_t d, unsigned long long *r) { (void)d; BEGIN; *r = number("reasons", 0); return 0; }
int nvmlDeviceGetSupportedClocksEventReasons(device_t d, unsigned long long *r) {
    (void)d;
    BEGIN;
    *r = number("supported", 0x1FF);
    return 0;
}
int nvmlDeviceGetViolationStatus(device_t d, int policy, unsigned long long *v) {
    (void)d;
    BEGIN;
    char key[32];
    snprintf(key, sizeof key, "violation%d", policy);
    if (policy > 5 && policy < 10) return 2;
    v[0] = 1764000000000000ULL; /* microseconds */
    v[1] = number(key, 0);      /* nanoseconds */
    return 0;
}

int nvmlDeviceGetFieldValues(device_t d, int n, unsigned char *fields) {
    (void)d;
    BEGIN;
    for (int i = 0; i < n; i++) {
        unsigned char *f = fields + 40 * i;
        uint32_t id, type = 1, code = 0;
        uint64_t value;
        char key[32], digits[64];
        memcpy(&id, f, 4);
        snprintf(key, sizeof key, "field%u", id);
        if (setting(key, digits, sizeof digits)) {
            value = strtoull(digits, NULL, 0);
        } else if (id == 186) {
            value = 101500;
        } else if (id == 185) {
            value = 95250;
        } else {
            value = 0;
            code = 3;
        }
        if ((id >= 74 && id <= 81) || (id >= 251 && id <= 253)) type = 3;
        snprintf(key, sizeof key, "type%u", id);
        type = (uint32_t)number(key, type);
        memcpy(f + 24, &type, 4);
        memcpy(f + 28, &code, 4);
        memcpy(f + 32, &value, 8);
    }
    return 0;
}

/* A sample every 20 ms, with time stamps that go on from call to call. */
int nvmlDeviceGetSamples(device_t d, int kind, unsigned long long last, int *type, unsigned *count, unsigned char *samples) {
    (void)d;
    BEGIN;
    if (kind != 0) return 3;
    uint64_t newest = number("samples-until", 1000100);
    uint64_t first = last ? last + 20000 : 1000000;
    unsigned n = newest >= first ? (unsigned)((newest - first) / 20000 + 1) : 0;
    if (n == 0) return 6;
    *type = 1;
    if (!samples) {
        *count = (unsigned)number("samples-claimed", 120); /* the size of the buffer, most of it never filled */
        return 0;
    }
    if (n > *count) n = *count;
    *count = (unsigned)number("samples-given", n);
    for (unsigned i = 0; i < n; i++) {
        uint64_t at = first + 20000ULL * i, value = 0;
        uint32_t mw = i == 1 ? (uint32_t)number("sample-high", 149000) : i == 2 ? (uint32_t)number("sample-low", 30000) : 95000;
        memcpy(&value, &mw, 4);
        memcpy(samples + 16 * i, &at, 8);
        memcpy(samples + 16 * i + 8, &value, 8);
    }
    return 0;
}

int nvmlDeviceGetUtilizationRates(device_t d, unsigned *u) { (void)d; BEGIN; u[0] = 99; u[1] = 41; return 0; }
int nvmlDeviceGetMemoryInfo(device_t d, unsigned long long *m) {
    (void)d;
    BEGIN;
    m[0] = 8ULL << 30;
    m[1] = 6ULL << 30;
    m[2] = 2ULL << 30;
    return 0;
}
int nvmlDeviceGetPerformanceState(device_t d, int *p) { (void)d; BEGIN; *p = (int)number("pstate", 0); return 0; }
int nvmlDeviceGetFanSpeed(device_t d, unsigned *percent) { (void)d; int code = begin(__func__); if (code) return code; (void)percent; return 3; }
int nvmlDeviceGetCurrPcieLinkGeneration(device_t d, unsigned *g) { (void)d; BEGIN; *g = 4; return 0; }
int nvmlDeviceGetMaxPcieLinkGeneration(device_t d, unsigned *g) { (void)d; BEGIN; *g = 4; return 0; }
int nvmlDeviceGetCurrPcieLinkWidth(device_t d, unsigned *w) { (void)d; BEGIN; *w = (unsigned)number("width", 8); return 0; }
int nvmlDeviceGetMaxPcieLinkWidth(device_t d, unsigned *w) { (void)d; BEGIN; *w = 8; return 0; }
int nvmlDeviceGetPcieReplayCounter(device_t d, unsigned *n) { (void)d; BEGIN; *n = (unsigned)number("replays", 3); return 0; }
int nvmlDeviceGetTotalEccErrors(device_t d, int type, int counter, unsigned long long *n) {
    (void)d; (void)type; (void)counter; (void)n;
    BEGIN;
    return 3;
}
int nvmlDeviceGetRemappedRows(device_t d, unsigned *c, unsigned *u, unsigned *p, unsigned *f) {
    (void)d;
    BEGIN;
    *c = 1;
    *u = 2;
    *p = 0;
    *f = 0;
    return 0;
}
int nvmlDeviceGetRetiredPages(device_t d, int cause, unsigned *n, unsigned long long *pages) {
    (void)d;
    BEGIN;
    unsigned retired = cause == 0 ? 0 : (unsigned)number("retired", 5);
    if (*n < retired && !pages) {
        *n = retired;
        return 7;
    }
    *n = retired;
    return 0;
}

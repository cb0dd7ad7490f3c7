/* A unit of co-simulation by FMI 2.0 round one record: the functions of the standard, and nothing else.

   unit_table.h and unit_table.c are written with each unit. They have the record as it is before anything is set, what
   every variable of the unit is and where it stands in the record, and the sentences. ullage_begin and ullage_advance are the compiled model;
   they know the record alone. All that changes is in an instance: any number of them can be used at once. */

#ifndef ULLAGE_UNIT_H
#define ULLAGE_UNIT_H

#include <stddef.h>
#include <stdint.h>

#include "unit_table.h"

#ifndef fmi2Functions_h /* the types of the standard, FMI 2.0.4, unless its own headers were there first */
typedef void *fmi2Component;
typedef void *fmi2ComponentEnvironment;
typedef void *fmi2FMUstate;
typedef unsigned int fmi2ValueReference;
typedef double fmi2Real;
typedef int fmi2Integer;
typedef int fmi2Boolean;
typedef char fmi2Char;
typedef const fmi2Char *fmi2String;
typedef char fmi2Byte;
typedef enum { fmi2OK, fmi2Warning, fmi2Discard, fmi2Error, fmi2Fatal, fmi2Pending } fmi2Status;
typedef enum { fmi2ModelExchange, fmi2CoSimulation } fmi2Type;
typedef enum { fmi2DoStepStatus, fmi2PendingStatus, fmi2LastSuccessfulTime, fmi2Terminated } fmi2StatusKind;
typedef struct {
    void (*logger)(fmi2ComponentEnvironment, fmi2String, fmi2Status, fmi2String, fmi2String, ...);
    void *(*allocateMemory)(size_t, size_t);
    void (*freeMemory)(void *);
    void (*stepFinished)(fmi2ComponentEnvironment, fmi2Status);
    fmi2ComponentEnvironment componentEnvironment;
} fmi2CallbackFunctions;
#define fmi2True 1
#define fmi2False 0
#endif

#if defined(_WIN32)
#define EXPORTED __declspec(dllexport)
#else
#define EXPORTED __attribute__((visibility("default")))
#endif

extern int64_t ullage_begin(void *unit);
extern int64_t ullage_advance(void *unit, double seconds);

/* causality: i input, linear in a step; h input, held in a step; o output; p parameter. kind: r, i, b of the standard */
struct variable {
    const char *name, *unit;
    size_t offset;
    double low, high;
    char causality, kind, whole;
};

extern const unsigned char UNIT_IMAGE[UNIT_SIZE];
extern const struct variable VARIABLES[VARIABLE_COUNT];
extern const char *const EVENTS[EVENT_COUNT];
extern const char *const STATUSES[STATUS_COUNT];

enum mode { INSTANTIATED, INITIALIZING, STEPPING, FAILED, TERMINATED };

/* all of an instance that changes while it is simulated: a copy of it is a copy of the simulation */
struct memory {
    uint64_t unit[(UNIT_SIZE + 7) / 8];
    double slope[VARIABLE_COUNT];
    double start, stop;
    double point; /* where the next step begins, as the host counts */
    int64_t mode, has_begun;
};

struct instance {
    struct memory memory;
    struct memory shown; /* what the unit would begin with, while it is initialized */
    fmi2CallbackFunctions callbacks;
    int logs_events;
    char name[];
};

double number_at(const struct memory *memory, size_t offset);
void put_number(struct instance *c, size_t offset, double number);
int64_t whole_at(const struct memory *memory, size_t offset);
double time_of(const struct instance *c);
fmi2Status say(struct instance *c, fmi2Status status, const char *category, const char *format, ...);
fmi2Status finish(struct instance *c, int64_t status);

#define refuse(c, ...) say(c, fmi2Error, "logStatusError", __VA_ARGS__)
#define discard(c, ...) say(c, fmi2Discard, "logStatusDiscard", __VA_ARGS__) /* nothing has happened: go on */

#endif
